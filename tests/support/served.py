"""A server on loopback that shows a round, and takes note of what is decided on phones."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from rounds import Working
from visitor import HOST, Visitor

from witnessmark.model import Act
from witnessmark.phone.admission import Limits
from witnessmark.phone.server import PhoneServer


class Served:
    """A server, the round that it shows, and what was decided on phones."""

    def __init__(self, limits: Limits | None) -> None:
        self.working = Working()
        self.decided: list[Act] = []
        self.server = PhoneServer(self._take, limits)

    def _take(self, act: Act) -> None:
        self.decided.append(act)

    async def start(self) -> None:
        await self.server.start(HOST)
        self.visitor = Visitor(self.server.url)
        self.show()

    def show(self) -> None:
        """Tell the phones how the round is now."""
        heard = self.working.heard
        self.server.show(self.working.state, heard.tones if heard else None)

    def obey(self) -> None:
        """Let what was decided on phones take effect, as the app does."""
        for act in self.decided:
            self.working.decide(act)
        self.decided.clear()
        self.show()


Serve = Callable[..., Awaitable[Served]]
