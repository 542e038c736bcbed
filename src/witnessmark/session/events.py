"""What happens in a session, as those who follow it are sent it."""

from __future__ import annotations

import asyncio
import enum
from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

import msgspec

if TYPE_CHECKING:
    from witnessmark.meters.port import Fault, Link, Noise
    from witnessmark.model import Act, Decision, Onward, Reading, SetupChanged, TiltTaken
    from witnessmark.placing.cues import Cue
    from witnessmark.placing.guidance import Guidance
    from witnessmark.placing.round import Round


class Part(enum.StrEnum):
    """The part of an evening that something belongs to."""

    ROUND = "round"
    """The live round, the phones too."""
    ASIDE = "aside"
    """What is measured for something else: a survey, a check of the meter, a tilt."""
    PROGRAM = "program"
    """The open room as it is saved, and the program itself."""


class LiveRound(msgspec.Struct, frozen=True):
    """The round under way, the room and the number it is journaled under, and its guidance."""

    id: int
    room: str
    state: Round
    guidance: Guidance


class LinkChanged(msgspec.Struct, frozen=True):
    """The meter was opened, is quiet or was lost. Everybody is sent it."""

    part: ClassVar[Part | None] = None
    link: Link


class Came(msgspec.Struct, frozen=True):
    """Something was measured or decided, and is in the journal."""

    part: Part
    what: Reading | Fault | Noise | Decision | TiltTaken | SetupChanged


class RoundBegun(msgspec.Struct, frozen=True):
    """Another round is under way; its guidance follows.

    ``is_elsewhere`` says that another copy of the program has the one before, ``passed_over`` is a
    sentence about what could not be read; empty where all could.
    """

    part: ClassVar[Part | None] = Part.ROUND
    resumed: bool
    is_elsewhere: bool
    passed_over: str = ""


class Guided(msgspec.Struct, frozen=True):
    """The round went on: where it stands now, and what can be heard of that."""

    part: ClassVar[Part | None] = Part.ROUND
    guidance: Guidance
    cue: Cue | None


class DecidedOnPhone(msgspec.Struct, frozen=True):
    """A decision came from a phone; the session carries it out as any other."""

    part: ClassVar[Part | None] = Part.ROUND
    act: Act | Onward


class Failed(msgspec.Struct, frozen=True):
    """Something could not be done; ``why`` is a sentence for a person."""

    part: Part
    why: str


class Crashed(msgspec.Struct, frozen=True):
    """A defect, which no person can mend: whoever runs the session raises ``error``."""

    part: ClassVar[Part | None] = Part.PROGRAM
    error: Exception


SessionEvent = LinkChanged | Came | RoundBegun | Guided | DecidedOnPhone | Failed | Crashed
Listener = Callable[[SessionEvent], object]


class Followers:
    """Those who follow a session, and what is sent to them."""

    def __init__(self) -> None:
        self._listeners: list[tuple[Part, Listener]] = []

    def add(self, part: Part, listener: Listener) -> Callable[[], None]:
        """Call ``listener`` with what happens in a part of the session; return what ends that.

        It is called at once as something happens, so it must not take long.
        """
        entry = (part, listener)
        self._listeners.append(entry)
        return lambda: self._listeners.remove(entry)

    def publish(self, event: SessionEvent) -> None:
        """Send all those an event that it concerns."""
        for part, listener in tuple(self._listeners):
            if event.part in (part, None):
                listener(event)

    def watch_over(self, task: asyncio.Task[None]) -> None:
        """Send a defect in a task, which nobody waits for, to those who run the session."""
        task.add_done_callback(self._look_for_defect)

    def _look_for_defect(self, task: asyncio.Task[None]) -> None:
        error = None if task.cancelled() else task.exception()
        if isinstance(error, Exception):  # else the whole program is being ended
            self.publish(Crashed(error))
