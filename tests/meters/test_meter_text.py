from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import UNSET

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.framing import Line, Rubbish
from witnessmark.meters.port import Fault, Noise
from witnessmark.meters.text import LineReader, report_line, unit_option
from witnessmark.model import Reading

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)


def report(line: bytes, unit: str | None = None, after: bytes = b"") -> Reading | Fault | Noise:
    return report_line(Line(line, after), at=AT, meter="serial:x", unit=unit)


def distance(line: str, unit: str | None = None) -> float | None:
    answer = report(line.encode(), unit)
    return answer.distance_mm if isinstance(answer, Reading) else None


@pytest.mark.parametrize(
    ("line", "mm"),
    [
        ("1.512 m", 1512.0),
        ("1.512m", 1512.0),
        ("12.345 mm", 12.345),
        ("151.234 cm", 1512.34),
        ("12.345  mm", 12.345),
        ("12.345 mm.", 12.345),
        ("12.345 Millimetres", 12.345),
        ("151.234 centimetres", 1512.34),
        ("  1.512 m  ", 1512.0),
        ("1.512\tm", 1512.0),
        ("+1.512 m", 1512.0),
        ("+ 1.512 M", 1512.0),
        ("0.512 m", 512.0),
        ("1,512 m", 1512.0),
        ("1.5124 metres", 1512.4),
        ("151.2 cm", 1512.0),
        ("151,2 cm", 1512.0),
        ("1512 mm", 1512.0),
        ("1512.4 mm", 1512.4),
        ("99.5 in", 2527.3),
        ('99 1/2"', 2527.3),
        ("8.25 ft", 2514.6),
        ("2.75 yd", 2514.6),
        ("8' 3 1/2\"", 2527.3),
        ("8′ 3½″", 2527.3),
        ("8ft 3-1/2in", 2527.3),
        ("100.0 m", 100_000.0),
    ],
)
def test_a_number_with_its_unit_is_a_distance(line: str, mm: float) -> None:
    assert distance(line) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("line", "unit", "mm"),
    [
        ("2.514", "m", 2514.0),
        ("2,514", "m", 2514.0),
        ("0.040", "m", 40.0),
        ("251.4", "cm", 2514.0),
        ("12", "mm", 12.0),
        ("1512", "mm", 1512.0),
        ("01512", "mm", 1512.0),
        ("99.5", "in", 2527.3),
        ("99 1/2", "in", 2527.3),
        ("8.25", "ft", 2514.6),
        ("1512 mm", "m", 1512.0),
    ],
)
def test_the_chosen_unit_is_that_of_bare_numbers_only(line: str, unit: str, mm: float) -> None:
    assert distance(line, unit) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "line",
    [
        "",
        "   ",
        "0",
        "0.000 m",
        "-1.512 m",
        "--",
        "nan",
        "inf m",
        "1e3 mm",
        "100.001 m",
        "123456",
        "1.512 m 1.513 m",
        "1.512 m 3",
        "1512 1513",
        "1.512.0 m",
        "1,512 mm",
        "1 512 mm",
        "1  512 mm",
        '8\u20113 1/2"',
        '8  - 3"',
        "8' 3½",
        "D: 1.512 m",
        "1.512 m #",
        "1.512 ells",
        "m",
        "l.512 m",
        "1O12",
        "0x5E8",
        "１５１２",
        "1512\x00",
        "\x1f1.512 m",
        "1.512\x1fm",
        "1.512 m\x1b[2J",
    ],
)
def test_anything_else_on_the_line_is_noise(line: str) -> None:
    assert isinstance(report(line.encode()), Noise)


@pytest.mark.parametrize("line", ["2.514", "4", "49.9", "2.514 ", "1512", "01512", "99 1/2"])
def test_a_bare_number_without_a_chosen_unit_is_told_and_no_distance(line: str) -> None:
    answer = report(line.encode())
    assert isinstance(answer, Noise)
    assert answer.bare == line.strip()
    assert "has no unit; say it after the address: ?unit=mm" in answer.why


@pytest.mark.parametrize("line", ["0", "123456", "1512 1513", "2026-11-28", "--", "hum"])
def test_what_is_a_distance_in_no_unit_asks_for_none(line: str) -> None:
    answer = report(line.encode())
    assert isinstance(answer, Noise)
    assert answer.bare is UNSET


def test_hexadecimal_numbers_are_never_read_as_decimal_ones() -> None:
    reader = LineReader("serial:x", "mm")
    lines = [b"0A3F", b"0732", b"1.512 m", b"0733"]
    answers = [reader.report(Line(line), AT) for line in lines]
    assert [type(answer) for answer in answers] == [Noise, Noise, Reading, Noise]
    assert isinstance(answers[1], Noise)
    assert answers[1].why.startswith("this meter sends hexadecimal numbers; teach it")
    assert answers[1].raw == b"0732"


