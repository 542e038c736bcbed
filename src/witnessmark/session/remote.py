"""What phones are shown, for whoever is away from the screen."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import msgspec

from witnessmark.model import Reading
from witnessmark.phone.meter import MeterSeen
from witnessmark.words.phone import A_PROBLEM, ANOTHER_ROOM, see_computer_words

if TYPE_CHECKING:
    from witnessmark.model import Act, Onward, Setup
    from witnessmark.phone.server import PhoneServer
    from witnessmark.phone.state import ActWords
    from witnessmark.placing.cues import Cue
    from witnessmark.placing.guidance import Guidance


class RemoteViews:
    """What the phones are to show, and their server while there is one."""

    def __init__(
        self,
        decided: Callable[[Act | Onward], object],
        act_words: Callable[[], Mapping[Act | Onward, ActWords]],
    ) -> None:
        """``decided`` is called with each decision that comes from a phone.

        ``act_words`` gives what the decisions are called.
        """
        self.server: PhoneServer | None = None
        self._decided = decided
        self._act_words = act_words
        self._meter = MeterSeen()
        self._shown: Guidance | None = None
        self._walk = ""
        self._walk_of: bytes | None = None
        """What the picture of the walk was, or is being, made of."""
        self._foreseeing: asyncio.Task[None] | None = None

    async def start(self, address: str) -> None:
        """Let phones connect to one address of this computer.

        Raises:
            OSError: when that cannot be listened on.
        """
        from witnessmark.phone.server import PhoneServer  # noqa: PLC0415

        server = PhoneServer(self._decided)
        await server.start(address)
        self.server = server
        self._foresee()
        self._tell(None)

    async def stop(self, why: str) -> None:
        """Tell the phones ``why`` and let none connect any more."""
        server, self.server = self.server, None
        if self._foreseeing is not None:
            self._foreseeing.cancel()
            await asyncio.wait([self._foreseeing])
        self._walk_of, self._walk = None, ""
        if server is not None:
            await server.stop(why)

    def hear(self, came: object) -> None:
        """Note what may be about the meter; a reading is sent with what follows from it."""
        before, self._meter = self._meter, self._meter.after(came)
        if before != self._meter and not isinstance(came, Reading):
            self._tell(None)

    def fail(self, why: str = A_PROBLEM) -> None:
        """Send the person back to the computer, which says what is wrong."""
        self._meter = self._meter.in_trouble(see_computer_words(why))
        self._tell(None)

    def leave(self) -> None:
        """Send the person back to the computer, where another room is chosen."""
        meter = self._meter
        self.fail(ANOTHER_ROOM)
        self._meter, self._shown = meter, None

    def show(self, guidance: Guidance, before: Guidance | None) -> Cue | None:
        """Tell the phones what is shown now; what is to be heard of it."""
        from witnessmark.placing.cues import cue  # noqa: PLC0415

        self._shown, heard = guidance, cue(before, guidance)
        self._foresee()
        self._tell(heard)
        return heard

    def _foresee(self) -> None:
        """Have the picture of the walk made anew, in a thread, where the room is another."""
        if self.server is None or self._shown is None:
            return
        setup = self._shown.setup
        of = msgspec.json.encode(
            (setup.room, setup.cabinets, setup.seat, setup.units, setup.mirror)
        )
        if of != self._walk_of:
            self._walk_of, self._walk = of, ""
            if self._foreseeing is not None:
                self._foreseeing.cancel()
            self._foreseeing = asyncio.create_task(self._draw_walk(setup))

    async def _draw_walk(self, setup: Setup) -> None:
        from witnessmark.phone.state import walk_picture  # noqa: PLC0415

        self._walk = await asyncio.to_thread(walk_picture, setup)
        if self._walk:
            self._tell(None)

    def _tell(self, heard: Cue | None) -> None:
        if self.server is None or self._shown is None:
            return
        from witnessmark.phone.state import phone_state  # noqa: PLC0415

        state = phone_state(self._shown, self._meter, self._act_words(), self._walk)
        self.server.show(state, heard.tones if heard else None)
