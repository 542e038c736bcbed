"""Telling what is in the room: lines in place of walls, what stands proud, floor to keep clear."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting, saved_in, serial_driver
from surveyor import taken_before
from textual.widgets import Input, Static

from witnessmark.app.screens.fittings import FittingsScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.entry_list import EntryList
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.model import (
    DatumLine,
    Edge,
    KeepClear,
    Meter,
    Pair,
    Placement,
    Reading,
    Room,
    Seat,
    Wall,
    WallOffset,
)
from witnessmark.session.room_contents import RoomContents
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.serial_line import SerialLine

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
ROOM = Room.rectangular(5360.0, 7240.0)
SEAT = Seat(4400.0, 2680.0, 1020.0)
SKIRTING = WallOffset(Wall.LEFT, 15.0, 0.0, 80.0)
HEARTH = KeepClear.rectangle("hearth", (1200.0, 2400.0), (0.0, 600.0))
LEFT_LINE = DatumLine(Wall.LEFT, {Wall.RIGHT: 4860.0}, {Wall.RIGHT: 4860.0})


# --- what becomes of room and seat


def test_a_line_on_the_left_moves_the_origin_and_neither_seat_nor_zone() -> None:
    room = msgspec.structs.replace(ROOM, keep_clear=(HEARTH,))
    contents = RoomContents(room, SEAT).with_entry(LEFT_LINE, Units.MM)
    assert contents.room.width_mm == pytest.approx(4860.0)
    assert contents.seat == Seat(pytest.approx(4400.0), pytest.approx(2180.0), 1020.0)  # type: ignore[arg-type]
    assert contents.room.keep_clear[0].corners[0] == pytest.approx((700.0, 0.0))


def test_the_wall_comes_back_where_it_was_when_its_line_is_taken_out() -> None:
    before = RoomContents(msgspec.structs.replace(ROOM, keep_clear=(HEARTH,)), SEAT)
    after = before.with_entry(LEFT_LINE, Units.MM).without(0, Units.MM)
    assert after.room.datum == ()
    for one, other in zip(after.room.corners, ROOM.corners, strict=True):
        assert one == pytest.approx(other, abs=1e-6)
    assert after.seat is not None
    assert after.seat.plan == pytest.approx(SEAT.plan)
    assert after.room.keep_clear[0].corners[2] == pytest.approx(HEARTH.corners[2])


def test_a_line_of_another_day_that_is_taken_out_leaves_a_wall_in_its_place() -> None:
    known = RoomContents(msgspec.structs.replace(ROOM, datum=(Wall.RIGHT,)), SEAT)
    assert known.without(0, Units.MM) == RoomContents(ROOM, SEAT)


def test_a_line_that_is_changed_is_one_line_still() -> None:
    first = RoomContents(ROOM, SEAT).with_entry(LEFT_LINE, Units.MM)
    moved = DatumLine(Wall.LEFT, {Wall.RIGHT: 4680.0}, {Wall.RIGHT: 4680.0})
    changed = first.without(0, Units.MM).with_entry(moved, Units.MM)
    assert changed.room.datum == (Wall.LEFT,)
    assert changed.room.width_mm == pytest.approx(4680.0)
    assert changed.seat is not None
    assert changed.seat.from_left_mm == pytest.approx(2680.0 - 680.0)
    back = changed.without(0, Units.MM)
    assert back.room.width_mm == pytest.approx(5360.0)


def test_each_entry_goes_alone() -> None:
    contents = RoomContents(msgspec.structs.replace(ROOM, datum=(Wall.RIGHT,)), None)
    for entry in (SKIRTING, WallOffset(Wall.BACK, 90.0, 0.0, 700.0), HEARTH):
        contents = contents.with_entry(entry, Units.MM)
    assert len(contents.entries) == 4
    assert contents.without(1, Units.MM).room.offsets == contents.room.offsets[1:]
    assert contents.without(3, Units.MM).room.keep_clear == ()
    assert contents.without(0, Units.MM).entries == contents.entries[1:]


def test_a_zone_outside_the_room_is_refused() -> None:
    far = KeepClear.rectangle("hearth", (12_000.0, 13_000.0), (0.0, 600.0))
    with pytest.raises(BadInput, match="lies outside the room"):
        RoomContents(ROOM, SEAT).with_entry(far, Units.MM)


# --- the screen


class Teller:
    """The screen, and somebody who tells what is in the room."""

    def __init__(self, sitting: Sitting) -> None:
        self.sitting = sitting

    @property
    def screen(self) -> FittingsScreen:
        screen = self.sitting.app.screen
        assert isinstance(screen, FittingsScreen)
        return screen

    @property
    def room(self) -> Room:
        room = self.sitting.app.session.draft.room
        assert room is not None
        return room

    @property
    def list(self) -> list[str]:
        return [" ".join(row.plain.split()) for row in self.screen.query_one(EntryList).rows]

    @property
    def plan(self) -> str:
        return self.screen.query_one(PlanView).text

    async def add(self, kind: str, /, **texts: str) -> None:
        await self.sitting.choose("kind", kind)
        await self.sitting.fill(**texts)
        await self.sitting.press("ctrl+s")


async def begun(sitting: Sitting) -> Teller:
    if not sitting.is_at(Step.ROOM):
        await sitting.press("r")
    await sitting.press("ctrl+f")
    assert sitting.is_at(Aside.FITTINGS)
    return Teller(sitting)


async def enter(sitting: Sitting, *texts: str) -> None:
    for text in texts:
        await sitting.type(text)
        await sitting.press("enter")


async def test_a_loft_is_told_by_the_keyboard_alone(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        assert "Radiators, hearths: Ctrl+F." in sitting.text
        teller = await begun(sitting)
        assert sitting.cursor_in == "kind"
        assert teller.list == []
        assert "a rug's edge" in " ".join(
            str(teller.screen.query_one("#about", Static).content).split()
        )
        # the right side, its two ends 4580 and 4620 mm from the left wall
        await sitting.press("enter", "enter")
        assert sitting.cursor_in == "first-across"
        hint = sitting.field("first-across").hint
        assert hint == "How far is the end of the line near the front wall from the left wall?"
        await enter(sitting, "4580", "", "4620", "")
        await sitting.press("ctrl+s")
        assert teller.room.datum == (Wall.RIGHT,)
        assert teller.room.back_right == pytest.approx((4620.0, 7240.0))
        assert "The seat stays where it is: 4400 mm from the front wall" in sitting.told
        assert "Check the layout again" in sitting.told
        assert sitting.cursor_in == "kind"
        await sitting.press("right", "tab", "left", "left", "enter")
        await enter(sitting, "15", "0", "80")
        await sitting.press("ctrl+s", "right")
        await enter(sitting, "hearth", "1.2 m", "2.4 m", "0", "600")
        await sitting.press("ctrl+s")
        assert teller.room.offsets == (SKIRTING,)
        assert teller.room.keep_clear == (HEARTH,)
        assert teller.list == [
            "line on the right, 4580 mm to 4620 mm from the left wall",
            "15 mm out from the left wall, 0 mm to 80 mm high",
            "hearth: 1200 mm to 2400 mm from the left, 0 mm to 600 mm from the front",
        ]
        assert "line" in teller.plan
        assert "hearth" in teller.plan
        room = teller.room
        await sitting.press("escape")
        assert sitting.is_at(Step.ROOM)
        state = str(sitting.app.screen.query_one("#state", Static).content)
        assert "The right side has a line instead of a wall." in state
        assert "Boards, radiators or panels: left wall. Kept clear: hearth." in state
        await sitting.fill(name="Loft", height="2.6 m")
        assert sitting.app.session.draft.room == msgspec.structs.replace(room, height_mm=2600.0)
        assert sitting.app.session.draft.seat == SEAT
    saved = saved_in(store_file)
    assert saved is not None
    assert saved.setup.room == msgspec.structs.replace(room, height_mm=2600.0)


async def test_opened_again_entries_are_changed_and_taken_out(
    sit_down: SitDown, opening: Workspace
) -> None:
    room = msgspec.structs.replace(ROOM, offsets=(SKIRTING,), keep_clear=(HEARTH,))
    draft = msgspec.structs.replace(opening.draft, room=room)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        teller = await begun(sitting)
        teller.screen.query_one(EntryList).focus()
        await sitting.press("down", "enter")
        assert sitting.choice("kind").value == "zone"
        assert sitting.cursor_in == "zone"
        assert [sitting.field(name).value for name in ("left-near", "front-far")] == [1200, 600]
        await sitting.fill(left_far="2500")
        await sitting.press("ctrl+s")
        assert teller.room.keep_clear == (
            KeepClear.rectangle("hearth", (1200.0, 2500.0), (0.0, 600.0)),
        )
        # one that was taken up and let go stays as it is
        teller.screen.query_one(EntryList).focus()
        await sitting.press("up", "enter")
        await sitting.fill(proud="40")
        await sitting.press("ctrl+y")
        assert sitting.field("proud").value is None
        assert teller.room.offsets == (SKIRTING,)
        teller.screen.query_one(EntryList).focus()
        await sitting.press("delete", "delete")
        assert teller.room == ROOM
        assert teller.list == []


async def test_a_line_on_the_left_leaves_the_seat_where_it_is(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        teller = await begun(sitting)
        await sitting.choose("side", "left")
        assert "from the right wall?" in sitting.field("first-across").hint
        await teller.add("line", first_across="4860", second_across="4860")
        assert "2180 mm from the left datum line" in sitting.told
        await sitting.press("escape")
        assert sitting.field("from-left").value == pytest.approx(2180.0)
        assert sitting.app.session.draft.seat is not None
        assert sitting.app.session.draft.seat.plan == pytest.approx((2180.0, 4400.0))
        # another 180 mm nearer to the right wall: the fields of the room follow again
        teller = await begun(sitting)
        teller.screen.query_one(EntryList).focus()
        await sitting.press("enter")
        assert sitting.field("first-across").value == pytest.approx(4860.0)
        await teller.add("line", first_across="4680", second_across="4680")
        await sitting.press("escape")
        assert sitting.field("from-left").value == pytest.approx(2000.0)


async def test_of_a_newcomer_the_room_comes_first_and_a_seat_that_was_not_told_stays_too(
    sit_down: SitDown,
) -> None:
    async with sit_down() as sitting:
        await sitting.press("ctrl+f")
        assert sitting.is_at(Step.ROOM)
        (notice,) = sitting.app._notifications
        assert "Enter the room's size first, or survey it" in notice.message
        await sitting.fill(width="5400", length="7240")
        teller = await begun(sitting)
        await teller.add("line", first_across="4580", second_across="4580")
        await sitting.press("escape")
        assert sitting.field("from-left").value == pytest.approx(2700.0)
        assert sitting.app.session.draft.seat is not None
        assert sitting.app.session.draft.seat.from_left_mm == pytest.approx(2700.0)


async def test_an_end_in_the_middle_of_the_room_is_told_by_two_distances(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        teller = await begun(sitting)
        await teller.add(
            "line",
            first_across="4580",
            first_beside="1000",
            second_across="4580",
            second_beside="2 m",
        )
        assert teller.room.front_right == pytest.approx((4580.0, 0.0))


_EDGES = {"left_near": "900", "left_far": "1800", "front_near": "0", "front_far": "600"}
BAD = (
    (
        "line",
        {"first_across": "4580", "second_across": "0"},
        "the right datum line at these distances closes no room",
    ),
    (
        "proud",
        {"proud": "15", "from_height": "80", "to_height": "80"},
        "must reach from a height of 0 or more to a greater one",
    ),
    (
        "zone",
        {"zone": "hearth", **_EDGES, "left_far": "900"},
        "both edges are 900 mm from the left; give two that differ",
    ),
    (
        "zone",
        {"zone": "hearth", **_EDGES, "left_near": "9 m", "left_far": "10 m"},
        '"hearth" lies outside the room; check its distances',
    ),
)


async def test_a_bad_entry_gets_its_one_sentence_and_changes_nothing(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        teller = await begun(sitting)
        for kind, texts, told in BAD:
            await teller.add(kind, **texts)
            assert told in sitting.told
            # no key of a file in front, and one sentence
            assert not sitting.told.startswith(("✗ datum:", "✗ offsets:", "✗ keep_clear:"))
            assert sitting.told.count("\n") == 0
            assert teller.room == ROOM
            assert teller.list == []
            await sitting.press("ctrl+y")


async def test_what_is_missing_or_no_length_is_pointed_out_in_its_field(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        teller = await begun(sitting)
        await teller.add("line", first_across="4580", second_across="far")
        assert '"far" is not a length' in str(sitting.field("second-across").problem)
        assert sitting.cursor_in == "second-across"
        await teller.add("proud", proud="15")
        assert sitting.cursor_in == "from-height"
        assert sitting.field("from-height").problem == "needed"
        await teller.add("proud", proud="0", from_height="0", to_height="80")
        assert sitting.field("proud").problem == "0 mm must lie above 0 mm, to 2000 mm"
        assert sitting.cursor_in == "proud"
        assert teller.room == ROOM


async def test_nothing_stands_proud_of_a_line(sit_down: SitDown, opening: Workspace) -> None:
    room = msgspec.structs.replace(ROOM, offsets=(SKIRTING,))
    draft = msgspec.structs.replace(opening.draft, room=room)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        teller = await begun(sitting)
        await sitting.choose("side", "left")
        await teller.add("line", first_across="4860", second_across="4860")
        assert "What stuck out from the left wall is removed with it." in sitting.told
        assert teller.room.offsets == ()
        await sitting.choose("kind", "proud")
        await sitting.choose("wall", "left")
        await teller.add("proud", proud="15", from_height="0", to_height="80")
        assert "nothing sticks out from the left line" in sitting.told


async def test_the_distances_of_a_survey_go_with_other_corners_only(
    sit_down: SitDown, opening: Workspace
) -> None:
    survey = taken_before(ROOM, 5)
    draft = msgspec.structs.replace(opening.draft, survey=survey)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        teller = await begun(sitting)
        await teller.add("proud", proud="15", from_height="0", to_height="80")
        assert sitting.app.session.draft.survey == survey
        await teller.add("line", first_across="4580", second_across="4580")
        assert sitting.app.session.draft.survey == ()
        assert "no longer fit these corners and are dropped" in sitting.told
        teller.screen.query_one(EntryList).focus()
        await sitting.press("delete")
        assert teller.room.datum == ()
        assert sitting.app.session.draft.survey == survey


async def test_a_seat_beyond_the_line_is_to_be_measured_anew(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        teller = await begun(sitting)
        await sitting.choose("side", "left")
        await teller.add("line", first_across="2000", second_across="2000")
        await sitting.press("escape")
        assert "seat to left datum line: it must be more than 0; measure it again" in sitting.told
        await sitting.fill(from_left="900")
        assert sitting.told == ""


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")
async def test_the_meters_button_fills_the_field_that_has_the_cursor(
    sit_down: SitDown, opening: Workspace, line: SerialLine, store_file: Path
) -> None:
    meter = Meter(edge=Edge.FRONT, edge_offset_mm=-118.0)
    draft = msgspec.structs.replace(opening.draft, meter=meter)
    opening = msgspec.structs.replace(opening, draft=draft, meter_address=line.address)
    async with sit_down(opening, open_driver=serial_driver) as sitting:
        teller = await begun(sitting)
        shown = sitting.app.screen.query_one(MeterLine)
        await sitting.until(lambda: "is open" in shown.text)
        line.send(b"1.0 m\r\n")
        await sitting.until(lambda: "go to a field" in sitting.told)
        sitting.field("first-across").query_one(Input).focus()
        line.send(b"4.6984 m\r\n")
        await sitting.until(lambda: sitting.cursor_in == "first-beside")
        assert sitting.field("first-across").value == pytest.approx(4580.4)
        await sitting.press("tab")
        line.send(b"4.7384 m\r\n")
        await sitting.until(lambda: sitting.cursor_in == "second-beside")
        await sitting.press("ctrl+s")
        assert teller.room.front_right == pytest.approx((4580.4, 0.0))
        assert teller.room.back_right == pytest.approx((4620.4, 7240.0))
    with Store.open(store_file) as store:
        assert len([e for e in store.entries(None) if isinstance(e, Reading)]) == 3


async def test_layout_and_live_screens_show_what_is_in_the_room(
    sit_down: SitDown, opening: Workspace
) -> None:
    room = msgspec.structs.replace(ROOM, datum=(Wall.RIGHT,), keep_clear=(HEARTH,))
    target = Placement(1450, 1900, 8)
    draft = msgspec.structs.replace(opening.draft, room=room, targets=Pair(target, target))
    opening = msgspec.structs.replace(opening, draft=draft)
    async with sit_down(opening, size=(140, 45)) as sitting:  # where both plan and shot are drawn
        for keys in ([], ["l"]):
            await sitting.press(*keys)
            plan = sitting.app.screen.query_one(PlanView).text
            assert "line" in plan
            assert "hearth" in plan


async def test_brackets_in_a_name_are_shown_as_they_are(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        teller = await begun(sitting)
        await sitting.choose("kind", "zone")
        await teller.add("zone", **{**_EDGES, "zone": "[/b] bed", "front_far": "[/b]"})
        assert '"[/b]" is not a length' in str(sitting.field("front-far").problem)
        await teller.add("zone", zone="[/b] bed", front_far="600")
        assert "[/b] bed" in teller.list[0]
        await sitting.press("escape")
        assert "Kept clear: [/b] bed." in str(
            sitting.app.screen.query_one("#state", Static).content
        )
        sitting.app.notify("[/b]")
        await sitting.settle()
        assert "[/b]" in sitting.text