@pytest.mark.parametrize(
    "line",
    [
        "4 m",
        "14 m",
        ".514 m",
        ",514 m",
        "5. m",
        "2 435 mm",
        "2m43",
        "2 m 43 cm",
        '8-3"',
        "8 ft",
        "8'",
        "2 yd",
        "1/2 m",
        "1/512 mm",
    ],
)
def test_the_end_of_a_cut_number_is_noise(line: str) -> None:
    assert isinstance(report(line.encode()), Noise)


@pytest.mark.parametrize("line", ["4", "14", ".514"])
def test_the_end_of_a_cut_bare_number_of_metres_is_noise(line: str) -> None:
    assert isinstance(report(line.encode(), "m"), Noise)


@pytest.mark.parametrize(
    "line",
    [
        "E7",
        "e204",
        "E 204",
        "E-04",
        "E15 no return",
        "ERR",
        "Err 31",
        "ERR204",
        "err:5",
        "Error: beam blocked",
        "ERROR",
        "error 12",
    ],
)
def test_an_error_line_is_a_fault_with_its_words(line: str) -> None:
    answer = report(f" {line} ".encode())
    assert answer == Fault(line, AT, "serial:x", f" {line} ".encode())


@pytest.mark.parametrize("line", ["errant", "Erratum", "E", "Eleven", "E1.512 m", "E1512345 mm"])
def test_what_only_begins_like_an_error_is_noise(line: str) -> None:
    assert isinstance(report(line.encode()), Noise)


def test_a_reading_carries_time_meter_and_bytes() -> None:
    assert report(b"1.512 m") == Reading(1512.0, AT, "serial:x", b"1.512 m")


def test_rubbish_is_noise_with_its_reason() -> None:
    answer = report_line(Rubbish(b"1512", "broke off"), at=AT, meter="serial:x")
    assert answer == Noise("broke off", AT, "serial:x", b"1512")


@pytest.mark.parametrize(
    ("after", "line"),
    [(b"1", b"512"), (b"1.", b"512 m"), (b"15", b"12"), (b"E", b"204"), (b"ERR ", b"204")],
)
def test_what_may_be_the_rest_of_a_broken_line_is_noise(after: bytes, line: bytes) -> None:
    assert isinstance(report(line, after=after), Noise)


@pytest.mark.parametrize(
    ("after", "line"), [(b"1.5", b"2.345 m"), (b"15", b"1733 mm"), (b"\xff\x00", b"1.512 m")]
)
def test_what_cannot_be_the_rest_of_a_broken_line_is_a_distance(after: bytes, line: bytes) -> None:
    assert report(line, after=after) == report(line)
    assert isinstance(report(line), Reading)


@given(st.binary(max_size=60), st.sampled_from([None, "mm", "m", "in"]), st.binary(max_size=10))
def test_any_bytes_are_answered(line: bytes, unit: str | None, after: bytes) -> None:
    answer = report(line, unit, after)
    assert answer.raw == line
    if isinstance(answer, Reading):
        assert 0 < answer.distance_mm <= 100_000


WHOLE_LINES = st.builds(
    "{:.3f} m".format, st.integers(200, 60_000).map(lambda mm: mm / 1000)
) | st.integers(200, 60_000).map("{} mm".format)


OTHER_LINES = "0123456789.,+ \tmMcC"
"""Signs that turn a line into another that is right by itself."""


@given(WHOLE_LINES, st.data())
def test_a_line_with_a_foreign_byte_is_never_a_distance(line: str, data: st.DataObject) -> None:
    foreign = data.draw(st.sampled_from([n for n in range(256) if chr(n) not in OTHER_LINES]))
    place = data.draw(st.integers(0, len(line)))
    spoiled = line[:place].encode() + bytes([foreign]) + line[place:].encode()
    assert not isinstance(report(spoiled), Reading)


@given(WHOLE_LINES, WHOLE_LINES)
def test_two_lines_run_together_are_never_a_distance(one: str, other: str) -> None:
    assert not isinstance(report((one + other).encode()), Reading)


@given(st.integers(1000, 60_000), st.data())
def test_the_rest_of_a_line_of_metres_is_right_or_refused(mm: int, data: st.DataObject) -> None:
    line = f"{mm / 1000:.3f} m"
    rest = line[data.draw(st.integers(1, len(line))) :]
    got = distance(rest)
    # only whole digits before the dot may go unseen; the splitter and the port look after those
    assert got is None or math.isclose(got, mm % 10_000)


def test_the_unit_of_an_address_is_checked() -> None:
    assert unit_option(Address.parse("serial:x?unit=ft")) == "ft"
    assert unit_option(Address.parse("serial:x")) is None
    with pytest.raises(BadInput, match='no unit "ells"; choose mm, cm, m, in, ft or yd'):
        unit_option(Address.parse("serial:x?unit=ells"))
