"""A cabinet in detail, by keyboard: points found with a tape, feet, straightedge, which shots."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting, saved_in
from tape_measure import tape_mm
from textual.widgets import Input, Static

from witnessmark.app.screens.details import DetailsScreen
from witnessmark.app.screens.point import PointScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.entry_list import EntryList
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.shot_advice import ShotAdvice
from witnessmark.app.widgets.tape_form import TapeForm
from witnessmark.geometry.touch import FoundPoint
from witnessmark.lengths import Units
from witnessmark.model import BOX_POINTS, Cabinet, Pair, Side, Tolerance, TouchPoint
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
TAPERED = {"rear-inner": TouchPoint(90.0, 391.0), "rear-outer": TouchPoint(-90.0, 391.0)}


def with_cabinets(opening: Workspace, left: Cabinet, right: Cabinet | None = None) -> Workspace:
    draft = msgspec.structs.replace(opening.draft, cabinets=Pair(left, right or left))
    return msgspec.structs.replace(opening, draft=draft)


def cabinets(sitting: Sitting) -> Pair[Cabinet]:
    pair = sitting.app.session.draft.cabinets
    assert pair is not None
    return pair


def says(sitting: Sitting, selector: str) -> str:
    return str(sitting.app.screen.query_one(selector, Static).content)


def rows(sitting: Sitting, selector: str = "#entries") -> list[str]:
    return [row.plain for row in sitting.app.screen.query_one(selector, EntryList).rows]


def advice(sitting: Sitting) -> str:
    return str(sitting.app.screen.query_one(ShotAdvice).content)


def found(sitting: Sitting) -> FoundPoint:
    finding = sitting.app.screen.query_one(TapeForm).finding
    assert finding.found is not None
    return finding.found


async def tape(sitting: Sitting, at: TouchPoint, errors_mm: tuple[float, ...]) -> None:
    """Take the readings that are asked for, each so much too long, to the half millimetre."""
    for error_mm in errors_mm:
        form = sitting.app.screen.query_one(TapeForm)
        reading = round(2 * (tape_mm(form.cabinet, at, form.start) + error_mm)) / 2
        await sitting.type(f"{reading:g} mm")
        await sitting.press("enter")


async def begin_taping(sitting: Sitting) -> None:
    """Open the page for one more touch point, the cursor where readings are typed."""
    await sitting.press("c", "ctrl+x", "ctrl+a")
    sitting.field("reading").query_one(Input).focus()


async def read(sitting: Sitting, *lengths: str) -> None:
    """Enter readings of the tape."""
    for length in lengths:
        await sitting.fill(reading=length)
        await sitting.press("enter")


# --- by tape


async def test_a_tapered_cabinet_is_entered_by_tape_readings_and_the_keyboard_alone(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c", "ctrl+x")
        assert sitting.is_at(Aside.CABINET)
        assert "None yet" in sitting.text
        for name, errors_mm in (
            ("rear-inner", (0.8, -0.6, 0.7, -0.5)),
            ("rear-outer", (-0.7, 0.9, 0.4)),
        ):
            await sitting.press("ctrl+a")
            assert sitting.choice("which").value == name
            await sitting.press("enter", "enter", "enter")
            assert sitting.cursor_in == "reading"
            await tape(sitting, TAPERED[name], errors_mm)
            point = found(sitting)
            assert abs(point.point.inward_mm - TAPERED[name].inward_mm) <= point.inward_expanded_mm
            assert abs(point.point.back_mm - TAPERED[name].back_mm) <= point.back_expanded_mm
            assert point.inward_expanded_mm < 4.5
            await sitting.press("ctrl+s")
        assert [row.split(":")[0] for row in rows(sitting)] == ["rear-inner", "rear-outer"]
        assert cabinets(sitting).left == cabinets(sitting).right
        assert "do not fix its side: hold the meter on the wall as well" in advice(sitting)
        await sitting.press("escape")
        assert sitting.is_at(Step.CABINETS)
        assert sitting.app.screen.query_one("#left-drawing").display
        await sitting.press("escape", "g")
    saved = saved_in(store_file)
    assert saved is not None
    for name, true in TAPERED.items():
        kept = saved.setup.cabinets.left.points[name]
        assert math.hypot(kept.inward_mm - true.inward_mm, kept.back_mm - true.back_mm) < 4
    async with sit_down() as sitting:
        await sitting.press("c", "ctrl+x")
        assert [row.split(":")[0] for row in rows(sitting)] == ["rear-inner", "rear-outer"]


async def test_what_is_measured_is_told_and_drawn_reading_by_reading(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await begin_taping(sitting)
        assert "straight from front-inner to rear-inner" in says(sitting, "#how")
        drawn = sitting.app.screen.query_one(PlanView)
        assert "front-inner" in drawn.text
        assert "rear-inner" in drawn.text
        await read(sitting, "393.1")
        assert sitting.choice("start").value == "front-outer"
        await read(sitting, "449.3")
        assert "fit two places" in says(sitting, "#found")
        assert sitting.choice("start").value == "baffle"
        assert "flat on the baffle" in says(sitting, "#how")
        assert "baffle" in drawn.text
        assert rows(sitting, "#readings") == ["front-inner  393.1 mm", "front-outer  449.3 mm"]
        await sitting.press("ctrl+s")
        assert isinstance(sitting.app.screen, PointScreen)
        assert "Not fixed yet" in says(sitting, "#told")
        await read(sitting, "391")
        assert "known to ±4 mm and ±1 mm" in says(sitting, "#found")
        assert "One more, from the inner side" in says(sitting, "#found")
        # what was not kept is there to go on with
        await sitting.press("escape")
        assert sitting.is_at(Aside.CABINET)
        assert "so you can go on" in says(sitting, "#told")
        assert cabinets(sitting).left.points == {}
        await sitting.press("ctrl+a")
        assert sitting.cursor_in == "reading"
        assert len(rows(sitting, "#readings")) == 3


async def test_readings_are_taken_back_taken_out_and_typed_anew(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await begin_taping(sitting)
        await read(sitting, "393.1", "419.3", "391")
        assert "contradict" in says(sitting, "#found")
        # the middle one was misread
        await sitting.press("tab", "down", "enter")
        assert sitting.cursor_in == "reading"
        assert sitting.choice("start").value == "front-outer"
        await read(sitting, "449.3")
        assert found(sitting).suspect is None
        assert found(sitting).point.inward_mm == pytest.approx(90, abs=1)
        await sitting.press("ctrl+u")
        assert rows(sitting, "#readings") == ["front-inner  393.1 mm", "baffle  391.0 mm"]
        await sitting.press("tab", "delete", "delete")
        assert rows(sitting, "#readings") == []
        assert "Two readings fix the point" in says(sitting, "#found")


async def test_a_minus_is_for_faces_only_and_what_is_no_length_is_said(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await begin_taping(sitting)
        await sitting.choose("which", "plinth-rear-inner")
        assert sitting.choice("start").value == "rear face"
        await read(sitting, "-29", "-19")
        assert found(sitting).point.back_mm == pytest.approx(420)
        assert found(sitting).point.inward_mm == pytest.approx(150)
        await sitting.choose("start", "front-inner")
        await sitting.fill(reading="-5")
        assert "it is negative" in sitting.field("reading").problem
        await sitting.fill(reading="near")
        assert "is not a length" in sitting.field("reading").problem


# --- by figures, and the rest


async def test_feet_are_entered_by_figures_and_mirrored_and_each_slip_gets_its_sentence(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c", "ctrl+x", "ctrl+b", "enter", "right", "enter")
        assert sitting.cursor_in == "inward"
        await sitting.press("ctrl+s")
        assert sitting.field("inward").problem == "needed"
        await sitting.fill(inward="110", back="700")
        await sitting.press("ctrl+s")
        assert "309 mm outside the cabinet" in says(sitting, "#told")
        await sitting.fill(back="30")
        await sitting.press("ctrl+s")
        assert sitting.is_at(Aside.CABINET)
        assert "three or four feet" in says(sitting, "#told")
        await sitting.press("ctrl+b")
        assert sitting.choice("which").value == "front-outer"
        await sitting.choose("way", "mirror")
        await sitting.press("ctrl+s")
        await sitting.press("ctrl+b")
        await sitting.choose("which", "front-inner")
        await sitting.choose("way", "figures")
        await sitting.fill(inward="0", back="350")
        await sitting.press("ctrl+s")
        assert "there already is a foot front-inner" in says(sitting, "#told")
        await sitting.choose("which", "rear")
        await sitting.press("ctrl+s")
        assert says(sitting, "#told") == ""
        assert cabinets(sitting).right.feet == {
            "front-inner": TouchPoint(110, 30),
            "front-outer": TouchPoint(-110, 30),
            "rear": TouchPoint(0, 350),
        }
        assert "rear" in sitting.app.screen.query_one(PlanView).text


async def test_entries_are_changed_taken_out_and_brought_back(
    sit_down: SitDown, opening: Workspace
) -> None:
    own = Cabinet(262, 391, 940, points={"knob": TouchPoint(-15.4, 420)}, feet=dict(TAPERED))
    async with sit_down(with_cabinets(opening, own)) as sitting:
        await sitting.press("c", "ctrl+x")
        listed = sitting.app.screen.query_one("#entries", EntryList)
        listed.focus()
        await sitting.press("enter")
        assert sitting.choice("which").value == "own"
        assert sitting.field("name").value == "knob"
        assert sitting.field("inward").value == -15.4
        await sitting.fill(name="Plinth rear", height="120")
        await sitting.press("ctrl+s")
        assert cabinets(sitting).left.points == {"plinth-rear": TouchPoint(-15.4, 420, 120)}
        assert rows(sitting)[0] == "plinth-rear: 15 mm out, 420 mm back, meter at 120 mm"
        await sitting.press("delete")
        assert cabinets(sitting).left.points == {}
        assert len(rows(sitting)) == 2
        await sitting.press("ctrl+u")
        assert cabinets(sitting).left.points == {"plinth-rear": TouchPoint(-15.4, 420, 120)}
        await sitting.press("ctrl+u")
        assert cabinets(sitting).left == cabinets(sitting).right == own
        assert not sitting.app.screen.check_action("undo", ())


async def test_a_point_of_ones_own_needs_a_name_that_is_one(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c", "ctrl+x", "ctrl+a")
        await sitting.choose("which", "own")
        await sitting.choose("way", "figures")
        await sitting.fill(inward="-20", back="-12")
        await sitting.press("ctrl+s")
        assert sitting.cursor_in == "name"
        await sitting.fill(name="knöb")
        assert "letters a to z" in sitting.field("name").problem
        await sitting.press("ctrl+s")
        assert isinstance(sitting.app.screen, PointScreen)
        await sitting.fill(name="knob")
        await sitting.press("ctrl+s")
        assert cabinets(sitting).left.points == {"knob": TouchPoint(-20, -12)}


async def test_all_four_corners_get_the_height_at_which_the_meter_is_held(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c", "ctrl+x", "ctrl+a")
        await sitting.choose("which", "corners")
        assert not sitting.app.screen.query_one("#way").display
        await sitting.fill(height="150 mm")
        await sitting.press("ctrl+s")
        points = cabinets(sitting).left.points
        assert {name: at.height_mm for name, at in points.items()} == dict.fromkeys(BOX_POINTS, 150)
        await sitting.press("escape")
        # they go with the box, because they are its corners
        await sitting.fill(left_width="300")
        assert sitting.told == ""
        assert cabinets(sitting).left.points["front-outer"] == TouchPoint(-150, 0, 150)


async def test_straightedge_and_thread_are_taken_and_what_cannot_be_is_said(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c", "ctrl+x")
        await sitting.fill(straightedge="300")
        assert "must lie between 322 mm" in says(sitting, "#told")
        assert cabinets(sitting).left.straightedge_mm is None
        await sitting.fill(straightedge="800")
        assert says(sitting, "#told") == ""
        assert "straightedge-inner" in sitting.app.screen.query_one(PlanView).text
        await sitting.fill(thread="M9")
        assert "not a thread known here" in sitting.field("thread").problem
        await sitting.fill(thread="M8")
        assert cabinets(sitting).right == msgspec.structs.replace(
            Cabinet(262, 391, 940), straightedge_mm=800, thread="M8"
        )
        await sitting.fill(thread="")
        assert cabinets(sitting).right.thread is None
        await sitting.fill(straightedge="100")
        await sitting.press("escape")
        (notice,) = sitting.app._notifications
        assert notice.message == "Entries with errors in the details were not saved."
        assert cabinets(sitting).right.straightedge_mm == 800


async def test_left_and_right_have_details_of_their_own_where_they_differ(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c", "ctrl+x")
        await sitting.choose("whose", "right")
        await sitting.press("ctrl+a")
        assert "right cabinet" in says(sitting, "#title")
        await sitting.choose("way", "figures")
        await sitting.fill(inward="90", back="391")
        await sitting.press("ctrl+s")
        assert cabinets(sitting).left.points == {}
        assert cabinets(sitting).right.points == {"rear-inner": TouchPoint(90, 391)}
        assert [value for value, _ in sitting.choice("whose").options] == ["left", "right"]
        assert sitting.choice("whose").value == "right"
        # the inner side of the right one is on the left
        line = next(line for line in sitting.text.splitlines() if "front-inner" in line)
        assert line.index("front-inner") < line.index("front-outer")
        await sitting.choose("whose", "left")
        assert rows(sitting) == []
        await sitting.press("escape")
        assert sitting.choice("alike").value == "own"
        for side in Side:
            assert sitting.app.screen.query_one(f"#{side}-drawing").display
        # alike is as the left one; who thinks better of it has the right one's back
        await sitting.choose("alike", "alike")
        assert cabinets(sitting).right.points == {}
        await sitting.choose("alike", "own")
        assert cabinets(sitting).right.points == {"rear-inner": TouchPoint(90, 391)}


# --- the cabinets screen


async def test_the_cabinets_screen_leads_there_once_the_sizes_are_known(sit_down: SitDown) -> None:
    async with sit_down() as sitting:
        await sitting.fill(width="5.36 m", length="7.24 m")
        await sitting.press("ctrl+n", "ctrl+x")
        assert sitting.is_at(Step.CABINETS)
        assert "Tapered, on a plinth or spikes? Ctrl+X." in sitting.text
        await sitting.fill(left_width="262", left_depth="391")
        await sitting.press("ctrl+x")
        assert isinstance(sitting.app.screen, DetailsScreen)
        assert "shots fix each cabinet" in advice(sitting)


async def test_sizes_change_without_losing_the_rest_and_contradictions_are_said(
    sit_down: SitDown, opening: Workspace
) -> None:
    own = Cabinet(262, 391, 940, points=dict(TAPERED), thread="M8", straightedge_mm=600)
    async with sit_down(with_cabinets(opening, own)) as sitting:
        await sitting.press("c")
        assert sitting.app.screen.query_one("#left-drawing").display
        assert not sitting.app.screen.query_one("#plain").display
        await sitting.fill(left_depth="371")
        assert sitting.told.splitlines()[0].startswith(
            "! rear-inner is 20 mm outside a box of 262 mm by 371 mm"
        )
        changed = msgspec.structs.replace(own, depth_mm=371)
        assert cabinets(sitting).left == cabinets(sitting).right == changed
        await sitting.fill(left_depth="391", left_width="580")
        assert "straightedge: 600 mm must lie between 640 mm" in sitting.told
        await sitting.fill(left_width="262")
        assert sitting.told == ""
        assert cabinets(sitting).left == own


# --- which shots


async def test_the_details_page_tells_which_shots_are_needed_as_things_are_now(
    sit_down: SitDown, opening: Workspace
) -> None:
    draft = msgspec.structs.replace(opening.draft, tolerance=Tolerance(3, 0.1))
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("c", "ctrl+x")
        assert "use a straightedge of 800 mm or use a spot shot" in advice(sitting)
        await sitting.fill(straightedge="800")
        assert "shots fix each cabinet" in advice(sitting)
        assert "spot" not in advice(sitting)


async def test_the_meter_screen_takes_spot_shots_and_tells_what_they_bring(
    sit_down: SitDown, opening: Workspace
) -> None:
    draft = msgspec.structs.replace(opening.draft, tolerance=Tolerance(3, 0.1))
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("m")
        assert sitting.choice("spot-shots").value is False
        assert "use a spot shot" in advice(sitting)
        await sitting.choose("spot-shots", True)
        assert sitting.app.session.draft.spot_shots
        assert "one of them is a spot shot" in advice(sitting)
        await sitting.fill(toe_in="0.5")
        assert "spot" not in advice(sitting)
        assert "fix each cabinet" in advice(sitting)
        await sitting.choose("spot-shots", False)
        assert not sitting.app.session.draft.spot_shots


async def test_lengths_are_in_the_persons_units(sit_down: SitDown, opening: Workspace) -> None:
    own = Cabinet(262, 391, points={"knob": TouchPoint(25.4, 304.8)})
    opening = with_cabinets(opening, own)
    draft = msgspec.structs.replace(opening.draft, units=Units.INCH_16)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("c", "ctrl+x")
        assert rows(sitting) == ['knob: 1" in, 1\' 0" back']
        await sitting.press("ctrl+a")
        sitting.field("reading").query_one(Input).focus()
        await read(sitting, "15 1/2 in")
        assert rows(sitting, "#readings") == ["front-inner  1' 3 1/2\""]
