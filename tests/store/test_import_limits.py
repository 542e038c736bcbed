"""A file of somebody else: no figure out of all reason, and no text without end, comes in by it."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.driver_reports import checked_report
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    AngleReading,
    Impression,
    Pair,
    Placement,
    Reading,
    Room,
    Seat,
    Setup,
    Side,
    TiltTaken,
    Trial,
    Varied,
)
from witnessmark.store.export.transfer import export_to, import_from, import_room
from witnessmark.store.records import JournalEntry, SetupBody
from witnessmark.store.store import Store
from witnessmark_drivers.typed import Typed
from witnessmark_simulators.scenario import DEMO_SETUP

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)


def imported(tmp_path: Path, setup: Setup, *entries: JournalEntry, words: str = "dry") -> Store:
    """A store into which a room was imported that another store holds."""
    file = tmp_path / "barn.room"
    targets = Pair(Placement(1450.0, 1900.0, 8.0), Placement(1450.0, 1900.0, 8.0))
    with Store.open(tmp_path / "stranger.sqlite3") as store:
        round_id = store.start_round(store.save_setup("Barn", setup, AT), AT)
        for entry in entries:
            store.append(round_id, entry)
        store.keep("Barn", round_id, Trial(AT, Varied.STATION, targets, Impression(words=words)))
        export_to(store, "Barn", file)
    own = Store.open(tmp_path / "own.sqlite3")
    try:
        import_from(own, file)
    except BadInput:
        assert own.rooms() == []
        own.close()
        raise
    return own


def test_what_is_in_order_comes_in(tmp_path: Path) -> None:
    with imported(tmp_path, DEMO_SETUP, Reading(1512.0, AT, "sim:", b"x")) as own:
        assert [room.name for room in own.rooms()] == ["Barn"]


@pytest.mark.parametrize(
    ("setup", "field"),
    [
        (msgspec.structs.replace(DEMO_SETUP, seat=Seat(1e9, 2680.0)), "seat.from_front"),
        (msgspec.structs.replace(DEMO_SETUP, seat=Seat(4400.0, -1e9)), "seat.from_left"),
        (msgspec.structs.replace(DEMO_SETUP, temperature_c=60.0), "temperature: 60 degrees C"),
        (msgspec.structs.replace(DEMO_SETUP, seat=Seat(4400.0, 2680.0, -1.0)), "seat.ear_height"),
        (
            msgspec.structs.replace(DEMO_SETUP, room=Room.rectangular(5360, 7240, -2400.0)),
            "room.height",
        ),
        (
            msgspec.structs.replace(DEMO_SETUP, tilt_targets_deg=Pair(None, 1e8)),
            "tilt_targets.right",
        ),
        (
            msgspec.structs.replace(
                DEMO_SETUP, targets=Pair(Placement(1450.0, 1900.0, 800.0), None)
            ),
            "toe_in",
        ),
    ],
)
def test_a_setup_out_of_all_reason_is_refused(tmp_path: Path, setup: Setup, field: str) -> None:
    with pytest.raises(BadInput, match=field):
        imported(tmp_path, setup)


@pytest.mark.parametrize(
    "entry",
    [
        Reading(-1e308, AT, "sim:"),
        Reading(-5.0, AT, "sim:"),
        Reading(1e9, AT, "sim:"),
        Reading(1512.0, AT, "x" * 20_000),
        Fault("x" * 20_000, AT, "sim:"),
        TiltTaken(Side.LEFT, AngleReading(31.0), AT),
        Noise("hum", AT, "sim:", b"x" * 64_001),
    ],
    ids=lambda entry: repr(entry)[:40],
)
def test_an_entry_out_of_all_reason_is_refused(tmp_path: Path, entry: JournalEntry) -> None:
    with pytest.raises(BadInput, match=r"line \d+: .*nothing was taken from it"):
        imported(tmp_path, DEMO_SETUP, entry)


@pytest.mark.parametrize(
    ("stored", "shown"),
    [
        ("0001-01-01T00:00:00.000000+00:00", "saved_at: the year 1 is no time of a record"),
        ("9999-12-31T23:59:59.000000+00:00", "saved_at: the year 9999 is no time of a record"),
        ("9999-12-31T23:59:59.000000-05:00", "line 2 is damaged or of a newer witnessmark"),
    ],
)
def test_a_time_that_no_clock_shows_is_refused(tmp_path: Path, stored: str, shown: str) -> None:
    words = of_hand(tmp_path, {"what": "setup", "key": "k", "saved_at": stored, "name": "Barn"})
    assert shown in words


def test_a_choice_of_hundreds_of_digits_is_refused(tmp_path: Path) -> None:
    body = {"setup": msgspec.to_builtins(DEMO_SETUP), "choices": {"bell": 10**400}}
    words = of_hand(tmp_path, setup_line(body))
    assert "choices: so large a number must lie between -1000000000 and 1000000000" in words


def test_a_setup_nested_without_end_is_refused(tmp_path: Path) -> None:
    body = msgspec.Raw(b'{"setup": ' + b"[" * 100_000 + b"]" * 100_000 + b"}")
    assert "line 2 is damaged" in of_hand(tmp_path, setup_line(body))


def setup_line(body: object) -> dict[str, object]:
    at = "2026-01-02T10:00:00.000000+00:00"
    return {"what": "setup", "key": "k", "saved_at": at, "name": "Barn", "body": body}


def of_hand(tmp_path: Path, line: dict[str, object]) -> str:
    """Return the sentence about a file with this one line and no seal."""
    body = {"setup": msgspec.to_builtins(DEMO_SETUP), "choices": {}}
    head = {"format": "witnessmark room 1", "room": "Barn"}
    parts = (head, {"body": body} | line)
    text = b"".join(as_json(part) + b"\n" for part in parts)
    with Store.open(tmp_path / "own.sqlite3") as own:
        with pytest.raises(BadInput) as caught:
            import_room(own, io.BytesIO(text), "barn.room")
        assert own.rooms() == []
    return str(caught.value)


def as_json(part: dict[str, object]) -> bytes:
    """JSON whose numbers may have any number of digits."""
    raw = part.get("body")
    if isinstance(raw, msgspec.Raw):
        return msgspec.json.encode(part)
    return json.dumps(part).encode()


def test_all_that_a_driver_may_bring_comes_in_with_the_room(tmp_path: Path) -> None:
    driver = Typed(Address.parse("typed:"))
    brought = checked_report(driver, Noise("hum", AT, "fake:x", b"x" * 64_000))
    assert isinstance(brought, Noise)
    assert len(brought.raw) == 64_000
    with imported(tmp_path, DEMO_SETUP, brought) as own:
        assert own.entries(1) == [brought]


def test_words_without_end_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="over 10000 signs"):
        imported(tmp_path, DEMO_SETUP, words="x" * 2_000_000)


def test_each_line_is_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # a setup may hold thousands of corners, each of which is checked as it is read
    calls = []

    def counted(text: str) -> SetupBody:
        calls.append(text)
        return from_json(text)

    with imported(tmp_path, DEMO_SETUP):
        pass
    from_json = SetupBody.from_json
    monkeypatch.setattr(SetupBody, "from_json", counted)
    with Store.open(tmp_path / "third.sqlite3") as store:
        import_from(store, tmp_path / "barn.room")
    assert len(calls) == 1


def test_the_name_of_a_file_is_no_longer_than_one_of_a_room(tmp_path: Path) -> None:
    head = msgspec.json.encode({"format": "witnessmark room 1", "room": "x" * 201})
    with Store.open(tmp_path / "own.sqlite3") as own:
        with pytest.raises(BadInput, match="line 1: its room has a name of over 200 signs"):
            import_room(own, io.BytesIO(head + b"\n"), "barn.room")
        assert own.rooms() == []
