"""Where a phone finds the page: the address, and its code for a camera."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from witnessmark.app.commands import either_case
from witnessmark.app.widgets.bars import KeyBar
from witnessmark.app.widgets.plain import Plain
from witnessmark.phone.network import code_lines, own_addresses

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.session.remote import RemoteViews

_ADVICE = "Scan this with a phone in the same network, or type the address below."
_CAUTION = (
    "The page is plain HTTP, so others in this network can read it. It shows only distances and "
    "what to do with them. Anyone with the address can also decide: keep it to yourself."
)
_HELP = (
    "If the phone finds nothing, check that it is in this network and that this computer's "
    "firewall lets it in. Set its display to stay on: the browser can do that only on encrypted "
    "pages."
)
_NO_NETWORK = "This computer is in no network through which a phone could reach it."
_LOOK_EVERY_S = 0.5


class PhoneScreen(ModalScreen[None]):
    """Starts the server if there is none; closes without it, and the server goes on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        ("escape", "dismiss", "Leave"),
        (either_case("p"), "dismiss", "Phone"),
        ("ctrl+n", "elsewhere", "Next"),
        ("ctrl+l", "stop", "Stop"),
        ("ctrl+q", "app.quit", "Quit"),
    ]
    DEFAULT_CSS = """
    PhoneScreen { align: center middle; background: $background; }
    PhoneScreen #page { width: 78; height: auto; max-height: 1fr; }
    PhoneScreen #beside { height: auto; }
    PhoneScreen #code { width: auto; color: #ffffff; background: #000000; margin: 0 2 1 0; }
    PhoneScreen #words { width: 1fr; }
    PhoneScreen #address { text-style: bold; }
    """

    def __init__(self, remote: RemoteViews) -> None:
        """``remote`` has the server."""
        super().__init__()
        self._remote = remote
        self._addresses: list[str] = []
        self._trouble = ""
        self._one_at_a_time = asyncio.Lock()

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="page", can_focus=False):
            with Horizontal(id="beside"):
                yield Plain(id="code")
                yield Plain(id="words")
            yield Plain(id="address")
        yield KeyBar()

    def on_mount(self) -> None:
        """Start, and look again and again how many phones there are."""
        self.run_worker(self._in_turn(self._open))
        self.set_interval(_LOOK_EVERY_S, self._show)

    async def _in_turn(self, change: Callable[[], Awaitable[None]]) -> None:
        async with self._one_at_a_time:
            await change()

    async def _open(self) -> None:
        self._addresses = await asyncio.to_thread(own_addresses)
        if not self._addresses:
            self._trouble = _NO_NETWORK
        elif self._remote.server is None:
            await self._start(self._addresses[0])
        self._show()

    async def _start(self, address: str) -> None:
        try:
            await self._remote.start(address)
        except OSError as error:
            self._trouble = f"the page cannot be opened at {address}: {error.strerror}"

    async def _move(self) -> None:
        before, self._trouble = self._here, ""
        after = self._addresses.index(before) + 1 if before in self._addresses else 0
        await self._remote.stop("The page is at another address now: scan the new code.")
        await self._start(self._addresses[after % len(self._addresses)])
        self._show()

    async def _stop(self) -> None:
        await self._remote.stop("The page was switched off on the computer.")
        self.dismiss()

    @property
    def _here(self) -> str:
        """The address that phones connect to, if they may."""
        return self._remote.server.address if self._remote.server else ""

    def _show(self) -> None:
        server = self._remote.server
        words, address, code = self._trouble, "", ""
        if server is not None:
            connected = (
                f"{server.phones or 'no'} phone{'' if server.phones == 1 else 's'} connected"
            )
            words = "\n\n".join((f"[b]{connected}[/b]", _ADVICE, _CAUTION, _HELP))
            address, code = server.url, "\n".join(code_lines(server.url))
        for name, text in (("words", words), ("address", address), ("code", code)):
            self.query_one(f"#{name}", Static).update(text)
        self.refresh_bindings()

    def action_elsewhere(self) -> None:
        self.run_worker(self._in_turn(self._move))

    def action_stop(self) -> None:
        self.run_worker(self._in_turn(self._stop))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "elsewhere":
            return any(address != self._here for address in self._addresses)
        return action != "stop" or self._remote.server is not None
