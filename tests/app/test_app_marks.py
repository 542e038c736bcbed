"""Marks through the app: keeping, comparing, looking after, putting back."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from rehearsed import Rehearsed, rehearse
from sitting import Sitting
from textual.widgets import Static

from witnessmark.app.screens.marks import MarksScreen
from witnessmark.app.screens.put_back import PutBackScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.errors import BadInput, StoreError
from witnessmark.model import (
    Cabinet,
    Mark,
    Pair,
    Placement,
    Poses,
    Room,
    Setup,
    Side,
    TouchPoint,
)
from witnessmark.session.cabinet_details import read_turns
from witnessmark.session.workspace import Workspace
from witnessmark.store.records import Kept
from witnessmark.store.store import Store
from witnessmark.words.live import say
from witnessmark_simulators.scenario import DEMO_SETUP

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)
SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
FREE = msgspec.structs.replace(DEMO_SETUP, targets=Pair[Placement | None](None, None))
"""The demo's room in which nothing is to be moved: eight shots, and both are known."""


def attic(setup: Setup = FREE) -> Workspace:
    return Workspace.on(setup, name="Attic", meter_address="sim:")


def kept_in(store_file: Path, room: str = "Attic") -> list[Kept[Mark]]:
    with Store.open(store_file) as store:
        return store.kept(Mark, room)


class Marker:
    """A person on the screen of the marks."""

    def __init__(self, person: Rehearsed) -> None:
        self.person = person

    @property
    def screen(self) -> MarksScreen:
        screen = self.person.app.screen
        assert isinstance(screen, MarksScreen)
        return screen

    def part(self, name: str) -> str:
        return str(self.screen.query_one(f"#{name}", Static).content)

    @property
    def moved(self) -> str:
        return " ".join(self.part("moved").split())

    async def arrive(self, marks: int) -> None:
        """Go there, and wait until so many marks are listed."""
        await self.person.press("v")
        await self.person.until(lambda: len(self.screen.marks) == marks)

    async def keep(self, name: str, marks: int) -> None:
        """Keep the present position, which makes it so many marks."""
        await self.person.fill(name=name)
        await self.person.press("ctrl+s")
        await self.person.until(lambda: len(self.screen.marks) == marks)

    async def begin(self, key: str) -> None:
        """Press a key that leads to the live screen with a new round."""
        before = self.person.app.session.round_id
        await self.person.press(key)
        await self.person.until(lambda: self.person.app.session.round_id != before)
        assert self.person.is_at(Step.LIVE)


