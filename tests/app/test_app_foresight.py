"""The screen of the walk foreseen: opened by one key, chosen with arrows, following the pair."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
import stored
from at_rest import until_in
from patience import HUNG_S
from sitting import Sitting
from textual.widgets import Static

from witnessmark.app.screens import foresight
from witnessmark.app.screens.foresight import ForesightScreen
from witnessmark.app.screens.sound import SoundScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.listening.foreseen import ForeseenWalk
from witnessmark.meters.port import utc_now
from witnessmark.model import (
    Attribute,
    Impression,
    Pair,
    Placement,
    Reading,
    Room,
    Setup,
    Trial,
    Varied,
)
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store

PAGES = Path(__file__).parent / "pages"
SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


@pytest.fixture
def ceiling(opening: Workspace) -> Workspace:
    """The same setup, with the height of its ceiling."""
    room = opening.draft.known_room
    assert room is not None
    draft = msgspec.structs.replace(
        opening.draft, room=msgspec.structs.replace(room, height_mm=2500.0)
    )
    return msgspec.structs.replace(opening, draft=draft)


def told(sitting: Sitting, name: str = "sentences") -> str:
    return str(sitting.app.screen.query_one(f"#{name}", Static).content)


def stations(sitting: Sitting) -> PickList:
    return sitting.app.screen.query_one("#stations", PickList)


async def measure(sitting: Sitting, off_mm: float) -> None:
    """Take the shots of the first cabinet, all as if it stood farther off each wall."""
    session = sitting.app.session
    for _ in range(4):
        guidance = session.guidance
        assert guidance is not None
        expected = guidance.prompt.expected_mm
        assert expected is not None
        reading = Reading(round(expected + off_mm), utc_now(), session.workspace.meter_address)
        await session.record(reading)
        await sitting.until(lambda: not session.is_behind)


async def open_from(sitting: Sitting, step: str) -> None:
    """Go to a step by its key, and open the foresight there."""
    await sitting.press(step)
    sitting.app.screen.set_focus(None)
    await sitting.press("equals_sign")


@pytest.mark.parametrize("step", [("l", Step.LAYOUT), ("e", Step.LISTEN)])
async def test_one_key_opens_it_and_escape_goes_back(
    sit_down: SitDown, opening: Workspace, step: tuple[str, Step]
) -> None:
    key, place = step
    async with sit_down(opening) as sitting:
        await open_from(sitting, key)
        assert sitting.is_at(Aside.FORESIGHT)
        await sitting.press("escape")
        assert sitting.is_at(place)


async def test_it_begins_at_the_pair_and_the_arrows_tell_other_stations(
    sit_down: SitDown, ceiling: Workspace
) -> None:
    async with sit_down(ceiling, size=(120, 40)) as sitting:
        await open_from(sitting, "e")
        place = stations(sitting).place
        assert f"Station {place + 1}: baffles " in told(sitting)
        assert "+ the position now" in told(sitting, "curve")
        await sitting.press("up")
        assert stations(sitting).place == place - 1
        assert f"Station {place}: baffles " in told(sitting)
        before = told(sitting, "curve")
        await sitting.choose("furnishing", "soft")
        assert told(sitting, "curve") != before
        assert "absorb 30 %" in told(sitting)
        await sitting.choose("spread", 2)
        assert "Station" in told(sitting)


async def test_keys_are_taken_while_it_is_calculated(
    sit_down: SitDown, ceiling: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    may_go_on = threading.Event()

    def slowly(setup: Setup, absorbed: Mapping[str, float]) -> ForeseenWalk:
        may_go_on.wait(HUNG_S)
        return ForeseenWalk(setup, absorbed)

    monkeypatch.setattr(foresight, "ForeseenWalk", slowly)
    async with sit_down(ceiling, size=(120, 40)) as sitting:
        try:
            await sitting.press("e")
            sitting.app.screen.set_focus(None)
            await sitting.app._press_keys(["equals_sign"])
            await until_in(sitting.app, lambda: "Calculating every station" in sitting.text)
            await sitting.app._press_keys(["down"])
        finally:
            may_go_on.set()
        await sitting.settle()
        assert "Calculating every station" not in sitting.text
        assert "Station " in told(sitting)


async def test_a_hall_says_that_it_is_too_large(sit_down: SitDown, ceiling: Workspace) -> None:
    hall = msgspec.structs.replace(ceiling.draft, room=Room.rectangular(1e5, 1e5, 1e5))
    async with sit_down(msgspec.structs.replace(ceiling, draft=hall)) as sitting:
        await open_from(sitting, "e")
        assert "too large to foresee the bass" in sitting.text
        assert "Calculating" not in sitting.text


async def test_it_follows_the_pair_as_it_is_measured(sit_down: SitDown, ceiling: Workspace) -> None:
    async with sit_down(ceiling, size=(120, 40)) as sitting:
        await open_from(sitting, "e")
        screen = sitting.app.screen
        assert isinstance(screen, ForesightScreen)
        before = told(sitting, "curve")
        await measure(sitting, 60.0)
        assert told(sitting, "curve") != before


async def graded(sitting: Sitting, grades: list[int]) -> None:
    """Keep trials on the walk with these grades of the balance."""
    session = sitting.app.session
    for step, grade in enumerate(grades):
        stood = Placement(1450.0, 1000.0 + 250.0 * step, 0.0)
        heard = Impression({Attribute.BALANCE: grade})
        trial = Trial(utc_now(), Varied.STATION, Pair(stood, stood), heard)
        await session.journal.run(Store.keep, "Attic", session.round_id, trial)


@pytest.mark.parametrize(
    ("grades", "words"),
    [
        ([3, 2, 4], "Grade 3 more positions to compare what you heard"),
        ([3, 2, 4, 5, 1, 3], "Compared over 6 graded positions"),
    ],
)
async def test_grades_are_set_beside_what_was_foreseen(
    sit_down: SitDown, ceiling: Workspace, grades: list[int], words: str
) -> None:
    async with sit_down(ceiling, size=(120, 40)) as sitting:
        await sitting.press("e")
        await graded(sitting, grades)
        sitting.app.screen.set_focus(None)
        await sitting.press("equals_sign")
        await sitting.until(lambda: words in told(sitting))


async def test_grades_out_of_sight_are_out_of_sight_here_too(
    sit_down: SitDown, ceiling: Workspace
) -> None:
    async with sit_down(ceiling, size=(120, 40)) as sitting:
        await sitting.press("e")
        await graded(sitting, [3, 2, 4])
        sitting.app.blind = True
        sitting.app.screen.set_focus(None)
        await sitting.press("equals_sign")
        await sitting.app.workers.wait_for_complete()
        assert "to compare what you heard" not in told(sitting)


async def test_other_seats_are_told_and_stored_with_the_room(
    sit_down: SitDown, ceiling: Workspace
) -> None:
    async with sit_down(ceiling, size=(120, 40)) as sitting:
        await open_from(sitting, "e")
        await sitting.fill(seats="4.8m,1.9m,1.0m; 4.8m,3.3m,1.0m")
        assert "Seat 1: the left cabinet arrives" in told(sitting)
        assert "Seat 2: its bass differs" in told(sitting)
        assert len(sitting.app.session.draft.seats_beside) == 2
        await sitting.fill(seats="4.8m,1.9m")
        assert "Seat 2:" in told(sitting)
        await sitting.fill(seats=";".join(["4.8m,1.9m,1.0m"] * 6))
        assert "6 are too many; give 5 at most" in told(sitting, "told")
        await sitting.fill(seats="")
        assert "Seat 1:" not in told(sitting)
        assert sitting.app.session.draft.other_seats is msgspec.UNSET


async def test_the_sound_page_follows_too(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("number_sign")
        assert isinstance(sitting.app.screen, SoundScreen)
        assert "Left cabinet, on its target" in told(sitting)
        await measure(sitting, 0.0)
        assert "Left cabinet, as measured" in told(sitting)


async def test_a_room_without_a_ceiling_says_what_is_needed(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await open_from(sitting, "e")
        assert "the height of the ceiling is needed" in sitting.text
        await sitting.press("down")
        await sitting.choose("furnishing", "soft")
        assert "the height of the ceiling is needed" in sitting.text


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_its_pages(sit_down: SitDown, ceiling: Workspace, size: tuple[int, int]) -> None:
    async with sit_down(ceiling, size=size) as sitting:
        await open_from(sitting, "e")
        stored.check(PAGES / f"foresight-{size[0]}x{size[1]}.txt", f"{sitting.text}\n")
