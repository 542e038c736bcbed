"""What comes by the keyboard, as records: a meter's lines and what a person typed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from witnessmark.meters.port import Fault, Noise
from witnessmark.model import BY_TAPE, Reading
from witnessmark.session.by_keyboard import line_report, typed_reading

AT = datetime(2026, 5, 6, 7, 8, tzinfo=UTC)
IN_METRES = "typed:?unit=m"


@pytest.mark.parametrize(
    ("address", "text", "mm"),
    [
        ("typed:?unit=mm", "1215", 1215.0),
        ("typed:", "1.215 m", 1215.0),
        (IN_METRES, "1.215", 1215.0),
        (IN_METRES, "1215 mm", 1215.0),
        ("typed:?unit=in", "47.83", 1214.882),
        ("typed:?unit=ft", "3.986", 1214.9328),
        ("sim:", "1215 mm", 1215.0),
    ],
)
def test_a_line_is_read_in_the_chosen_unit(address: str, text: str, mm: float) -> None:
    report = line_report(text, AT, address, whole=True)
    assert isinstance(report, Reading)
    assert report.distance_mm == pytest.approx(mm)
    assert report.raw == text.encode()
    assert report.meter == (address if address.startswith("typed:") else "typed:")


@pytest.mark.parametrize(
    ("address", "text"),
    [
        ("typed:", "1.215"),
        ("typed:", "1215"),
        (IN_METRES, "215"),
        (IN_METRES, ".215"),
        ("typed:", "17'3"),  # of 17'3 1/2"
        ("typed:", "6`9.353"),
        ("typed:?unit=ft", "17 ft 3"),
        ("typed:", "qwert"),
    ],
)
def test_what_lacks_its_unit_or_may_be_the_rest_of_a_line_is_no_distance(
    address: str, text: str
) -> None:
    assert isinstance(line_report(text, AT, address, whole=True), Noise)


def test_a_meters_own_error_is_its_fault() -> None:
    assert isinstance(line_report("Err 31", AT, "typed:", whole=True), Fault)
    assert isinstance(line_report("1215", AT, "typed:", whole=False), Noise)


def test_what_a_person_types_is_off_the_meter_only_where_that_is_the_keyboard() -> None:
    assert typed_reading(1215.0, "1215", AT, IN_METRES).meter == IN_METRES
    assert typed_reading(1215.0, "1215", AT, "serial:COM3").meter == BY_TAPE