async def test_nothing_is_kept_before_both_are_measured(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("v")
        assert "This room has no mark yet." in sitting.text
        await sitting.fill(name="early")
        await sitting.press("ctrl+s")
        assert sitting.told == (
            "No mark can be saved now: the left cabinet is not measured yet: first shoot it on "
            "the live screen."
        )
    assert kept_in(store_file) == []


async def test_a_mark_holds_all_that_is_known_of_the_pair(store_file: Path) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        await person.press("ctrl+s")
        assert person.field("name").problem == "needed"
        await person.fill(notes="spikes on coins")
        await marker.keep("before the cleaning", 1)
        assert person.told == '"before the cleaning" is saved.'
        assert person.field("name").value is None
        assert "8 shots, round 1" in marker.part("held")
        assert marker.moved.startswith("· No movement larger than the meter can detect")
        truth = person.room.truth
    (kept,) = kept_in(store_file)
    mark = kept.record
    assert (kept.round_id, mark.name, mark.notes) == (1, "before the cleaning", "spikes on coins")
    assert (mark.setup, len(mark.shots), mark.supersedes) == (FREE, 8, None)
    for side in Side:
        off, expanded = mark.poses.placements[side].minus(truth[side]), mark.poses.expanded(side)
        assert abs(off.side_mm) < 2 * expanded.side_mm
        assert abs(off.setback_mm) < 2 * expanded.setback_mm
        assert abs(off.toe_in_deg) < 2 * expanded.toe_in_deg
    assert mark.poses.covariance[1][4] > 0.3  # both setbacks share the zero of the meter


async def test_what_was_moved_since_it_was_measured_is_not_kept(store_file: Path) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        await person.decide("a")
        await person.press("v")
        await person.fill(name="late")
        await person.press("ctrl+s")
        assert "cabinet is being measured again" in person.told
        assert "What has moved since is not known" not in person.text
    assert kept_in(store_file) == []


async def test_what_a_nudge_is_asked_for_is_kept_only_once_nobody_moved_it(
    store_file: Path,
) -> None:
    async with rehearse(store_file, opening=attic(DEMO_SETUP), shots=4) as person:
        await person.decide("o")
        await person.walk()
        marker = Marker(person)
        await marker.arrive(0)
        await person.fill(name="as it was")
        await person.press("ctrl+s")
        assert person.told.startswith(
            "A nudge is requested for the left cabinet. If nobody has moved it"
        )
        assert kept_in(store_file) == []
        await marker.keep("as it was", 1)


async def test_a_mark_takes_the_place_of_another_and_both_stay(store_file: Path) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        await marker.keep("first", 1)
        first = marker.screen.marks[0].key
        await person.fill(name="second")
        person.choice("supersedes").action_choose(1)
        await person.press("ctrl+s")
        await person.until(lambda: len(marker.screen.marks) == 2)
        rows = [row.plain.split() for row in marker.screen.query_one(PickList).rows]
        assert [row[-1] == "replaced" for row in rows] == [True, False]
        # the one that was replaced is not offered for that again
        assert [words for _, words in person.choice("supersedes").options] == ["none", "second"]
    one, other = kept_in(store_file)
    assert (one.record.name, one.record.supersedes) == ("first", None)
    assert (other.record.name, other.record.supersedes) == ("second", first)


async def test_two_marks_are_compared_by_what_moved_from_the_earlier_to_the_later(
    store_file: Path,
) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        await marker.keep("before", 1)
        person.carry(Side.RIGHT, Placement(0.0, 25.0, 0.0))
        await person.press("g")
        await person.press("b")
        await person.decide("b")
        await person.walk()
        await person.walk()
        await marker.arrive(1)
        told = "The right cabinet moved: 2"  # 25 mm, and what hands and meter make of it
        assert told in marker.moved
        assert "farther from the front wall" in marker.moved
        assert "The left cabinet has not moved" in marker.moved
        await marker.keep("after", 2)
        person.choice("against").action_choose(1)
        await person.pilot.pause()
        later = marker.moved
        assert told in later
        assert person.choice("against").value == marker.screen.marks[0].key
        await person.press("up")
        person.choice("against").action_choose(1)
        await person.pilot.pause()
        assert marker.part("held").startswith("before")
        assert marker.moved == later


async def test_whether_a_mark_is_still_there_is_looked_for_with_new_shots(
    store_file: Path,
) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        await marker.keep("home", 1)
        await marker.begin("ctrl+t")
        line = person.live.query_one(MeterLine)
        assert line.purpose == 'checking "home"'
        assert line.render_line(0).text.endswith('checking "home"')
        for _ in range(6):
            assert person.figure != "AS MARKED"
            await person.shoot()
        assert person.figure == "AS MARKED"
        assert 'Still where "home" was, as far as the meter can tell' in person.text
        person.carry(Side.LEFT, Placement(-12.0, 0.0, 0.0))
        await marker.arrive(1)
        await marker.begin("ctrl+t")
        for _ in range(6):
            await person.shoot()
        assert person.figure == "MOVED"
        words = " ".join(say(person.live.guidance).details)  # type: ignore[union-attr]
        assert "The left cabinet moved: 1" in words
        assert "nearer the left wall" in words


async def test_a_pair_that_was_moved_is_put_back(store_file: Path) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker, before = Marker(person), person.room.truth
        await marker.arrive(0)
        await marker.keep("home", 1)
        person.carry(Side.LEFT, Placement(210.0, -160.0, 9.0))
        person.carry(Side.RIGHT, Placement(-60.0, 240.0, -6.0))
        await marker.begin("ctrl+g")
        assert person.live.query_one(MeterLine).purpose == 'putting back "home"'
        assert person.app.session.round is not None
        assert person.app.session.round.readings == 0
        await person.work_on()
        assert person.figure == "BOTH IN"
        assert "Both cabinets stand within" in person.text
        tolerance = FREE.tolerance
        for side in Side:
            off = person.room.truth[side].minus(before[side])
            # the mark is known as well as the meter is good, and the pair is in by the same
            assert abs(off.side_mm) <= 1.5 * tolerance.position_mm
            assert abs(off.setback_mm) <= 1.5 * tolerance.position_mm
            assert abs(off.toe_in_deg) <= 1.5 * tolerance.toe_in_deg


async def test_other_targets_end_the_putting_back_and_so_does_letting_go(
    sit_down: SitDown, store_file: Path
) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        await marker.keep("home", 1)
        await marker.begin("ctrl+g")
        mark = marker_targets(person)
        await marker.arrive(1)
        assert person.text.splitlines()[1] == ' Under way: putting back "home". Ctrl+L stops this.'
        await person.press("ctrl+l")
        assert person.app.session.draft.restoring is None
        assert marker_targets(person) == mark
        await marker.begin("ctrl+g")
        await person.press("l")
        await person.choose("begin", "triangle")
        assert person.app.session.draft.restoring is None
        assert marker_targets(person) != mark
        await person.press("g")
        await person.until(lambda: person.live.query_one(MeterLine).purpose == "")


def marker_targets(person: Rehearsed) -> Pair[Placement | None]:
    return person.app.session.draft.targets


async def test_what_was_entered_otherwise_since_is_told(store_file: Path) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        await marker.keep("home", 1)
        room = Room.rectangular(4700.0, 6100.0, 2550.0)
        person.app.session.edit(msgspec.structs.replace(person.app.session.draft, room=room))
        await person.press("g")
        await person.until(
            lambda: (
                person.app.session.round is not None and person.app.session.round.setup.room == room
            )
        )
        await marker.arrive(1)
        assert "The room is now entered 80 mm wider: distances from the right wall" in marker.moved
        await marker.begin("ctrl+g")
        assert any("80 mm wider" in notice for notice in person.notices)
        # the present room counts, not that of the mark
        assert person.app.session.draft.room == room


async def test_spike_turns_are_told_by_the_feet_of_the_cabinet(store_file: Path) -> None:
    feet = {"front": TouchPoint(0.0, 30.0), "rear-inner": TouchPoint(80.0, 340.0)}
    spiked = Cabinet(248.0, 372.0, 910.0, feet=feet, thread="M8")
    setup = msgspec.structs.replace(FREE, cabinets=FREE.cabinets.replacing(Side.RIGHT, spiked))
    async with rehearse(store_file, opening=attic(setup), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        assert not person.app.screen.query("#left-spikes")
        await person.fill(name="on spikes", right_spikes="front 3, rear 2.5")
        problem = person.field("right-spikes").problem
        assert problem == 'there is no foot "rear"; there are front and rear-inner'
        await person.press("ctrl+s")
        assert kept_in(store_file) == []
        await person.fill(right_spikes="front 3, rear-inner 2.5")
        await marker.keep("on spikes", 1)
        assert "right spikes, turns out: front 3, rear-inner 2.5" in marker.part("held")
    (kept,) = kept_in(store_file)
    assert kept.record.spike_turns == Pair({}, {"front": 3.0, "rear-inner": 2.5})


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("front", '"front" is not a foot with its turns'),
        ("front -1", '"front -1" is not a foot with its turns'),
        ("front 3, front 4", '"front" stands there twice'),
        ("3", '"3" is not a foot with its turns'),
        ("front 1.2.3", '"front 1.2.3" is not a foot'),
    ],
)
def test_what_is_no_foot_with_its_turns_is_refused(text: str, wrong: str) -> None:
    with pytest.raises(BadInput, match=wrong.replace(".", r"\.")):
        read_turns(text, ["front", "rear"])


