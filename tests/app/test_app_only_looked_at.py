"""Opening a screen and leaving it changes nothing: not the store, and not the setup."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
from sitting import Sitting

from witnessmark.app.steps import Aside, Place, Step
from witnessmark.lengths import Units
from witnessmark.model import Pair, Placement, Room, Seat, Wall
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]

WAYS: dict[Place, tuple[str, ...]] = {
    Step.ROOM: ("r",),
    Step.CABINETS: ("c",),
    Step.LAYOUT: ("l",),
    Step.METER: ("m",),
    Step.LISTEN: ("e",),
    Step.MARKS: ("v",),
    Aside.SURVEY: ("r", "ctrl+w"),
    Aside.FITTINGS: ("r", "ctrl+f"),
    Aside.ROOMS: ("r", "ctrl+o"),
    Aside.CABINET: ("c", "ctrl+x"),
    Aside.POINT: ("c", "ctrl+x", "ctrl+a"),
    Aside.LEARN: ("m", "ctrl+e"),
    Aside.CHECK: ("m", "ctrl+t"),
    Aside.TILT: ("i",),
    Aside.SOUND: ("number_sign",),
    Aside.FORESIGHT: ("e", "escape", "equals_sign"),
    Aside.HISTORY: ("y",),
    Aside.ALIKE: ("ctrl+k",),
    Aside.PUT_BACK: ("ctrl+g",),
}


def test_every_screen_is_looked_at() -> None:
    assert WAYS.keys() | {Step.LIVE} == {*Step, *Aside}


def _stored(file: Path) -> str:
    with sqlite3.connect(file) as store:
        return "\n".join(store.iterdump())


def _odd(opening: Workspace) -> Workspace:
    """A setup whose figures no field shows whole, in inches, with one target."""
    room = Room((0.0, 0.0), (5363.217, 0.0), (5414.03, 7237.4), (-12.1, 7228.77))
    draft = msgspec.structs.replace(
        opening.draft,
        room=msgspec.structs.replace(room, datum=(Wall.RIGHT,), height_mm=2481.37),
        seat=Seat(4400.123, 2680.456, 1020.789),
        targets=Pair[Placement | None](Placement(1450.123, 1900.456, 8.123), None),
        units=Units.INCH_16,
    )
    return msgspec.structs.replace(opening, draft=draft)


async def test_a_screen_that_is_only_looked_at_changes_nothing(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(_odd(opening)) as sitting:
        setup, stored = msgspec.json.encode(sitting.app.session.workspace), _stored(store_file)
        for place, way in WAYS.items():
            await sitting.press(*way)
            assert sitting.is_at(place)
            assert "f1" in sitting.app.screen.active_bindings  # help, one key away
            while isinstance(getattr(sitting.app.screen, "STEP", None), Aside):
                await sitting.press("escape")
            await sitting.press("escape", "g")
            assert sitting.is_at(Step.LIVE), place
            assert msgspec.json.encode(sitting.app.session.workspace) == setup, place
            assert _stored(store_file) == stored, place
