"""Surveying a room from the screen: by keyboard, by the meter's button, in a simulated room."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import numpy as np
import pytest
from sitting import Sitting, saved_in, serial_driver
from surveyor import Surveyor, taken_before
from textual.widgets import Static

from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.lengths import Units
from witnessmark.model import (
    BY_TAPE,
    Edge,
    KeepClear,
    Meter,
    Reading,
    Room,
    Seat,
    Wall,
    WallOffset,
)
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.serial_line import SerialLine

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
SKEW = Room((0.0, 0.0), (5363.0, 0.0), (5414.0, 7237.0), (-12.0, 7228.0))


def gone_on_with(opening: Workspace, count: int) -> Workspace:
    """So many distances were taken before."""
    draft = msgspec.structs.replace(opening.draft, survey=taken_before(SKEW, count))
    return msgspec.structs.replace(opening, draft=draft)


async def begun(sitting: Sitting, room: Room = SKEW, seed: int | None = None) -> Surveyor:
    if not sitting.is_at(Step.ROOM):
        await sitting.press("r")
    await sitting.press("ctrl+w")
    assert sitting.is_at(Aside.SURVEY)
    return Surveyor(sitting, room, None if seed is None else np.random.default_rng(seed))


async def test_a_newcomer_surveys_a_room_by_the_keyboard_alone(
    sit_down: SitDown, store_file: Path
) -> None:
    async with sit_down() as sitting:
        assert "Ctrl+W surveys it" in sitting.text
        surveyor = await begun(sitting)
        assert sitting.cursor_in == "reading"
        assert surveyor.asks == "Next: the front wall"
        assert "at the front-left corner; go straight to the front-right" in surveyor.says(
            "#how-to"
        )
        assert "Five distances fix the corners" in surveyor.says("#told")
        for wanted in ("left wall", "right wall", "back wall", "the diagonal from front-left"):
            await sitting.type(f"{surveyor.reading_mm():.1f} mm")
            await sitting.press("enter")
            assert wanted in surveyor.asks
        assert surveyor.says("#told") == "One more fixes the corners."
        await sitting.press("ctrl+s")
        assert sitting.is_at(Aside.SURVEY)
        await surveyor.answer()
        assert "nothing checks them yet" in surveyor.says("#told")
        assert surveyor.asks == "Next: the diagonal from front-right to back-left"
        await surveyor.answer(2)
        assert "2 distances check them" in surveyor.says("#told")
        assert surveyor.asks == "These distances are enough. To add one, choose it below."
        assert "The front-right corner is 0.40°" in surveyor.says("#found")
        assert "Choose the layout" in surveyor.says("#found")
        await sitting.press("ctrl+s")
        assert sitting.is_at(Step.ROOM)
        assert sitting.choice("corners").value == "skew"
        assert "5426 mm" in sitting.text
        assert "Out of square by up to 0.50°." in sitting.text
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.CABINETS)
        await sitting.fill(left_width="262", left_depth="391")
        room, taken = sitting.app.session.draft.room, sitting.app.session.draft.survey
    assert room is not None
    assert np.array(room.corners) == pytest.approx(np.array(SKEW.corners), abs=0.5)
    assert len(taken) == 7
    saved = saved_in(store_file)
    assert saved is not None
    assert (saved.setup.room, saved.setup.survey) == (room, taken)
    assert saved.setup.seat.from_left_mm == pytest.approx(room.width_mm / 2)


async def test_a_simulated_room_is_found_within_the_uncertainty_that_is_told(
    sit_down: SitDown, opening: Workspace
) -> None:
    """Every kind of distance is taken, with the errors of the meter."""
    async with sit_down(opening) as sitting:
        surveyor = await begun(sitting, seed=3)
        await surveyor.answer(7)
        for kind, parts, at in (
            ("width", {}, "1200"),
            ("length", {}, "900"),
            ("flush", {"wall": "left", "corner": "back-left"}, "1500"),
            ("shortest", {"wall": "back", "corner": "front-right", "along": "front"}, "700"),
        ):
            await sitting.choose("kind", kind)
            for name, value in parts.items():
                await sitting.choose(name, value)
            await sitting.fill(at=at)
            await surveyor.answer()
        found = surveyor.screen.course.found
        assert found is not None
        assert len(found.checks) == 11
        assert not found.suspects
        await sitting.press("ctrl+s")
        room = sitting.app.session.draft.room
    assert room is not None
    off = (np.array(room.corners) - np.array(SKEW.corners)).ravel()
    free = found.covariance.diagonal() > 0
    # five unknowns: chi-square stays below 20.5 in 99.9 % of surveys
    within = np.linalg.inv(found.covariance[np.ix_(free, free)])
    assert off[free] @ within @ off[free] < 20.5
    assert off[~free] == pytest.approx(0.0)
    assert np.abs(off).max() < 10.0


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")
async def test_the_meters_button_is_all_that_is_needed(
    sit_down: SitDown, opening: Workspace, line: SerialLine, store_file: Path
) -> None:
    meter = Meter(edge=Edge.FRONT, edge_offset_mm=-118.0)
    draft = msgspec.structs.replace(opening.draft, meter=meter)
    opening = msgspec.structs.replace(opening, draft=draft, meter_address=line.address)
    async with sit_down(opening, open_driver=serial_driver) as sitting:
        surveyor = await begun(sitting)
        shown = sitting.app.screen.query_one(MeterLine)
        await sitting.until(lambda: "is open" in shown.text)
        assert "the meter's front edge" in surveyor.says("#how-to")
        for count in range(7):
            # this one counts from its rear, 118 mm behind the edge that is held
            line.send(f"{(surveyor.reading_mm() + 118) / 1000:.4f} m\r\n".encode())
            await sitting.until(lambda count=count: len(surveyor.screen.course.measures) > count)  # type: ignore[misc]
        assert "2 distances check them" in surveyor.says("#told")
        line.send(b"4.2 m\r\n")
        await sitting.until(lambda: "not used" in surveyor.says("#told"))
        # what is typed beside the meter is a tape's, which counts from its own end
        await sitting.choose("kind", "side")
        await surveyor.answer()
        assert surveyor.screen.measures[-1].reading_mm == pytest.approx(5363.0)
        await sitting.press("ctrl+s")
        room = sitting.app.session.draft.room
    assert room is not None
    assert np.array(room.corners) == pytest.approx(np.array(SKEW.corners), abs=0.5)
    with Store.open(store_file) as store:
        readings = [entry for entry in store.entries(None) if isinstance(entry, Reading)]
    assert len(readings) == 9
    assert readings[-1].meter == BY_TAPE
    assert readings[0].distance_mm == pytest.approx(5363 + 118)


async def test_a_survey_under_way_outlives_a_kill(
    sit_down: SitDown, store_file: Path, tmp_path: Path
) -> None:
    killed = tmp_path / "as it was killed.sqlite3"
    async with sit_down(Workspace(name="Attic", meter_address="typed:")) as sitting:
        surveyor = await begun(sitting)
        await surveyor.answer(3)
        with Store.open(store_file) as store:  # what is on disk at this moment
            store._connection.execute("VACUUM INTO ?", (str(killed),))
        measures = surveyor.screen.measures
    with Store.open(killed) as store:
        begun_there = Workspace.saved_in(store)
    assert len(measures) == 3
    assert (begun_there.name, begun_there.draft.survey) == ("Attic", measures)


async def test_it_is_opened_again_another_day_and_gone_on_with(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        surveyor = await begun(sitting)
        await surveyor.answer(5)
        await sitting.press("ctrl+s")
    async with sit_down() as sitting:
        surveyor = await begun(sitting)
        assert len(surveyor.screen.measures) == 5
        assert "front wall" in surveyor.list
        assert surveyor.asks == "Next: the diagonal from front-right to back-left"
        assert not sitting.app.screen.check_action("take_back", ())
        await surveyor.answer(2)
        await sitting.press("ctrl+s")
        assert len(sitting.app.session.draft.survey) == 7


async def test_what_was_taken_is_kept_when_it_is_left_in_the_middle(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        surveyor = await begun(sitting)
        await surveyor.answer(3)
        await sitting.press("escape")
        assert sitting.is_at(Step.ROOM)
        assert sitting.app.session.draft.room == opening.draft.room
        assert "Surveyed distances: 3." in sitting.text
        surveyor = await begun(sitting)
        assert len(surveyor.screen.measures) == 3
        assert surveyor.asks == "Next: the back wall"


async def test_a_wrong_distance_is_named_with_its_cause_and_taken_again(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(gone_on_with(opening, 7)) as sitting:
        surveyor = await begun(sitting)
        await sitting.choose("kind", "width")
        await sitting.fill(at="1500")
        await surveyor.answer(off_mm=-25.0)
        assert surveyor.says("#told") == "✗ Number 8 does not fit the others."
        assert surveyor.asks == "Again, for number 8: the width 1500 mm from the front wall"
        assert "✗ 8" in surveyor.list
        assert "sticks out from a wall" in " ".join(surveyor.list.split())
        await surveyor.answer()
        assert "3 distances check them" in surveyor.says("#told")
        assert len(surveyor.screen.measures) == 8
        assert "✗" not in surveyor.list


async def test_distances_that_contradict_each_other_are_asked_for_one_after_another(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(gone_on_with(opening, 5)) as sitting:
        surveyor = await begun(sitting)
        await surveyor.answer(off_mm=25.0)
        assert "Numbers 1, 2, 3, 4, 5 and 6 do not fit together" in surveyor.says("#told")
        # another kind of distance tells most; where that does not settle it, they come in turn
        assert surveyor.asks == "Next: the width 3600 mm from the front wall"
        asked = []
        while surveyor.screen.course.is_wrong and len(asked) < 12:
            asked.append(surveyor.asks)
            await surveyor.answer()
        assert "check them" in surveyor.says("#told")
        assert any("diagonal from front-right" in words for words in asked)


async def test_any_distance_is_taken_out_taken_again_and_the_change_taken_back(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(gone_on_with(opening, 5)) as sitting:
        surveyor = await begun(sitting)
        before = surveyor.screen.measures
        await sitting.press("tab", "down", "delete")
        assert [measure.reading_mm for measure in surveyor.screen.measures] == [
            measure.reading_mm for measure in (before[0], *before[2:])
        ]
        assert surveyor.asks == "Next: the left wall"
        await sitting.press("ctrl+u")
        assert surveyor.screen.measures == before
        await sitting.press("enter")
        assert surveyor.asks == "Again, for number 2: the left wall"
        assert sitting.cursor_in == "reading"
        await surveyor.answer(off_mm=1.0)
        assert surveyor.screen.measures[1].reading_mm == pytest.approx(7229.0)
        assert surveyor.screen.measures[2:] == before[2:]
        await sitting.press("ctrl+u")
        assert surveyor.screen.measures == sitting.app.session.draft.survey == before
        assert not sitting.app.screen.check_action("take_back", ())


async def test_what_cannot_be_taken_so_is_told_and_stays_in_the_journal_alone(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        surveyor = await begun(sitting)
        await surveyor.type("far")
        assert "is not a length" in str(sitting.field("reading").problem)
        await sitting.choose("kind", "width")
        await surveyor.type("5 m")
        assert "first enter how far it is from the corner" in surveyor.says("#told")
        await sitting.choose("kind", "shortest")
        await sitting.choose("wall", "left")
        await sitting.fill(at="0")
        await surveyor.type("5 m")
        assert "a mark on the left wall has no distance from it" in surveyor.says("#told")
        assert surveyor.screen.measures == ()
    with Store.open(store_file) as store:
        assert len(list(store.entries(None))) == 2


async def test_a_meter_that_types_like_a_keyboard_is_read_in_its_unit(
    sit_down: SitDown, opening: Workspace
) -> None:
    opening = msgspec.structs.replace(opening, meter_address="typed:?unit=m")
    async with sit_down(opening) as sitting:
        surveyor = await begun(sitting)
        await sitting.type_fast("5.3634\n")
        await sitting.settle()
        assert [measure.reading_mm for measure in surveyor.screen.measures] == [5363.4]
        assert sitting.cursor_in == "reading"


async def test_a_room_that_cannot_be_is_told_and_put_right(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(gone_on_with(opening, 4)) as sitting:
        surveyor = await begun(sitting)
        await surveyor.type("90.38 m")
        assert "is longer than" in surveyor.says("#told")
        assert "In the list, point" in surveyor.asks
        assert not sitting.app.screen.check_action("use", ())
        await sitting.press("tab", *["down"] * 4, "enter")
        await surveyor.answer()
        assert "The corners are found" in surveyor.says("#told")


async def test_a_side_without_a_wall_is_surveyed_as_a_line(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        surveyor = await begun(sitting)
        await sitting.choose("open", (Wall.RIGHT,))
        await surveyor.answer(2)
        assert surveyor.asks == "Next: the right datum line"
        await surveyor.answer(5)
        await sitting.choose("kind", "flush")
        await sitting.choose("wall", "left")
        await sitting.fill(at="1000")
        await surveyor.answer()
        assert "nor hit it" in surveyor.says("#told")
        await sitting.press("ctrl+s")
        room = sitting.app.session.draft.room
        assert room is not None
        assert room.datum == (Wall.RIGHT,)
        state = str(sitting.app.screen.query_one("#state", Static).content)
        assert "The right side has a line instead of a wall." in state
        surveyor = await begun(sitting)
        assert sitting.choice("open").value == (Wall.RIGHT,)


async def test_what_is_known_beside_the_corners_stays(
    sit_down: SitDown, opening: Workspace
) -> None:
    offsets = (WallOffset(Wall.LEFT, 15, 0, 80), WallOffset(Wall.RIGHT, 90, 0, 700))
    zone = KeepClear.rectangle("hearth", (1000, 2000), (0, 500))
    known = msgspec.structs.replace(
        Room.rectangular(5400, 7250, 2600), offsets=offsets, keep_clear=(zone,)
    )
    draft = msgspec.structs.replace(opening.draft, room=known)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        surveyor = await begun(sitting)
        await sitting.choose("open", (Wall.RIGHT,))
        await surveyor.answer(5)
        await sitting.press("ctrl+s")
        room = sitting.app.session.draft.room
        assert room is not None
        assert (room.height_mm, room.keep_clear) == (2600, (zone,))
        assert room.offsets == offsets[:1]
        assert sitting.app.session.draft.seat == Seat(4400, 2680, 1020)


async def test_whether_it_matters_for_the_pair_is_told_first(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(gone_on_with(opening, 6)) as sitting:
        surveyor = await begun(sitting)
        first = surveyor.says("#found").splitlines()[0]
        assert first.startswith("At a setback of 1900 mm a pair symmetrical")
        assert "that matters to a tolerance of 3 mm" in first


async def test_corners_that_are_typed_drop_the_distances_and_nothing_else_does(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(gone_on_with(opening, 5)) as sitting:
        await begun(sitting)
        await sitting.press("ctrl+s")
        surveyed = sitting.app.session.draft
        await sitting.fill(height="2.6 m", name="Loft", temperature="18")
        assert sitting.app.session.draft.survey == surveyed.survey
        assert surveyed.room is not None
        assert sitting.app.session.draft.room == msgspec.structs.replace(
            surveyed.room, height_mm=2600
        )
        await sitting.fill(right="6720 mm")
        assert sitting.app.session.draft.survey == ()
        assert "distances no longer belong" in sitting.told
        await sitting.fill(right="7237 mm")  # as it was shown: a slip of the finger, taken back
        assert sitting.app.session.draft.survey == surveyed.survey
        assert sitting.told == ""
        await sitting.choose("corners", "square")
        assert sitting.app.session.draft.survey == ()


async def test_it_is_told_in_feet_and_inches_where_these_are_chosen(
    sit_down: SitDown, opening: Workspace
) -> None:
    draft = msgspec.structs.replace(opening.draft, units=Units.INCH_16)
    opening = gone_on_with(msgspec.structs.replace(opening, draft=draft), 6)
    async with sit_down(opening) as sitting:
        surveyor = await begun(sitting)
        assert "17' 7 1/8\"" in surveyor.list
        assert surveyor.asks == "Next: the width 12' 0\" from the front wall"
        assert "Mark 12' 0\" along the left wall" in surveyor.says("#how-to")
