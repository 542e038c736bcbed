"""A person who surveys a room from the survey screen, for tests."""

from __future__ import annotations

import msgspec
import numpy as np
from sitting import Sitting
from textual.widgets import Input, Static

from witnessmark.app.screens.survey import SurveyScreen
from witnessmark.app.widgets.entry_list import EntryList
from witnessmark.model import Corner, FloorMark, Flush, Measure, Room, Shortest, Straight, Wall
from witnessmark.model.survey import diagonal, wall_length, width_at
from witnessmark_simulators.room import SimulatedRoom


def true_distance(room: Room, measure: Measure) -> float:
    """What a meter without error shows: straight lines here, beams by the simulated room."""
    start = _place(room, measure.start)
    if isinstance(measure, Straight):
        return abs(_place(room, measure.end) - start)
    wall = measure.wall if isinstance(measure, Shortest) else measure.back
    first, second = (complex(*corner) for corner in room.wall(wall))
    inward = (second - first) * 1j
    direction = inward if isinstance(measure, Flush) else -inward
    empty = SimulatedRoom(room, None, None, None)  # type: ignore[arg-type]
    origin = start + 1e-9 * direction  # off the wall, or the beam would end where it begins
    return empty.ray((origin.real, origin.imag), (direction.real, direction.imag)).distance_mm


USUAL = (
    *(wall_length(wall, 0.0) for wall in (Wall.FRONT, Wall.LEFT, Wall.RIGHT, Wall.BACK)),
    diagonal(Corner.FRONT_LEFT, 0.0),
    diagonal(Corner.FRONT_RIGHT, 0.0),
    width_at(3600.0, 0.0),
)
"""The distances that are asked for one after another."""


def taken_before(room: Room, count: int) -> tuple[Measure, ...]:
    """The first of the usual distances, without error."""
    return tuple(
        msgspec.structs.replace(measure, reading_mm=round(true_distance(room, measure), 1))
        for measure in USUAL[:count]
    )


def _place(room: Room, mark: FloorMark) -> complex:
    corners = dict(zip(Corner, (complex(*corner) for corner in room.corners), strict=True))
    start = corners[mark.corner]
    if mark.along is None:
        return start
    (other,) = set(mark.along.ends) - {mark.corner}
    way = corners[other] - start
    return start + way / abs(way) * mark.at_mm


class Surveyor:
    """Takes what the screen asks for in a room that is known to the test."""

    def __init__(
        self, sitting: Sitting, room: Room, rng: np.random.Generator | None = None
    ) -> None:
        """With ``rng``, readings have the errors of the meter that the app knows."""
        self.sitting, self.room, self.rng = sitting, room, rng
        meter = sitting.app.session.draft.meter
        self.zero_mm = rng.normal(0, meter.zero_mm) if rng else 0.0

    @property
    def screen(self) -> SurveyScreen:
        screen = self.sitting.app.screen
        assert isinstance(screen, SurveyScreen)
        return screen

    @property
    def asked(self) -> Measure:
        measure = self.screen.asked.measure
        assert measure is not None
        return measure

    @property
    def asks(self) -> str:
        return self.says("#ask")

    @property
    def list(self) -> str:
        return self.screen.query_one(EntryList).render().plain

    def says(self, selector: str) -> str:
        return str(self.screen.query_one(selector, Static).content)

    def reading_mm(self) -> float:
        """What the meter shows for the distance that is asked for."""
        noise = 0.0
        if self.rng is not None:
            noise = self.zero_mm + self.rng.normal(
                0, self.sitting.app.session.draft.meter.shot_sigma_mm
            )
        return round(true_distance(self.room, self.asked) + noise, 1)

    async def type(self, text: str) -> None:
        """Enter a reading, as if pasted."""
        entry = self.sitting.field("reading").query_one(Input)
        entry.value = text
        entry.focus()
        await self.sitting.press("enter")

    async def answer(self, times: int = 1, *, off_mm: float = 0.0) -> None:
        """Take the distance that is asked for, and type what the meter shows."""
        for _ in range(times):
            await self.type(f"{self.reading_mm() + off_mm:.1f} mm")
