"""A simulated room with a person and a meter, at the other end of the ``sim:`` driver."""

from __future__ import annotations

import asyncio

from witnessmark.meters.port import MeterUnreachable
from witnessmark.model import Pair, Placement, ShotKind, Side
from witnessmark_simulators.meter import Answer
from witnessmark_simulators.person import Person

Answers = asyncio.Queue[Answer | None]
"""What the meter sends, in order; None when it is unplugged."""


class RehearsalRoom:
    """Prompts go in, the meter's answers come out through the driver's reports.

    To be used within one event loop. Answers wait until a driver takes them; shots taken while the
    meter is unplugged are lost.
    """

    def __init__(self, person: Person) -> None:
        self.person = person
        self._answers: Answers | None = Answers()

    @property
    def truth(self) -> Pair[Placement]:
        """Where the cabinets truly stand."""
        return self.person.truth

    def press_button(self, kind: ShotKind) -> None:
        """Have the person take the prompted shot.

        Raises:
            ImpossibleShot: when that shot cannot be taken in this room.
        """
        answer = self.person.shoot(kind)
        if self._answers is not None:
            self._answers.put_nowait(answer)

    def nudge(self, side: Side, asked: Placement) -> None:
        """Have the person move a cabinet by about ``asked`` (deltas)."""
        self.person.nudge(side, asked)

    def push(self, kind: ShotKind, by_mm: float, about: str | None) -> None:
        """Have the person move a cabinet until a shot reads about so much more, and take it.

        Raises:
            ImpossibleShot: when that shot cannot be taken in this room.
        """
        self.person.push(kind, by_mm, about)
        self.press_button(kind)

    def unplug(self) -> None:
        """Take the meter's link away."""
        if self._answers is not None:
            self._answers.put_nowait(None)
            self._answers = None

    def plug_in(self) -> None:
        """Give the link back; the driver has to open it again."""
        if self._answers is None:
            self._answers = Answers()

    def open(self) -> Answers:
        """Return the meter's answers until it is unplugged.

        Raises:
            MeterUnreachable: while it is unplugged.
        """
        if self._answers is None:
            raise MeterUnreachable("the simulated meter is unplugged; plug it in")
        return self._answers
