"""Text in notifications: lines cut anywhere, values without line ends, and what is no text."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.meters.port import Fault, Noise
from witnessmark.model import Reading
from witnessmark_drivers.ble_text import TextDecoder

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
LATER = AT + timedelta(seconds=1)

Outcomes = list[Reading | Fault | Noise]


def fed(*notifications: bytes, unit: str | None = None) -> Outcomes:
    """What these notifications bring when a pause follows the last."""
    decoder = TextDecoder("ble:x", unit)
    outcomes = [one for data in notifications for one in decoder.feed(data, AT)]
    return outcomes + decoder.break_off("the line broke off", LATER)


def distances(outcomes: Outcomes) -> list[float]:
    return [one.distance_mm for one in outcomes if isinstance(one, Reading)]


@pytest.mark.parametrize(
    "notifications",
    [
        [b"1512 mm\r\n1.513 m\r\n"],
        [b"1512 mm\r\n", b"1.513 m\r\n"],
        [b"15", b"12 mm", b"\r", b"\n1.", b"513 m\r", b"\n"],
        [b"1512 mm\n1.51", b"3 m\n"],
        [b"1512 mm\0", b"1.513 m\0\0\0\0"],
        [b"1512 mm", b"1.513 m"],
        [b"1512 mm", b"\r\n1.513 m\r\n"],
    ],
)
def test_readings_however_they_are_cut(notifications: list[bytes]) -> None:
    assert distances(fed(*notifications)) == [1512.0, 1513.0]


LINES = st.lists(
    st.integers(100, 60_000).map(lambda mm: f"{mm / 1000:.3f} m"), min_size=1, max_size=6
)


@given(LINES, st.data())
def test_the_cuts_of_whole_lines_make_no_difference(lines: list[str], data: st.DataObject) -> None:
    stream = "".join(f"{line}\r\n" for line in lines).encode()
    first = 1 + stream.index(b"\n")
    cuts = sorted(data.draw(st.lists(st.integers(first, len(stream)), max_size=9)))
    ends = zip([0, *cuts], [*cuts, len(stream)], strict=True)
    outcomes = fed(*(stream[start:end] for start, end in ends))
    assert distances(outcomes) == pytest.approx([float(line[:-2]) * 1000 for line in lines])


@given(LINES)
def test_values_without_line_ends_come_each_once(values: list[str]) -> None:
    outcomes = fed(*(value.encode() for value in values))
    assert distances(outcomes) == pytest.approx([float(value[:-2]) * 1000 for value in values])


def test_the_first_value_without_line_end_waits_and_the_next_come_at_once() -> None:
    decoder = TextDecoder("ble:x", None)
    assert decoder.feed(b"1.512 m", AT) == []
    assert decoder.waits
    assert decoder.break_off("the line broke off", LATER) == [
        Reading(1512.0, AT, "ble:x", b"1.512 m")
    ]
    assert decoder.feed(b"1.513 m", LATER) == [Reading(1513.0, LATER, "ble:x", b"1.513 m")]
    assert not decoder.waits


@pytest.mark.parametrize("data", [b"1512", b"1.512", b"1512 ", b"151", b"8' 3"])
def test_a_text_without_unit_and_line_end_may_be_cut_and_is_no_distance(data: bytes) -> None:
    (noise,) = fed(data, unit="m")
    assert noise == Noise("the line broke off", LATER, "ble:x", data)


def test_a_line_that_broke_off_never_joins_the_next() -> None:
    decoder = TextDecoder("ble:x", None)
    decoder.feed(b"1511 mm\r\n1", AT)
    assert decoder.break_off("the line broke off", LATER) == [
        Noise("the line broke off", LATER, "ble:x", b"1")
    ]
    rest, whole = decoder.feed(b"512 mm\r\n1513 mm\r\n", LATER)
    assert isinstance(rest, Noise)
    assert distances([whole]) == [1513.0]


def test_a_meter_that_ends_its_lines_is_held_to_it() -> None:
    assert distances(fed(b"1512 mm\r\n1.513 m")) == [1512.0]


def test_a_bare_number_is_in_the_unit_that_was_chosen() -> None:
    assert distances(fed(b"2.5\r\n", unit="m")) == [2500.0]


def test_an_error_cut_over_packets_is_one_fault() -> None:
    (fault,) = fed(b"Error: too little li", b"ght comes back\r\n")
    assert fault == Fault(
        "Error: too little light comes back", AT, "ble:x", b"Error: too little light comes back"
    )


@pytest.mark.parametrize(
    "data", [b"\x00\x011512", b"1512\r\n\x7f", b"\xa51512 mm\r\n", b"\n1512\n\x80", b"\x1b"]
)
def test_a_notification_that_is_not_text_all_through_means_nothing(data: bytes) -> None:
    (noise,) = fed(data)
    assert noise == Noise(
        "these bytes are not text; a profile may know them: ?profile=NAME", AT, "ble:x", data
    )


def test_what_had_begun_before_bytes_that_are_no_text_is_no_distance_with_what_follows() -> None:
    outcomes = fed(b"1511 mm\r\n1", b"\xff\xff", b"512 mm\r\n")
    assert distances(outcomes) == [1511.0]


@given(st.lists(st.binary(max_size=20), max_size=20))
def test_any_bytes_are_taken(notifications: list[bytes]) -> None:
    for outcome in fed(*notifications):
        assert not isinstance(outcome, Reading) or 0 < outcome.distance_mm <= 100_000


@given(st.binary(min_size=1, max_size=20), st.integers(0, 20))
def test_a_notification_with_a_byte_that_is_no_text_is_never_a_distance(
    data: bytes, place: int
) -> None:
    spoiled = data[:place] + b"\x01" + data[place:] + b"."
    assert not distances(fed(spoiled))
