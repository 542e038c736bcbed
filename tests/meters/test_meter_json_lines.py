from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.meters.json_lines import from_json_line, to_json_line
from witnessmark.meters.port import Fault
from witnessmark.model import Reading

AT = datetime(2026, 1, 2, 10, 0, 0, 250_000, tzinfo=UTC)
TIMES = st.datetimes(datetime(2, 1, 1), datetime(9998, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001
READINGS = st.builds(
    Reading, st.floats(0.001, 100_000), TIMES, st.text(max_size=20), st.binary(max_size=20)
)
FAULTS = st.builds(Fault, st.text(max_size=20), TIMES, st.text(max_size=20), st.binary(max_size=20))


def test_the_keys_are_those_promised() -> None:
    line = to_json_line(Reading(1512.0, AT, "typed:", b"1.512 m"))
    assert json.loads(line) == {
        "distance_mm": 1512.0,
        "at": "2026-01-02T10:00:00.250000Z",
        "meter": "typed:",
        "raw": "312e353132206d",
    }
    line = to_json_line(Fault("E7", AT, "typed:"))
    assert list(json.loads(line)) == ["fault", "at", "meter", "raw"]


@given(READINGS | FAULTS)
def test_what_is_printed_is_read_back(report: Reading | Fault) -> None:
    line = to_json_line(report)
    assert "\n" not in line
    assert from_json_line(line) == report


def test_another_time_zone_is_turned_into_utc() -> None:
    east = AT.astimezone(timezone(timedelta(hours=2)))
    again = from_json_line(to_json_line(Reading(1.0, east, "x")))
    assert again.at == AT
    assert again.at.tzinfo is UTC


GOOD = {"distance_mm": 1.0, "at": "2026-01-02T10:00:00Z", "meter": "x", "raw": ""}


@pytest.mark.parametrize(
    "change",
    [
        {"distance_mm": -1.0},
        {"distance_mm": 0.0},
        {"distance_mm": 100_001.0},
        {"distance_mm": "1512"},
        {"distance_mm": None},
        {"fault": "E7"},
        {"at": "2026-01-02T10:00:00"},
        {"at": "yesterday"},
        {"at": "9999-12-31T23:59:59-05:00"},
        {"at": "0001-01-01T00:00:00+05:00"},
        {"at": "0001-06-01T00:00:00Z"},
        {"at": "9999-06-01T00:00:00Z"},
        {"raw": "3"},
        {"raw": "zz"},
        {"raw": "31 32"},
        {"distance": 1.0},
    ],
)
def test_a_wrong_line_is_bad_input(change: dict[str, object]) -> None:
    with pytest.raises(BadInput, match="not a reading as JSON"):
        from_json_line(json.dumps(GOOD | change))


@pytest.mark.parametrize("text", ["", "{", "[]", '{"distance_mm": NaN}', '{"at": 1}'])
def test_what_is_no_such_object_is_bad_input(text: str) -> None:
    with pytest.raises(BadInput, match="not a reading as JSON"):
        from_json_line(text)


@pytest.mark.parametrize("key", ["\n", "\0", "\x1b[2J", "x" * 3000])
def test_a_key_of_others_is_told_in_one_short_line(key: str) -> None:
    with pytest.raises(BadInput) as caught:
        from_json_line(json.dumps(GOOD | {key: 1}))
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 400
