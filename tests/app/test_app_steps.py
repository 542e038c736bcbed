"""A newcomer is led from an empty room to the live screen; whoever was here before starts there."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import pytest
from sitting import Sitting, saved_in

from witnessmark.app.steps import Step
from witnessmark.lengths import Units
from witnessmark.model import Cabinet, Held, Meter, Pair, Placement, Room, Seat, Setup
from witnessmark.session.draft import Draft
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


async def test_a_newcomer_is_led_by_the_keyboard_alone(sit_down: SitDown, store_file: Path) -> None:
    async with sit_down() as sitting:
        assert sitting.is_at(Step.ROOM)
        assert sitting.cursor_in == "width"
        await sitting.type("5.36 m")
        await sitting.press("enter")
        await sitting.type("7.24 m")
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.CABINETS)
        assert sitting.cursor_in == "left-width"
        await sitting.type("262")
        await sitting.press("enter")
        await sitting.type("391")
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.LAYOUT)
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.METER)
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.LIVE)
    saved = saved_in(store_file)
    assert saved is not None
    assert saved.setup.room == Room.rectangular(5360, 7240)
    assert saved.setup.cabinets.left == saved.setup.cabinets.right == Cabinet(262, 391)
    assert saved.setup.seat.from_front_mm == pytest.approx(7240 * 2 / 3)
    assert saved.setup.seat.from_left_mm == 2680
    # nothing was chosen, so they are compared as they stand
    assert saved.setup.targets == Pair(None, None)


async def test_every_step_says_what_to_do_and_how_to_go_on(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        for key, heading in (
            ("r", "Next: Cabinets"),
            ("c", "Next: Layout"),
            ("l", "Next: Meter"),
            ("m", "Next: Live"),
        ):
            await sitting.press("escape", key)
            assert f"{heading}  (Ctrl+N)" in sitting.text
            assert "Ctrl+N Next" in sitting.text


async def test_a_saved_setup_opens_on_the_live_screen(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        await sitting.fill(name="Cellar")
    saved = saved_in(store_file)
    assert saved is not None
    assert saved.name == "Cellar"
    async with sit_down() as sitting:
        assert sitting.is_at(Step.LIVE)
        assert sitting.app.session.workspace.draft == opening.draft
        assert sitting.app.session.workspace.name == "Cellar"


async def test_looking_around_saves_nothing_anew(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening):
        pass
    first = saved_in(store_file)
    assert first is not None
    async with sit_down() as sitting:
        await sitting.press("r", "escape", "c", "escape", "l", "escape", "m", "escape", "g")
        assert sitting.is_at(Step.LIVE)
    assert saved_in(store_file) == first


async def test_what_is_not_known_yet_is_asked_for_first(sit_down: SitDown) -> None:
    async with sit_down() as sitting:
        await sitting.press("escape", "l")
        assert sitting.is_at(Step.ROOM)
        (notice,) = sitting.app._notifications
        assert notice.message == "Layout comes after Room: fill that in first."


async def test_leaving_with_something_wrong_keeps_what_was_known_and_says_so(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c")
        await sitting.fill(left_width="wide", left_depth="400")
        await sitting.press("escape", "r")
        assert sitting.is_at(Step.ROOM)
        assert sitting.app.session.draft.cabinets == opening.draft.cabinets
        (notice,) = sitting.app._notifications
        assert notice.message == ("Cabinets: entries missing or wrong there were not saved.")


async def test_next_points_out_what_is_missing(sit_down: SitDown) -> None:
    async with sit_down() as sitting:
        await sitting.type("5.36 m")
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.ROOM)
        assert sitting.cursor_in == "length"
        assert sitting.field("length").problem == "needed"
        assert sitting.field("width").problem is None
        assert sitting.field("height").problem is None


async def test_the_seat_must_be_in_the_room(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        await sitting.fill(from_front="7.5 m")
        assert sitting.told == "✗ seat to front wall: it must be less than the room's 7240 mm"
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.ROOM)
        await sitting.fill(from_front="4 m")
        assert sitting.told == ""
        assert sitting.app.session.draft.seat == Seat(4000, 2680, 1020)


async def test_a_room_out_of_square_is_told_by_its_walls_and_a_diagonal(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        await sitting.choose("corners", "skew")
        assert not sitting.field("width").is_shown
        assert sitting.field("diagonal").value is None
        await sitting.fill(front="5360", right="7240", back="5371", left="7232", diagonal="1 m")
        assert "do not close" in sitting.told
        await sitting.fill(diagonal="9.01 m")
        room = sitting.app.session.draft.room
        assert room is not None
        assert room.front_right == (5360, 0)
        assert room.back_right[1] == pytest.approx(7240, abs=5)


async def test_other_units_change_no_length(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        await sitting.choose("units", Units.INCH_16)
        assert "17' 7\"" in sitting.text
        assert sitting.app.session.draft.units is Units.INCH_16
        assert sitting.app.session.draft.room == Room.rectangular(5360, 7240)
        await sitting.press("ctrl+n", "ctrl+n", "ctrl+n")
        assert sitting.is_at(Step.METER)
        assert sitting.app.session.draft.targets == opening.draft.targets
        assert sitting.app.session.draft.meter == Meter()


async def test_cabinets_may_differ(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c")
        assert not sitting.field("right-width").is_shown
        await sitting.choose("alike", "own")
        assert sitting.field("right-width").is_shown
        await sitting.fill(right_width="270", right_depth="400", right_acoustic_height="950")
        pair = sitting.app.session.draft.cabinets
        assert pair is not None
        assert (pair.left, pair.right) == (Cabinet(262, 391, 940), Cabinet(270, 400, 950))


async def test_meter_and_tolerance_are_taken(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("m")
        await sitting.fill(
            address="serial:/dev/ttyUSB0",
            repeatability="0.4 mm",
            resolution="0.1 mm",
            zero="1 mm",
            scale="50",
            position="2 mm",
            toe_in="0.3",
        )
        await sitting.choose("held", (Held.WALL, False))
        draft = sitting.app.session.draft
        assert draft.meter == Meter(0.4, 0.1, 1.0, 50)
        assert (draft.tolerance.position_mm, draft.tolerance.toe_in_deg) == (2, 0.3)
        assert draft.held is Held.WALL
        assert sitting.app.session.workspace.meter_address == "serial:/dev/ttyUSB0"


async def test_a_meter_without_any_error_is_refused(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("m")
        await sitting.fill(repeatability="0", resolution="0")
        assert "cannot both be 0" in sitting.told
        assert sitting.app.session.draft.meter.resolution_mm == 1


async def test_the_laser_caution_stands_beside_the_meter(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("m")
        words = " ".join(sitting.text.split())
        assert "Never look into the" in words
        assert "Mirrors" in words


async def test_targets_stay_as_they_were_when_only_looked_at(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("l", "ctrl+n")
        left = sitting.app.session.draft.targets.left
        assert left == Placement(1450, 1900, 8)


def test_a_draft_holds_everything_that_a_setup_does() -> None:
    assert set(Draft.__struct_fields__) == set(Setup.__struct_fields__)
