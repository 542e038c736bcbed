"""The layout screen: beginnings fill the fields in, the fields are the targets."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager

import msgspec
import pytest
from msgspec.structs import astuple
from sitting import Sitting
from textual.widgets import Static

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.steps import Step
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.layout.plan import lay_out
from witnessmark.layout.start import Free, InLane, Triangle
from witnessmark.locate.aim import Aim
from witnessmark.model import Mirror, Pair, Placement, Seat, Setup, Side
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


@pytest.fixture
def untargeted(setup: Setup) -> Workspace:
    bare = msgspec.structs.replace(setup, targets=Pair[Placement | None](None, None))
    return Workspace.on(bare, name="Attic", meter_address="typed:")


def targets(sitting: Sitting) -> Pair[Placement | None]:
    return sitting.app.session.draft.targets


async def test_without_targets_the_pair_stay_as_they_stand(
    sit_down: SitDown, untargeted: Workspace
) -> None:
    async with sit_down(untargeted) as sitting:
        await sitting.press("l")
        assert sitting.choice("begin").value == "as they stand"
        assert not sitting.field("left-side").is_shown
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.METER)
        assert targets(sitting) == Pair(None, None)


async def test_as_they_stand_gives_targets_up_and_own_ones_begin_at_the_triangle(
    sit_down: SitDown, opening: Workspace, setup: Setup
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", "as they stand")
        assert targets(sitting) == Pair(None, None)
        await sitting.choose("begin", "free")
        assert targets(sitting) == setup.targets
        assert sitting.field("left-side").is_shown


async def test_a_target_of_one_cabinet_alone_stays_where_layout_is_only_looked_at(
    sit_down: SitDown, setup: Setup
) -> None:
    one = Pair(Placement(1450, 1900, 8), None)
    alone = msgspec.structs.replace(setup, targets=one)
    workspace = Workspace.on(alone, name="Attic", meter_address="typed:")
    async with sit_down(workspace) as sitting:
        await sitting.press("l")
        await sitting.press("ctrl+n")
        assert targets(sitting) == one


async def test_without_targets_the_triangle_is_filled_in(
    sit_down: SitDown, untargeted: Workspace, setup: Setup
) -> None:
    expected = lay_out(setup.room, setup.cabinets, setup.seat, Triangle()).placements
    async with sit_down(untargeted) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", "triangle")
        assert sitting.choice("begin").value == "triangle"
        assert targets(sitting) == expected


async def test_a_station_stands_both_in_the_middle_of_their_lanes(
    sit_down: SitDown, untargeted: Workspace, setup: Setup
) -> None:
    stations = lay_out(setup.room, setup.cabinets, setup.seat).stations
    async with sit_down(untargeted) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", "triangle")
        await sitting.fill(left_toe_in="0")
        await sitting.choose("station", 6)
        assert sitting.choice("begin").value == "station"
        start = InLane(stations[5].setback_mm, 0.0)
        expected = lay_out(setup.room, setup.cabinets, setup.seat, start).placements
        for side in Side:
            reached, wanted = targets(sitting)[side], expected[side]
            assert reached is not None
            assert wanted is not None
            assert astuple(reached) == pytest.approx(astuple(wanted))
        assert sitting.field("left-side").value == pytest.approx((5360 / 4 + 5360 / 3) / 2)


async def test_choosing_to_begin_with_a_station_takes_the_nearest(
    sit_down: SitDown, opening: Workspace, setup: Setup
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", "station")
        left = targets(sitting).left
        assert left is not None
        assert left.setback_mm == 4400 - 8 * 300
        assert left.toe_in_deg == 8
        assert sitting.choice("station").value == 9


async def test_own_numbers_are_mirrored(
    sit_down: SitDown, opening: Workspace, setup: Setup
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", "triangle")
        await sitting.fill(left_side="1.4 m", left_setback="1.8 m", left_toe_in="5")
        assert sitting.choice("begin").value == "free"
        expected = lay_out(setup.room, setup.cabinets, setup.seat, Free(1400, 1800, 5)).placements
        assert targets(sitting) == expected
        assert targets(sitting).left == Placement(1400, 1800, 5)
        assert not sitting.field("right-side").is_shown


async def test_the_right_cabinet_may_have_numbers_of_its_own(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("l")
        await sitting.press("ctrl+x")
        await sitting.choose("right", "own")
        assert sitting.field("right-side").is_shown
        await sitting.fill(right_side="1.3 m", right_setback="2 m", right_toe_in="6")
        assert targets(sitting) == Pair(Placement(1450, 1900, 8), Placement(1300, 2000, 6))
        await sitting.press("escape", "c", "escape", "l")
        assert sitting.choice("right").value == "own"
        assert sitting.field("right-setback").value == 2000


@pytest.mark.parametrize(("aim", "sign"), [(Aim.STRAIGHT, 0), (Aim.SHOULDER, -1), (Aim.BEHIND, -1)])
async def test_an_aim_turns_both_and_moves_neither(
    sit_down: SitDown, untargeted: Workspace, aim: Aim, sign: int
) -> None:
    async with sit_down(untargeted) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", "triangle")
        before = targets(sitting).left
        assert before is not None
        await sitting.choose("aim", aim)
        left, right = targets(sitting).left, targets(sitting).right
        assert left is not None
        assert left == right
        assert (left.side_mm, left.setback_mm) == (before.side_mm, before.setback_mm)
        if sign == 0:
            assert left.toe_in_deg == 0
        else:
            assert 0 < left.toe_in_deg < before.toe_in_deg
        assert sitting.choice("aim").value == aim
        await sitting.fill(left_toe_in="3.21")
        assert sitting.choice("aim").value is None


async def test_conflicts_are_told_and_keep_nobody(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("l")
        assert sitting.told == ""
        await sitting.fill(left_setback="0.2 m")
        assert "through the front wall" in sitting.told
        assert "setback" in sitting.told
        assert "! Nearest free position: " in sitting.told
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.METER)


async def test_a_left_cabinet_on_the_wrong_side_of_the_seat_is_refused(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("l")
        await sitting.fill(left_side="3 m")
        assert sitting.told.startswith(
            "✗ side: 3000 mm must lie between 0 and the room's centre line"
        )
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.LAYOUT)
        assert targets(sitting).left == Placement(1450, 1900, 8)


async def test_the_plan_shows_lanes_seat_and_targets(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening, size=(140, 45)) as sitting:
        await sitting.press("l")
        assert "front wall" in sitting.text
        assert "seat" in sitting.text
        assert "Left lane: 1340 mm to 1787 mm from the left wall." in sitting.text


async def test_the_mirror_line_is_chosen_and_the_targets_follow(
    sit_down: SitDown, opening: Workspace
) -> None:
    beside = msgspec.structs.replace(
        opening.draft, seat=Seat(4400, 2500, 1020), targets=Pair[Placement | None](None, None)
    )
    async with sit_down(msgspec.structs.replace(opening, draft=beside)) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", "triangle")
        await sitting.choose("mirror", "seat")
        left, right = targets(sitting).left, targets(sitting).right
        assert left is not None
        assert right is not None
        # the seat is 180 mm to the left of the room's middle, and both cabinets with it
        assert right.side_mm - left.side_mm == pytest.approx(360)
        assert sitting.app.session.draft.mirror is Mirror.SEAT
        await sitting.choose("mirror", "room")
        left, right = targets(sitting).left, targets(sitting).right
        assert left is not None
        assert left == right
        assert sitting.app.session.draft.mirror is Mirror.ROOM


@pytest.mark.parametrize(
    ("beginning", "rows", "put_away"),
    [
        ("as they stand", 1, "Put away: the mirror line."),
        ("triangle", 1, "Put away: the numbers, where the pair is aimed, the mirror line,"),
        ("station", 2, "Put away: the numbers, where the pair is aimed, the mirror line,"),
        ("free", 4, "Put away: where the pair is aimed, the mirror line,"),
    ],
)
async def test_a_newcomer_sees_what_the_beginning_needs_and_one_key_shows_the_rest(
    sit_down: SitDown, untargeted: Workspace, beginning: str, rows: int, put_away: str
) -> None:
    async with sit_down(untargeted) as sitting:
        await sitting.press("l")
        await sitting.choose("begin", beginning)
        assert rows_shown(sitting) == rows
        assert fold_line(sitting).startswith(put_away)
        assert fold_line(sitting).endswith("Ctrl+X shows them.")
        await sitting.press("ctrl+x")
        assert rows_shown(sitting) == (2 if beginning == "as they stand" else 8)
        await sitting.press("ctrl+x")
        assert rows_shown(sitting) == rows


async def test_what_is_folded_away_and_not_as_usual_is_told(
    sit_down: SitDown, opening: Workspace
) -> None:
    draft = msgspec.structs.replace(opening.draft, mirror=Mirror.SEAT)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("l")
        assert "Changed" not in fold_line(sitting)
        await sitting.choose("mirror", Mirror.ROOM)
        await sitting.choose("right", "own")
        assert (
            "Changed: the pair is mirrored about the room and the right cabinet has its own."
            in fold_line(sitting)
        )


async def test_lanes_and_stations_are_explained_where_they_are_first_named(
    sit_down: SitDown, untargeted: Workspace
) -> None:
    async with sit_down(untargeted) as sitting:
        await sitting.press("l")
        words = "Lanes (dotted) are where cabinets may stand; stations are steps along them."
        assert words in sitting.text
        await sitting.press("escape", "e")
        shown = sitting.app.screen.query_one("#trials", PickList).render()
        assert "A station is a step of the pair along the walls." in " ".join(str(shown).split())


def rows_shown(sitting: Sitting) -> int:
    """How many fields and choices are on the screen."""
    rows = [*sitting.app.screen.query(Field), *sitting.app.screen.query(Choice)]
    return sum(all(node.display for node in row.ancestors_with_self) for row in rows)


def fold_line(sitting: Sitting) -> str:
    return str(sitting.app.screen.query_one("#more", Static).content)
