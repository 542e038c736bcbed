"""From room to room: nothing that was measured is lost or mixed, and what is entered is saved."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from evening import ATTIC, Evening, evening

from witnessmark.errors import StoreError
from witnessmark.lengths import Units
from witnessmark.model import Reading, Room
from witnessmark.session.draft import Draft
from witnessmark.session.events import Failed, Part
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

BARN = Workspace.on(
    msgspec.structs.replace(DEMO_SETUP, room=Room.rectangular(7200.0, 9300.0)),
    name="Barn",
    meter_address="typed:",
)
HOME = msgspec.structs.replace(ATTIC, meter_address="typed:")


async def read(there: Evening, distance_mm: float) -> None:
    """Type a distance into the round."""
    await there.session.record(Reading(distance_mm, there.session.clock(), "typed:"))
    await there.settle()


def readings_by_room(store_file: Path) -> dict[str, list[float]]:
    """The distances that were journaled in the rounds of each room."""
    found: dict[str, list[float]] = {}
    with Store.open(store_file) as store:
        query = "SELECT round.id, name FROM round JOIN setup ON setup.id = setup_id"
        for round_id, name in store.rows(query):
            read = [one.distance_mm for one in store.entries(round_id) if isinstance(one, Reading)]
            found.setdefault(name, []).extend(read)
    return found


async def test_each_room_keeps_its_own_round_and_goes_on_with_it(store_file: Path) -> None:
    async with evening(store_file, workspace=HOME) as there:
        await there.begin()
        await read(there, 1322.0)
        at_home = there.round
        assert await there.session.move_to(BARN)
        assert there.session.round is None
        await there.session.record(
            Reading(9.0, there.session.clock(), "typed:")
        )  # of no round, and lost nowhere
        await there.session.resume()
        assert (there.round.setup, there.round.readings) == (BARN.draft.setup, 0)
        await read(there, 1333.0)
        assert await there.session.move_to(HOME)
        await there.session.resume()
        assert there.round == at_home
        assert len(await there.session.journal.run(Store.entries, None)) == 1
    assert readings_by_room(store_file) == {"Attic": [1322.0], "Barn": [1333.0]}


async def test_the_room_that_was_moved_to_is_the_one_that_is_saved_last(store_file: Path) -> None:
    async with evening(store_file, workspace=HOME) as there:
        await there.begin()
        await read(there, 1322.0)
        assert await there.session.move_to(BARN)
    with Store.open(store_file) as store:
        saved = Workspace.saved_in(store)
    assert saved == BARN
    async with evening(store_file, workspace=saved) as there:
        await there.begin()
        # not the other room's round, though that is the latest
        assert there.round.readings == 0
    assert readings_by_room(store_file) == {"Attic": [1322.0], "Barn": []}


async def test_a_room_under_another_name_has_a_round_of_its_own(store_file: Path) -> None:
    async with evening(store_file, workspace=HOME) as there:
        await there.begin()
        await read(there, 1322.0)
        there.session.workspace = msgspec.structs.replace(HOME, name="Loft")
        assert there.session.round is None
        await there.session.resume()
        await read(there, 1333.0)
    assert readings_by_room(store_file) == {"Attic": [1322.0], "Loft": [1333.0]}


async def test_a_room_that_is_not_whole_waits_while_another_is_open(store_file: Path) -> None:
    async with evening(store_file, workspace=HOME) as there:
        bare = Workspace(Draft(room=Room.rectangular(3600.0, 5100.0)), "Cellar")
        assert await there.session.move_to(bare)
        await there.session.resume()
        assert there.session.live is None
        assert await there.session.move_to(HOME)
        assert there.session.unfinished == {"Cellar": bare}
        assert await there.session.move_to(bare)
        assert there.session.unfinished == {}
        assert there.session.workspace == bare


async def test_a_room_that_cannot_be_saved_is_not_left(
    store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> int:
        raise StoreError("store.sqlite3: the disk is full; free some space")

    async with evening(store_file, workspace=HOME) as there:
        await there.begin()
        changed = msgspec.structs.replace(HOME.draft, temperature_c=17.0)
        there.session.edit(changed)
        with monkeypatch.context() as patch:
            patch.setattr(Store, "save_setup", full)
            assert not await there.session.move_to(BARN)
        assert there.session.workspace.name == "Attic"
        assert there.session.round is not None
        (failed,) = there.of(Failed, Part.PROGRAM)
        assert "the disk is full" in failed.why
        assert await there.session.move_to(BARN)
    with Store.open(store_file) as store:
        saved = store.setup_of("Attic")
    assert saved is not None
    assert saved.setup.temperature_c == 17.0


async def test_what_was_not_changed_is_not_saved_once_more(store_file: Path) -> None:
    async with evening(store_file, workspace=HOME) as there:
        first = await there.session.save()
        assert await there.session.save() == first
    async with evening(store_file, workspace=HOME) as there:
        assert await there.session.save() == first
        there.session.edit(msgspec.structs.replace(HOME.draft, temperature_c=17.0))
        assert await there.session.save() != first


def test_to_another_room_goes_what_is_not_of_the_room() -> None:
    whole = msgspec.structs.replace(
        Draft.of(DEMO_SETUP), sweeps=True, units=Units.INCH_16, temperature_c=27.0
    )
    begun = whole.for_another_room()
    assert (begun.meter, begun.sweeps, begun.units) == (DEMO_SETUP.meter, True, Units.INCH_16)
    assert begun.tolerance == DEMO_SETUP.tolerance
    assert (begun.room, begun.seat, begun.cabinets) == (None, None, None)
    assert (begun.targets, begun.temperature_c) == (Draft().targets, 20.0)
    assert DEMO_SETUP.targets != begun.targets
    assert set(Draft.__struct_fields__) >= Draft.OF_THE_ROOM


async def test_a_room_that_is_not_whole_is_there_another_day(store_file: Path) -> None:
    barn = Workspace(Draft(room=DEMO_SETUP.room), name="Barn")
    async with evening(store_file, workspace=barn) as there:
        await there.session.save()
        there.session.workspace = msgspec.structs.replace(barn, name="Old barn")
    with Store.open(store_file) as store:
        assert Workspace.saved_in(store).name == "Old barn"
        assert [one.name for one in Workspace.unfinished_in(store)] == ["Old barn"]
    async with evening(store_file) as there:  # the attic, which is whole
        assert list(there.session.unfinished) == ["Old barn"]
        await there.session.save()
        old = there.session.unfinished["Old barn"]
        assert await there.session.move_to(old)
        there.session.edit(ATTIC.draft)
        await there.session.save()
    with Store.open(store_file) as store:
        assert Workspace.unfinished_in(store) == []
        assert Workspace.saved_in(store).name == "Old barn"


async def test_who_leaves_a_room_that_is_not_whole_is_not_led_back_to_it(store_file: Path) -> None:
    async with evening(store_file) as there:
        await there.session.save()
        barn = Workspace(Draft(room=DEMO_SETUP.room), name="Barn")
        assert await there.session.move_to(barn)
        assert await there.session.move_to(ATTIC)
    with Store.open(store_file) as store:
        assert Workspace.saved_in(store) == ATTIC
