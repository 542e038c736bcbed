"""Comparing the pair as they stand, and putting back what a check found moved, without a screen."""

from __future__ import annotations

from pathlib import Path

import msgspec
from evening import ATTIC, Evening, evening
from visitor import Visitor

from witnessmark.model import Mark, Onward, Pair, Placement, RoomKnown, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.marks import mark_of, to_check
from witnessmark.session.draft import Draft
from witnessmark.session.events import DecidedOnPhone
from witnessmark.session.room_answers import PairSize
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark.words.live import say
from witnessmark_simulators.scenario import DEMO_SETUP


def compared() -> Workspace:
    cabinet = DEMO_SETUP.cabinets.left
    size = PairSize(cabinet.width_mm, cabinet.depth_mm)
    return msgspec.structs.replace(ATTIC, draft=size.compared_as_they_stand(Draft()))


async def test_the_one_that_the_person_chose_is_brought_to_the_image_of_the_other(
    store_file: Path,
) -> None:
    async with evening(store_file, workspace=compared()) as there:
        await there.begin()
        await there.work_on()
        await there.settle()
        assert say(there.guidance).headline.figure == "NOT ALIKE"
        readings, stood = there.round.readings, there.room.truth.right
        await choose_on_phone(there, "NOT ALIKE", Onward.MOVE_LEFT, Onward.MOVE_RIGHT)
        assert there.round.readings == readings, "no shot is asked for before the first nudge"
        assert (there.guidance.side, there.guidance.stage) == (Side.LEFT, Stage.NUDGE)
        await there.work_on()
        off = there.room.truth.left.minus(stood)
        assert max(abs(off.side_mm), abs(off.setback_mm)) < 5
        assert there.room.truth.right == stood


async def test_a_room_that_stands_in_is_still_none_when_it_is_opened_again(
    store_file: Path,
) -> None:
    async with evening(store_file, workspace=compared()) as there:
        await there.begin()
    with Store.open(store_file) as store:
        again = Workspace.saved_in(store)
    assert again.draft.room_known is RoomKnown.NOTHING
    assert again.draft.known_room is None
    assert again.draft.setup is not None


async def test_after_a_check_that_found_movement_putting_back_begins_with_its_shots(
    store_file: Path,
) -> None:
    free = msgspec.structs.replace(DEMO_SETUP, targets=Pair[Placement | None](None, None))
    workspace = Workspace.on(free, name="Attic", meter_address="sim:")
    async with evening(store_file, workspace=workspace) as there:
        await there.begin()
        await there.work_on()
        mark = await keep(there)
        carry_left(there, 23, -41)
        there.session.aim_afresh(Draft.of(to_check(free, mark)))
        await there.session.resume()
        await there.work_on()
        await there.settle()
        assert there.guidance.is_found_moved
        said = say(there.guidance)
        assert said.headline.figure == "MOVED"
        assert said.headline.words.startswith("Left moved: 4")
        assert "nearer the front wall" in said.headline.words
        assert said.details[0] == "Right has not moved."
        readings, right = there.round.readings, there.room.truth.right
        await choose_on_phone(there, "MOVED", Onward.PUT_BACK)
        assert there.round.readings == readings
        assert (there.guidance.side, there.guidance.stage) == (Side.LEFT, Stage.NUDGE)
        restoring = there.guidance.setup.restoring
        assert restoring is not None
        assert not restoring.is_check
        # the shots of the mark, not only the three that a check takes
        assert len(restoring.shots.left) == 4
        await there.work_on()
        off = there.room.truth.left.minus(mark.poses.placements.left)
        assert max(abs(off.side_mm), abs(off.setback_mm)) < 5
        assert there.room.truth.right == right


async def choose_on_phone(there: Evening, figure: str, *offered: Onward) -> None:
    """Take the first of what a phone offers once it shows the answer."""
    await there.session.remote.start("127.0.0.1")
    server = there.session.remote.server
    assert server is not None
    async with Visitor(server.url).socket() as phone:
        found = await phone.told_of(lambda state: state.figure == figure)
        assert [answer.act for answer in found.state.answers] == list(offered)
        await phone.send(offered[0], found.seq)
        await phone.told_of(lambda state: state.arrow != "")
    assert there.of(DecidedOnPhone) == [DecidedOnPhone(offered[0])]


async def keep(there: Evening) -> Mark:
    mark = mark_of(there.guidance, there.session.clock(), "home")
    await there.session.journal.run(Store.keep, "Attic", there.session.round_id, mark)
    return mark


def carry_left(there: Evening, side_mm: float, setback_mm: float) -> None:
    """Have the left cabinet moved by so much while nobody measures."""
    start, person = there.room.truth.left, there.room.person
    moved = Placement(start.side_mm + side_mm, start.setback_mm + setback_mm, start.toe_in_deg)
    person.world = person.world.moved(Side.LEFT, moved)
