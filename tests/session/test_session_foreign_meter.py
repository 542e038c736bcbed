"""A room that came in a file names a meter: nothing is connected to before the person says so."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from evening import ATTIC, evening, simulated_driver, simulated_room

from witnessmark.meters.address import Address
from witnessmark.meters.finding import network_host
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


NETWORK = [
    (FOREIGN, "192.0.2.7:4001"),
    ("serial:SOCKET://example.org:1/x?baud=9600", "example.org:1"),
    ("serial:rfc2217://me:secret@[2001:db8::1]:2217", "[2001:db8::1]:2217"),
    # no driver of that scheme is here: what may be a host counts as one
    ("udp:evil:9", "evil:9"),
    ("udp:evil", "evil"),
    ("udp:192.0.2.7:4001?unit=m", "192.0.2.7:4001"),
    ("udp://evil:9/x", "evil:9"),
    ("tcp:udp://me@evil:9", "evil:9"),
    ("tcp:[2001:db8::1]:9", "[2001:db8::1]:9"),
    # Windows fetches such a file from another computer
    (r"replay:\\evil\share\x.txt", "evil"),
    ("replay://evil/share/x.txt", "evil"),
    (r"serial:\\evil\pipe\x", "evil"),
    (r"serial:\\.\UNC\evil\pipe\x", "evil"),
    (r"replay:\/evil/share/x.txt", "evil"),
    ("replay:/net/evil/share/x.txt", "evil"),
    # an option may hold it just as well
    ("udp:?host=evil&port=9", "evil"),
    ("udp:/dev/null?via=tcp%3A//me@evil%3A9/x", "evil:9"),
    ("udp:gate?relay=192.0.2.7", "gate, 192.0.2.7"),
    ("udp:?to=3221225991", "3221225991"),
    ("udp:?host=[2001:db8::1]", "[2001:db8::1]"),
    ("serial:/dev/ttyUSB0?host=evil", "evil"),
    ("serial:\u017focket://evil:9", "evil:9"),
    ("serial: socket://evil:9", "evil:9"),
]
LOCAL = [
    "serial:/dev/ttyUSB0",
    "serial:COM3",
    r"serial:\\.\COM12",
    "serial:loop://",
    "ble:C0:FF:EE:00:12:34",
    "typed:",
    "sim:",
    "replay:readings.txt",
    r"replay:C:\readings.txt",
    "usb:/dev/usb/lp0",
    "usb:COM3",
    "radio:C0:FF:EE:00:12:34",
    "front:",
    "front:?unit=m",
    "front:?port=9&fast=yes&gain=-0.5&file=/tmp/x",
    "serial:spy:///dev/ttyUSB0?baud=115200",
    "serial:?adapter=A5069RR4",
]


@pytest.mark.parametrize(("text", "host"), [*NETWORK, *((text, "") for text in LOCAL)])
def test_a_network_address_is_told_as_such(text: str, host: str) -> None:
    address = Address.parse(text)
    assert network_host(address) == host
    for words in (offered_words(address), offered_notice(text)):
        assert ("over the network" in words) == bool(host)
        assert host in words


@pytest.mark.parametrize(
    "text",
    [
        "garbage",
        "udp:?host=a&host=b",
        "",
        " ",
        "Serial:x",
        "serial:x?unit",
        "[/]",
        "x\x1b[2J",
        "g" * 9000,
    ],
)
def test_what_is_no_address_is_told_and_never_used(text: str, tmp_path: Path) -> None:
    with Store.open(tmp_path / "store.sqlite3") as store:
        store.save_setup("Barn", DEMO_SETUP, utc_now(), {"meter": text})
        saved = store.latest_setup()
    assert saved is not None
    for is_imported in (False, True):
        opened = Workspace.of(msgspec.structs.replace(saved, is_imported=is_imported))
        assert (opened.meter_address, opened.offered_meter) == ("typed:", text)
    if text:
        told = offered_notice(text)
        assert "is no address of a meter. It is not offered." in told
        assert len(told) < 300
        assert told.isprintable()


@pytest.mark.parametrize("name", ["a&b", "a=b", "ü ?"])
def test_an_address_with_other_options_is_one_still(name: str) -> None:
    written = Address.parse("serial:COM3").with_options(**{name: "1&2"}, unit="m").text
    assert Address.parse(written).options == {name: "1&2", "unit": "m"}
