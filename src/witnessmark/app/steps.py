"""The steps that lead from an empty room to two cabinets that stand where they sound best."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.session.draft import Draft


class Step(enum.StrEnum):
    """One step, each a screen of its own, in the order in which a newcomer takes them."""

    ROOM = "room"
    CABINETS = "cabinets"
    LAYOUT = "layout"
    METER = "meter"
    LIVE = "live"
    LISTEN = "listen"
    MARKS = "marks"

    @property
    def heading(self) -> str:
        """What the step is called."""
        return self.capitalize()

    @property
    def after(self) -> Step:
        """The next step; the last one's is itself."""
        return _ORDER[min(_ORDER.index(self) + 1, len(_ORDER) - 1)]

    @property
    def before(self) -> Step:
        """The step before; the first one's is itself."""
        return _ORDER[max(_ORDER.index(self) - 1, 0)]


_ORDER = list(Step)
EVENING = frozenset({Step.LISTEN, Step.MARKS})
"""The steps that there is no end of: what is heard, and what is kept."""
FORMS = frozenset(Step) - {Step.LIVE} - EVENING
"""The steps in which the setup is typed into fields."""
EVERYWHERE = frozenset(Step)

_AS_THEY_STAND = frozenset({Step.CABINETS, Step.METER, Step.LIVE, Step.MARKS})
"""The steps for which a room may stand in that nobody measured."""


def missing_for(draft: Draft, step: Step) -> Step | None:
    """The step that has to be done before ``step`` can be, if any."""
    if step is Step.ROOM:
        return None
    if step in _AS_THEY_STAND and draft.setup is not None:
        return None
    if draft.known_room is None or draft.known_seat is None:
        return Step.ROOM
    if step in {Step.LAYOUT, Step.LIVE} | EVENING and draft.cabinets is None:
        return Step.CABINETS
    return None


class Aside(enum.StrEnum):
    """A screen that is opened from a step's and goes back to it."""

    SURVEY = "survey"
    FITTINGS = "fittings"
    LEARN = "learn"
    CHECK = "check"
    CABINET = "cabinet"
    POINT = "point"
    TILT = "tilt"
    HISTORY = "history"
    ROOMS = "rooms"
    SOUND = "sound"
    FORESIGHT = "foresight"
    ALIKE = "alike"
    PUT_BACK = "put_back"

    @property
    def heading(self) -> str:
        """What it is called."""
        return _ASIDES[self]


_ASIDES = {
    Aside.SURVEY: "Survey the room",
    Aside.FITTINGS: "What is in the room",
    Aside.LEARN: "Teach the meter",
    Aside.CHECK: "Check the meter",
    Aside.CABINET: "The cabinet in detail",
    Aside.POINT: "A point of the cabinet",
    Aside.TILT: "Tilt",
    Aside.HISTORY: "History",
    Aside.ROOMS: "Rooms",
    Aside.SOUND: "What the room does",
    Aside.FORESIGHT: "The walk, foreseen",
    Aside.ALIKE: "Are left and right alike?",
    Aside.PUT_BACK: "Put back",
}
ASIDES = frozenset(Aside)

Place = Step | Aside
"""Where keys do something."""
