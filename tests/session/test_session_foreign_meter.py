"""A room that came in a file names a meter: nothing is connected to before the person says so."""

from __future__ import annotations

from pathlib import Path

import pytest
from evening import ATTIC, evening, simulated_driver, simulated_room

from witnessmark.meters.address import Address
from witnessmark.meters.port import Driver, utc_now
from witnessmark.session.workspace import Workspace
from witnessmark.store.export.transfer import export_to, import_from
from witnessmark.store.store import Store
from witnessmark.words.rooms import offered_notice, offered_words
from witnessmark_simulators.scenario import DEMO_SETUP

FOREIGN = "serial:socket://192.0.2.7:4001"


@pytest.fixture
def with_foreign_room(tmp_path: Path, store_file: Path) -> Path:
    """A store into which a stranger's room was imported."""
    file = tmp_path / "barn.room"
    with Store.open(tmp_path / "stranger.sqlite3") as store:
        store.save_setup("Barn", DEMO_SETUP, utc_now(), {"meter": FOREIGN})
        export_to(store, "Barn", file)
    with Store.open(store_file) as store:
        import_from(store, file)
    return store_file


def foreign_workspace(store_file: Path, own_meter: str | None = None) -> Workspace:
    with Store.open(store_file) as store:
        saved = store.setup_of("Barn")
    assert saved is not None
    return Workspace.of(saved, own_meter)


async def test_it_is_opened_with_ones_own_meter_and_stays_so(with_foreign_room: Path) -> None:
    opened: list[str] = []
    sim = simulated_driver(simulated_room())

    def open_driver(address: str) -> Driver:
        opened.append(address)
        return sim(address)

    barn = foreign_workspace(with_foreign_room, "sim:")
    async with evening(with_foreign_room, workspace=ATTIC, open_driver=open_driver) as there:
        await there.begin()
        assert await there.session.move_to(barn)
        await there.session.resume()
        assert there.session.workspace.meter_address == "sim:"
        await there.session.save()
    assert set(opened) == {"sim:"}
    with Store.open(with_foreign_room) as store:  # it is this computer's own room from now on
        again = Workspace.saved_in(store)
    assert (again.name, again.meter_address) == ("Barn", "sim:")
    assert again.offered_meter == FOREIGN
    chosen = again.using(FOREIGN)
    assert (chosen.meter_address, chosen.offered_meter) == (FOREIGN, "")
    assert again.using("typed:").offered_meter == FOREIGN


def test_without_a_meter_of_ones_own_it_is_the_keyboard(with_foreign_room: Path) -> None:
    barn = foreign_workspace(with_foreign_room)
    assert (barn.meter_address, barn.offered_meter) == ("typed:", FOREIGN)


def test_who_has_that_meter_is_offered_nothing(with_foreign_room: Path) -> None:
    barn = foreign_workspace(with_foreign_room, FOREIGN)
    assert (barn.meter_address, barn.offered_meter) == (FOREIGN, "")


@pytest.mark.parametrize(
    ("address", "host"),
    [
        (FOREIGN, "192.0.2.7:4001"),
        ("serial:SOCKET://example.org:1/x?baud=9600", "example.org:1"),
        ("serial:rfc2217://me:secret@[2001:db8::1]:2217", "[2001:db8::1]:2217"),
        ("serial:/dev/ttyUSB0", ""),
        ("serial:loop://", ""),
        ("ble:C0:FF:EE:00:12:34", ""),
    ],
)
def test_a_network_address_is_told_as_such(address: str, host: str) -> None:
    assert Address.parse(address).network_host == host
    for words in (offered_words(address), offered_notice(address)):
        assert ("over the network" in words) == bool(host)
        assert host in words
