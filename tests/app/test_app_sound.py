"""The screen that tells what the room does: what it says, how it scrolls, and the way back."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager

import msgspec
from sitting import Sitting
from textual.widgets import Static

from witnessmark.app.screens.live import LiveScreen
from witnessmark.app.screens.sound import SoundScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.lengths import Units
from witnessmark.model import Pair, Placement
from witnessmark.session.draft import Draft
from witnessmark.session.room_answers import PairSize
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


def sentences(sitting: Sitting) -> str:
    screen = sitting.app.screen
    assert isinstance(screen, SoundScreen)
    return str(screen.query_one("#sentences", Static).content)


async def test_it_opens_from_the_live_screen_and_goes_back(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("number_sign")
        assert sitting.is_at(Aside.SOUND)
        assert "Left cabinet, on its target" in sentences(sitting)
        assert "Real rooms and loudspeakers differ" in sentences(sitting)
        await sitting.press("escape")
        assert sitting.is_at(Step.LIVE)


async def test_it_scrolls_to_its_end(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("number_sign")
        assert "Real rooms" not in sitting.text
        await sitting.press("down")
        assert sitting.app.screen.query_one("#form").scroll_y > 0
        await sitting.press(*["pagedown"] * 5)
        assert "Real rooms" in sitting.text
        await sitting.press(*["pageup"] * 5)
        assert "At the seat" in sitting.text


async def test_it_speaks_of_what_was_measured(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        for _ in range(4):
            live = sitting.app.screen
            assert isinstance(live, LiveScreen)
            assert live.guidance is not None
            await sitting.type(f"{live.guidance.prompt.expected_mm:.0f}")
            await sitting.press("enter")
        await sitting.press("number_sign")
        assert "Left cabinet, as measured" in sentences(sitting)
        assert "Right cabinet, on its target" in sentences(sitting)


async def test_lengths_are_in_the_persons_units(sit_down: SitDown, opening: Workspace) -> None:
    draft = msgspec.structs.replace(opening.draft, units=Units.INCH_16)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("number_sign")
        assert "the path is 11' 11" in sentences(sitting)
        assert " mm" not in sentences(sitting)


async def test_a_cabinet_at_the_very_seat_is_pointed_out(
    sit_down: SitDown, opening: Workspace
) -> None:
    there = Pair[Placement | None](Placement(2680, 4400, 0), Placement(1450, 1900, 8))
    cabinets = opening.draft.cabinets
    assert cabinets is not None
    flat = Pair(
        *(
            msgspec.structs.replace(one, acoustic_height_mm=None)
            for one in (cabinets.left, cabinets.right)
        )
    )
    draft = msgspec.structs.replace(opening.draft, targets=there, cabinets=flat)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("number_sign")
        assert "the seat must stand away from both cabinets" in sitting.text


async def test_nothing_is_told_of_a_room_that_nobody_measured(
    sit_down: SitDown, opening: Workspace
) -> None:
    draft = PairSize(262, 391).compared_as_they_stand(Draft())
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("number_sign")
        assert sentences(sitting) == ""
        assert "✗ it was not measured whole; measure its width and length" in sitting.told
