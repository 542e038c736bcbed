"""One screen to a step; each is imported when it is shown for the first time."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from witnessmark.app.steps import Step

if TYPE_CHECKING:
    from textual.screen import Screen

_SCREENS = {
    Step.ROOM: ("room", "RoomScreen"),
    Step.CABINETS: ("cabinets", "CabinetsScreen"),
    Step.LAYOUT: ("layout", "LayoutScreen"),
    Step.METER: ("meter", "MeterScreen"),
    Step.LIVE: ("live", "LiveScreen"),
}


def make_screen(step: Step) -> Screen[None]:
    """A fresh screen for a step; it shows what the app holds."""
    module, name = _SCREENS[step]
    screen: Screen[None] = getattr(import_module(f"{__name__}.{module}"), name)()
    return screen
