"""Going from room to room: nothing that was measured is lost or mixed."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting, saved_in

from witnessmark.app.screens.other_rooms import new_name
from witnessmark.app.steps import Aside, Step
from witnessmark.errors import StoreError
from witnessmark.model import Room, Setup
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
LONG_AGO = datetime(2026, 5, 3, 19, 0, tzinfo=UTC)


@pytest.fixture
def barn(store_file: Path, setup: Setup) -> Setup:
    """Another room in the store, saved earlier."""
    other = msgspec.structs.replace(setup, room=Room.rectangular(7200.0, 9300.0))
    with Store.open(store_file) as store:
        store.save_setup("Barn", other, LONG_AGO, {"meter": "typed:"})
    return other


async def go_to_rooms(sitting: Sitting) -> None:
    await sitting.press("r", "ctrl+o")
    assert sitting.is_at(Aside.ROOMS)


async def test_what_was_entered_last_is_saved_before_the_room_is_left(
    sit_down: SitDown, opening: Workspace, barn: Setup, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        await sitting.fill(width="4.99 m")
        await sitting.press("ctrl+o", "down", "enter")
        assert sitting.app.session.workspace.name == "Barn"
    with Store.open(store_file) as store:
        attic = store.setup_of("Attic")
        assert attic is not None
        assert attic.setup.room.width_mm == pytest.approx(4990.0)
        saved = store.setup_of("Barn")
        assert saved is not None
        assert saved.setup == barn


async def test_a_new_room_begins_empty_with_the_meter_that_there_is(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await go_to_rooms(sitting)
        await sitting.press("b")
        assert sitting.is_at(Step.ROOM)
        draft = sitting.app.session.draft
        assert (sitting.app.session.workspace.name, draft.room, draft.cabinets) == (
            "My room",
            None,
            None,
        )
        assert draft.meter == opening.draft.meter
        await sitting.fill(width="3.6 m", length="5.1 m")
        # it is not whole, so it cannot be saved; it waits while another is gone to
        await sitting.press("ctrl+o")
        await sitting.press("enter")
        assert sitting.app.session.workspace.name == "Attic"
        await sitting.press("ctrl+o")
        assert "incomplete" in sitting.text
        await sitting.press("up", "enter")
        assert sitting.field("width").value == pytest.approx(3600.0)
        await sitting.press("ctrl+o", "b")
        assert sitting.app.session.workspace.name == "My room 2"
    saved = saved_in(store_file)
    assert saved is not None
    assert saved.name == "Attic"


async def test_a_room_that_cannot_be_saved_is_not_left(
    sit_down: SitDown, opening: Workspace, barn: Setup, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> int:
        raise StoreError("store.sqlite3: the disk is full; free some space")

    async with sit_down(opening) as sitting:
        await sitting.press("r")
        await sitting.fill(width="4.99 m")
        monkeypatch.setattr(Store, "save_setup", full)
        await sitting.press("ctrl+o", "down", "enter")
        assert sitting.is_at(Aside.ROOMS)
        assert "could not be saved, so it stays open" in sitting.told
        assert sitting.app.session.workspace.name == "Attic"
        await sitting.press("escape")
        assert sitting.field("width").value == pytest.approx(4990.0)


def test_a_new_name_is_one_that_no_room_has() -> None:
    assert new_name([]) == "My room"
    assert new_name(["My room", "My room 3"]) == "My room 2"
    assert new_name({"My room", "My room 2", "My room 3"}) == "My room 4"


async def test_the_name_of_another_room_is_told_to_be_that_rooms(
    sit_down: SitDown, opening: Workspace, barn: Setup
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        field = sitting.field("name")
        await sitting.fill(name="Barn")
        assert field.note is not None
        assert "a room of this name exists" in field.note
        await sitting.fill(name="Attic")
        assert field.note is None


async def test_a_room_whose_time_of_saving_is_damaged_is_listed_and_that_is_told_once(
    sit_down: SitDown, opening: Workspace, barn: Setup, store_file: Path
) -> None:
    with Store.open(store_file) as store:
        store._connection.execute("DROP TRIGGER setup_no_update")
        store._connection.execute("UPDATE setup SET saved_at = CAST(saved_at AS BLOB)")
    async with sit_down(opening) as sitting:
        await go_to_rooms(sitting)
        await sitting.until(lambda: 'setup 1 of "Barn" cannot be read' in sitting.told)
        assert "Barn" in sitting.text
        await sitting.press("escape", "ctrl+o")
        assert sitting.told == ""
