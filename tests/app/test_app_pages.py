"""A few whole screens as text; WITNESSMARK_PAGES=write writes them anew: then read them."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import numpy as np
import pytest
import stored
from exact_shots import mark_in
from rehearsed import shoot_before
from sitting import Sitting
from surveyor import taken_before

from witnessmark.app.commands import key_to
from witnessmark.app.steps import Step
from witnessmark.drawing.canvas import BlockCanvas
from witnessmark.model import (
    Cabinet,
    KeepClear,
    Pair,
    Placement,
    Room,
    Side,
    TouchPoint,
    Wall,
    WallOffset,
)
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP, demo_scenario

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
PAGES = Path(__file__).parent / "pages"


def check(name: str, text: str) -> None:
    stored.check(PAGES / f"{name}.txt", f"{text}\n")


async def test_the_first_screen_of_a_newcomer(sit_down: SitDown) -> None:
    async with sit_down(size=(80, 24)) as sitting:
        check("room-80x24", sitting.text)


@pytest.mark.parametrize(
    ("name", "key", "size"),
    [
        ("cabinets-80x24", "c", (80, 24)),
        ("layout-80x24", "l", (80, 24)),
        ("layout-140x45", "l", (140, 45)),
        ("meter-80x24", "m", (80, 24)),
        ("sound-80x24", "number_sign", (80, 24)),
        ("sound-140x45", "number_sign", (140, 45)),
    ],
)
async def test_the_screens_of_a_whole_setup(
    sit_down: SitDown, opening: Workspace, name: str, key: str, size: tuple[int, int]
) -> None:
    async with sit_down(opening, size=size) as sitting:
        await sitting.press(key)
        check(name, sitting.text)


SKEW = Room((0.0, 0.0), (5363.0, 0.0), (5414.0, 7237.0), (-12.0, 7228.0))


@pytest.fixture
def loft(opening: Workspace) -> Workspace:
    """A setup in a room that is not a bare rectangle, and whose survey is under way."""
    room = msgspec.structs.replace(
        SKEW,
        datum=(Wall.RIGHT,),
        offsets=(WallOffset(Wall.LEFT, 15.0, 0.0, 80.0),),
        keep_clear=(
            KeepClear.rectangle("hearth", (1900.0, 3100.0), (0.0, 600.0)),
            KeepClear.rectangle("door swing", (0.0, 900.0), (5500.0, 6400.0)),
        ),
    )
    draft = msgspec.structs.replace(opening.draft, room=room, survey=taken_before(SKEW, 6))
    return msgspec.structs.replace(opening, draft=draft)


@pytest.mark.parametrize(
    ("name", "keys", "size"),
    [
        ("loft-room-80x24", ["r"], (80, 24)),
        ("loft-layout-80x24", ["l"], (80, 24)),
        ("loft-live-80x24", [], (80, 24)),
        ("survey-80x24", ["r", "ctrl+w"], (80, 24)),
        ("survey-140x45", ["r", "ctrl+w"], (140, 45)),
        ("fittings-80x24", ["r", "ctrl+f"], (80, 24)),
    ],
)
async def test_the_screens_of_a_room_that_is_no_bare_rectangle(
    sit_down: SitDown, loft: Workspace, name: str, keys: list[str], size: tuple[int, int]
) -> None:
    async with sit_down(loft, size=size) as sitting:
        await sitting.press(*keys)
        check(name, sitting.text)


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_the_screen_of_what_was_heard(
    sit_down: SitDown, opening: Workspace, size: tuple[int, int]
) -> None:
    async with sit_down(opening, size=size) as sitting:
        for grades in ("435", "543444"):
            await sitting.press("e", *grades, "ctrl+n")
        await sitting.press("e", "4", "2", "ctrl+j")
        await sitting.press("f", "5")
        check(f"listen-{size[0]}x{size[1]}", sitting.text)
        if size == (80, 24):
            await sitting.press("ctrl+d")
            check("listen-dim-80x24", sitting.text)


async def test_the_survey_of_a_newcomer(sit_down: SitDown) -> None:
    async with sit_down(size=(80, 24)) as sitting:
        await sitting.press("ctrl+w")
        check("survey-begun-80x24", sitting.text)


async def test_the_pages_of_a_cabinet_that_is_no_plain_box(
    sit_down: SitDown, opening: Workspace
) -> None:
    cabinet = Cabinet(
        262,
        391,
        940,
        points={"rear-inner": TouchPoint(90, 391), "plinth": TouchPoint(-150, 420, 120)},
        feet={"front": TouchPoint(0, 30), "rear-inner": TouchPoint(80, 360)},
        thread="M8",
        straightedge_mm=800,
    )
    draft = msgspec.structs.replace(opening.draft, cabinets=Pair(cabinet, cabinet))
    async with sit_down(msgspec.structs.replace(opening, draft=draft), size=(80, 24)) as sitting:
        await sitting.press("c", "ctrl+x")
        check("details-80x24", sitting.text)
        await sitting.press("ctrl+a", "enter", "enter", "enter")
        for reading in ("449.5", "393.1", "391"):
            await sitting.type(reading)
            await sitting.press("enter")
        check("point-80x24", sitting.text)


async def test_a_plan_in_half_blocks(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening, size=(80, 24), canvas=BlockCanvas) as sitting:
        await sitting.press("l")
        check("blocks-layout-80x24", sitting.text)
        assert not any("\u2800" <= sign < "\u2900" for sign in sitting.text)


AT = datetime(2026, 5, 17, 20, 15, tzinfo=UTC)


@pytest.fixture
def measured(store_file: Path) -> None:
    """A pair that was measured, mark_in, carried about a little, and measured again."""
    spiked = Cabinet(248, 372, 910, feet={"front": TouchPoint(0, 30)}, thread="M8")
    setup = msgspec.structs.replace(
        DEMO_SETUP, targets=Pair(None, None), cabinets=Pair(spiked, spiked)
    )
    opening = Workspace.on(setup, name="Attic", meter_address="typed:")
    rng = np.random.default_rng(7)
    person = demo_scenario(rng).person(rng)
    with Store.open(store_file) as store:
        store.save_setup("Barn", setup, AT - timedelta(days=9))
        then = AT - timedelta(days=2)
        mark = mark_in(shoot_before(store, person, opening, 8, then), then, "before the cleaning")
        first = store.keep("Attic", 1, mark)
        later = msgspec.structs.replace(
            mark, name="grilles off", notes="spikes on coins", supersedes=first.key
        )
        turned = msgspec.structs.replace(later, spike_turns=Pair({"front": 2.5}, {"front": 3.0}))
        store.keep("Attic", 1, turned)
        person.nudge(Side.RIGHT, Placement(0.0, 24.0, 0.0))
        shoot_before(store, person, opening, 8, AT)


@pytest.mark.parametrize(
    ("name", "keys", "size"),
    [
        ("marks-80x24", ["v"], (80, 24)),
        ("marks-140x45", ["v"], (140, 45)),
        ("history-80x24", ["v", "escape", "y"], (80, 24)),
        ("rooms-80x24", ["r", "ctrl+o"], (80, 24)),
    ],
)
async def test_the_screens_of_what_is_kept(
    sit_down: SitDown, measured: None, name: str, keys: list[str], size: tuple[int, int]
) -> None:
    async with sit_down(size=size, clock=lambda: AT) as sitting:
        await sitting.press(*keys)
        check(name, sitting.text)


@pytest.mark.parametrize("name", ["cabinets", "layout", "meter", "loft-live", "listen", "marks"])
def test_the_way_from_a_step_to_every_other_screen_is_visible_on_80_columns(name: str) -> None:
    strip, *_, above, last = (PAGES / f"{name}-80x24.txt").read_text().splitlines()
    keys = {key_to(step): step.heading for step in Step}
    for key, heading in keys.items():
        assert f" {key} {heading} " in f"{strip} " or f"▸{heading}◂" in strip
    for way in ("Ctrl+K Alike?", "Ctrl+G Put back"):
        assert way in f"{above} {last}"
