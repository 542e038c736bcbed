"""Each caution is shown where it matters and when, once, and beside the figures."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from rehearsed import Rehearsed, rehearse
from rich.table import Table
from sitting import Sitting
from textual.widgets import Static

from witnessmark.app.screens.help import TOPIC_OF, HelpScreen
from witnessmark.app.steps import Aside, Place, Step
from witnessmark.lengths import Units
from witnessmark.manual import manual_page
from witnessmark.model import Placement, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.session.workspace import Workspace
from witnessmark.words.cautions import (
    BEAM_ACROSS,
    DARK,
    LASER,
    LOCAL_RULES,
    LOUDNESS,
    MOVING,
    SPIKES,
)
from witnessmark_simulators.scenario import DEMO_SETUP

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
ALL = (LASER, BEAM_ACROSS, MOVING, SPIKES, LOUDNESS, DARK, LOCAL_RULES)


def said(sitting: Sitting) -> str:
    """All that the screen's texts and the messages over it say, a blank between any two words."""
    shown = [line.content for line in sitting.app.screen.query(Static) if line.display]
    lines = [words for content in shown for words in _words_in(content)]
    toasts = [toast.message for toast in sitting.app._notifications]
    return " ".join(" ".join([*lines, *toasts]).split())


def _words_in(content: object) -> list[str]:
    if isinstance(content, Table):  # the page of help
        return [str(cell) for column in content.columns for cell in column.cells]
    return [str(content)]


def notice(sitting: Sitting) -> str:
    return str(sitting.app.screen.query_one("#notice", Static).content)


def assert_nothing_is_covered(person: Rehearsed) -> None:
    """No message lies over the figures, and the notice is whole beside them."""
    assert not person.app._notifications
    status, line = (person.live.query_one(name, Static) for name in ("#status", "#notice"))
    assert status.region.size == status.container_size.with_width(status.region.width)
    assert not line.region.overlaps(status.region)
    assert line.region.bottom <= status.region.bottom
    shown = " ".join(person.text.split())
    words = notice(person).split()
    assert all(word in shown for word in words[-3:])


@pytest.mark.parametrize("units", [Units.MM, Units.INCH_16])
@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_the_beam_until_the_first_reading_and_the_cabinet_before_the_first_nudge(
    store_file: Path, size: tuple[int, int], units: Units
) -> None:
    setup = msgspec.structs.replace(DEMO_SETUP, units=units)
    opening = Workspace.on(setup, name="Demo", meter_address="sim:")
    async with rehearse(store_file, size=size, opening=opening) as person:
        assert notice(person) == LASER
        assert_nothing_is_covered(person)
        await person.shoot()
        assert notice(person) == ""
        for _ in range(3):
            await person.shoot()
        assert person.live.guidance is not None
        assert person.live.guidance.stage is Stage.NUDGE
        assert notice(person) == MOVING
        assert_nothing_is_covered(person)
        await person.nudge()
        await person.shoot()
        assert notice(person) == ""
    async with rehearse(store_file, size=size, opening=opening) as person:
        # another start: a meter is taken up again, and the cabinets were moved before
        assert notice(person).endswith(LASER)
        assert "Continuing the earlier round" in notice(person)
        assert MOVING not in said(person)


async def test_the_cabinet_again_before_each_nudge_of_more_than_100_mm(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        await person.work_on()
        for far_mm, caution in ((60.0, ""), (140.0, MOVING), (140.0, MOVING)):
            target = person.app.session.round.setup.targets.right  # type: ignore[union-attr]
            assert target is not None
            move = target.minus(person.room.truth.right)
            person.carry(Side.RIGHT, Placement(move.side_mm, move.setback_mm + far_mm, 0.0))
            await person.decide("a")
            while not (person.live.guidance and person.live.guidance.asked):
                await person.shoot()
            assert person.live.guidance.side is Side.RIGHT
            assert notice(person) == caution
            assert_nothing_is_covered(person)


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_nothing_lies_over_the_symmetry_as_a_position_is_left_for_the_next(
    store_file: Path, size: tuple[int, int]
) -> None:
    async with rehearse(store_file, size=size) as person:
        await person.work_on()
        await person.press("e", "4", "ctrl+n")
        assert notice(person).startswith("Next is ")
        assert_nothing_is_covered(person)
        await person.press("z")
        assert notice(person).startswith("The bell is silent.")
        await person.shoot()
        assert "bell" not in notice(person)


async def test_the_loudness_until_the_first_position_is_graded(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("e")
        assert sitting.told == LOUDNESS
        assert " ".join(LOUDNESS.split()[-4:]) in " ".join(sitting.text.split())
        await sitting.press("g", "e")
        assert sitting.told == LOUDNESS
        await sitting.press("4", "ctrl+s")
        assert LOUDNESS not in said(sitting)
        await sitting.press("g", "e")
        assert LOUDNESS not in said(sitting)


@pytest.mark.parametrize("key", ["g", "e", "v"])
async def test_the_dark_as_a_screen_is_dimmed(
    sit_down: SitDown, opening: Workspace, key: str
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press(key, "ctrl+d")
        assert DARK in said(sitting)
        assert not sitting.app._notifications
        assert "before you move a cabinet." in " ".join(sitting.text.split())


async def test_no_screen_shows_a_caution_twice(store_file: Path) -> None:
    async with rehearse(store_file, size=(140, 60)) as person:
        ways = (
            *("", "r", "c", "l", "m", "i", "e", "v", "number_sign"),
            *("r ctrl+w", "m ctrl+t", "m ctrl+e", "c ctrl+x", "c ctrl+x ctrl+a"),
        )
        for way in ways:
            await person.press(*way.split())
            assert_none_is_twice(said(person), way)
            while len(person.app.screen_stack) > 2:
                person.app.pop_screen()
            person.app.go("live")  # type: ignore[arg-type]
            await person.settle()


@pytest.mark.parametrize("place", [*Step, *Aside])
def test_no_page_of_help_shows_a_caution_twice(place: Place) -> None:
    keys = _words_in(HelpScreen(place, rehearsed=True)._keys_page())
    told = " ".join(" ".join([*keys, manual_page(TOPIC_OF[place]).text]).split())
    assert_none_is_twice(told, place)
    assert told.count(LASER) == 1


def assert_none_is_twice(told: str, way: str) -> None:
    for caution in ALL:
        assert told.count(caution) <= 1, (way, caution)