def test_spike_turns_may_have_signs_between() -> None:
    assert read_turns("front: 3, rear=0.25,", ["front", "rear"]) == {"front": 3.0, "rear": 0.25}


async def test_a_mark_that_cannot_be_stored_is_told_and_stays_in_the_form(
    store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise StoreError("store.sqlite3: the disk is full; free some space")

    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        monkeypatch.setattr(Store, "keep", full)
        await person.fill(name="home")
        await person.press("ctrl+s")
        await person.until(lambda: "the disk is full" in person.told)
        assert person.field("name").value == "home"
        assert marker.screen.query_one(PickList).rows == ()


async def test_a_name_is_typed_at_once_and_its_letters_are_no_commands(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("v")
        await sitting.type("gbeq")
        assert sitting.is_at(Step.MARKS)
        assert sitting.field("name").value == "gbeq"


async def test_history_opens_from_the_marks_and_goes_back_there(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("v", "escape", "y")
        assert sitting.is_at(Aside.HISTORY)
        await sitting.press("escape")
        assert sitting.is_at(Step.MARKS)


async def test_many_marks_are_gone_through_and_what_the_pointed_one_holds_stays_in_sight(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    setup = opening.draft.setup
    assert setup is not None
    placed = Pair(Placement(1450.0, 1900.0, 8.0), Placement(1450.0, 1900.0, 8.0))
    poses = Poses(placed, ((0.0,) * 6,) * 6)
    with Store.open(store_file) as store:
        for number in range(12):
            store.keep("Attic", None, Mark(AT, f"mark {number}", setup, poses, ()))
        store.keep("Barn", None, Mark(AT, "of the barn", setup, poses, ()))
    async with sit_down(opening) as sitting:
        await sitting.press("v")
        assert "▸ mark 11" in sitting.text
        assert "side    1450.0 ±0.0" in sitting.text
        sitting.app.screen.query_one(PickList).focus()
        await sitting.press(*["up"] * 11)
        assert "▸ mark 0" in sitting.text
        assert "mark 11" not in sitting.text
        assert "side    1450.0 ±0.0" in sitting.text
        assert "barn" not in sitting.text


# --- from any screen


async def test_two_keys_put_the_latest_mark_back_from_a_screen_with_the_cursor_in_a_field(
    store_file: Path,
) -> None:
    async with rehearse(store_file, opening=attic(), shots=8) as person:
        marker = Marker(person)
        await marker.arrive(0)
        await marker.keep("first", 1)
        await marker.keep("home", 2)
        person.app.go(Step.ROOM)
        await person.settle()
        await person.press("ctrl+g")
        screen = person.app.screen
        assert isinstance(screen, PutBackScreen)
        await person.until(lambda: len(screen.marks) == 2)
        await person.press("enter")
        await person.until(lambda: person.is_at(Step.LIVE))
        restoring = person.app.session.draft.restoring
        assert restoring is not None
        assert (restoring.name, restoring.is_check) == ("home", False)
