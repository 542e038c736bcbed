"""One screen to a place; each is imported when it is shown for the first time."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from witnessmark.app.steps import Aside, Place, Step

if TYPE_CHECKING:
    from textual.screen import Screen

_SCREENS: dict[Place, tuple[str, str]] = {
    Step.ROOM: ("room", "RoomScreen"),
    Step.CABINETS: ("cabinets", "CabinetsScreen"),
    Step.LAYOUT: ("layout", "LayoutScreen"),
    Step.METER: ("meter", "MeterScreen"),
    Step.LIVE: ("live", "LiveScreen"),
    Step.LISTEN: ("listen", "ListenScreen"),
    Step.MARKS: ("marks", "MarksScreen"),
    Aside.SURVEY: ("survey", "SurveyScreen"),
    Aside.FITTINGS: ("fittings", "FittingsScreen"),
    Aside.LEARN: ("learn", "LearnScreen"),
    Aside.CHECK: ("check", "CheckScreen"),
    Aside.TILT: ("tilt", "TiltScreen"),
    Aside.HISTORY: ("history", "HistoryScreen"),
    Aside.ROOMS: ("other_rooms", "RoomsScreen"),
    Aside.SOUND: ("sound", "SoundScreen"),
    Aside.FORESIGHT: ("foresight", "ForesightScreen"),
    Aside.CABINET: ("details", "DetailsScreen"),
    Aside.ALIKE: ("alike", "AlikeScreen"),
    Aside.PUT_BACK: ("put_back", "PutBackScreen"),
}


def make_screen(place: Place) -> Screen[None]:
    """A fresh screen for a place; it shows what the app holds."""
    module, name = _SCREENS[place]
    screen: Screen[None] = getattr(import_module(f"{__name__}.{module}"), name)()
    return screen
