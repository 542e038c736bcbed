"""Bluetooth's presentation formats against the assigned numbers that ``bluetooth-sig`` ships.

The tables are the Bluetooth SIG's own YAML files inside that package; the layout is that of the
Core Specification, volume 3, part G, 3.3.3.5. The example of 3892 thousandths stands in the
reference of mbed's BLE_API, GattCharacteristic::PresentationFormat_t, field exponent.
"""

from __future__ import annotations

import contextlib
import math
import random
import struct
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from bluetooth_sig.gatt.characteristics.battery_level import BatteryLevelCharacteristic
from bluetooth_sig.gatt.characteristics.utils import DataParser
from bluetooth_sig.gatt.descriptors.characteristic_presentation_format import (
    CharacteristicPresentationFormatDescriptor,
    FormatType,
)
from bluetooth_sig.registry.core.formattypes import get_format_types_registry
from bluetooth_sig.registry.core.namespace_description import get_namespace_description_registry
from bluetooth_sig.registry.uuids.units import get_units_registry
from bluetooth_sig.types.uuid import BluetoothUUID
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput, LengthError
from witnessmark.meters.address import Address
from witnessmark.meters.port import Fault, Link, Noise
from witnessmark.meters.presentation import (
    LENGTH_UNITS,
    UNITLESS,
    NoValue,
    PresentationFormat,
    report_value,
)
from witnessmark.model import Reading
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import Backends
from witnessmark_simulators.bluetooth.memory import memory_backends
from witnessmark_simulators.bluetooth.meters import Speech, simulated_meter
from witnessmark_simulators.bluetooth.radio import Radio

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
METRE, YARD, INCH, FOOT = 0x2701, 0x27A0, 0x27A2, 0x27A3
REFERENCE = CharacteristicPresentationFormatDescriptor()


def form(text: str) -> PresentationFormat:
    return PresentationFormat.parse(bytes.fromhex(text))


def distance_mm(descriptor: str, value: str) -> float:
    return form(descriptor).distance_mm(bytes.fromhex(value))


@pytest.mark.parametrize(
    ("descriptor", "value", "mm", "described"),
    [
        ("06 FD 01 27 01 00 00", "34 0F", 3892.0, None),  # 3892: the reference of mbed's BLE_API
        ("06 FD 01 27 01 0D 01", "D2 09", 2514.0, "left"),
        ("08 FC 01 27 01 00 00", "A8 61 00 00", 2500.0, None),
        ("14 00 01 27 01 00 00", "60 E5 20 40", 2513.9999389648438, None),
        ("06 FE A2 27 01 0D 01", "16 0F", 980.948, "left"),
        ("0E FE A3 27 01 0E 01", "2C 01", 914.4, "right"),
        ("19 00 00 27 01 00 00", "32 2E 35 31 34 20 6D", 2514.0, None),
    ],
)
def test_worked_values(descriptor: str, value: str, mm: float, described: str | None) -> None:
    assert distance_mm(descriptor, value) == mm
    assert form(descriptor).described == described


@pytest.mark.parametrize(
    ("descriptor", "value", "words"),
    [
        ("10 FD 01 27 01 00 00", "18 FC FF FF", "above zero"),
        ("14 00 01 27 01 00 00", "00 00 C0 7F", "no value"),
        ("06 FD 01 27 01 00 00", "34", "a value of 1 bytes"),
        ("06 FD 02 27 01 00 00", "34 0F", "unit 0x2702 is not metre, foot, inch or yard"),
    ],
)
def test_refused_values(descriptor: str, value: str, words: str) -> None:
    with pytest.raises(LengthError, match=words):
        distance_mm(descriptor, value)


@pytest.mark.parametrize("descriptor", ["06 FD 01 27 01 00", "06 FD 01 27 01 00 00 00", ""])
def test_a_descriptor_has_seven_bytes(descriptor: str) -> None:
    with pytest.raises(BadInput, match="has 7 bytes"):
        form(descriptor)


@given(st.binary(min_size=7, max_size=7))
def test_the_layout_is_the_references(descriptor: bytes) -> None:
    mine = PresentationFormat.parse(descriptor)
    theirs = REFERENCE.parse_value(descriptor).value
    assert (mine.format, mine.exponent, mine.unit, mine.namespace, mine.description) == (
        theirs.format,
        theirs.exponent,
        theirs.unit,
        theirs.namespace,
        theirs.description,
    )


@pytest.mark.parametrize("unit", [*LENGTH_UNITS, UNITLESS])
def test_the_units_are_the_sigs(unit: int) -> None:
    names = {
        METRE: "metre",
        YARD: "yard",
        INCH: "inch",
        FOOT: "foot",
        UNITLESS: "unitless",
    }
    info = get_units_registry().get_unit_info(BluetoothUUID(unit))
    assert info is not None
    assert names[unit] in info.name


def test_there_is_no_millimetre_among_the_sigs_units() -> None:
    names = {info.name for info in get_units_registry().get_all_units()}
    assert not [name for name in names if "millimetre" in name and "mercury" not in name]


@pytest.mark.parametrize("description", range(0x115))
def test_the_descriptions_are_the_sigs(description: int) -> None:
    mine = PresentationFormat(0x06, -3, METRE, 1, description).described
    theirs = get_namespace_description_registry().resolve_description_name(description)
    if 1 <= description <= 255:
        assert mine == f"number {description}"
        assert theirs is not None
    else:
        assert (mine or "unknown") == (theirs or "unknown")


def test_a_description_of_another_name_space_means_nothing() -> None:
    assert PresentationFormat(0x06, -3, METRE, 2, 0x010D).described is None


INTEGERS = {
    FormatType.UINT8: (1, False),
    FormatType.UINT16: (2, False),
    FormatType.UINT24: (3, False),
    FormatType.UINT32: (4, False),
    FormatType.UINT48: (6, False),
    FormatType.UINT64: (8, False),
    FormatType.UINT128: (16, False),
    FormatType.SINT8: (1, True),
    FormatType.SINT16: (2, True),
    FormatType.SINT24: (3, True),
    FormatType.SINT32: (4, True),
    FormatType.SINT48: (6, True),
    FormatType.SINT64: (8, True),
    FormatType.SINT128: (16, True),
}


@pytest.mark.parametrize("code", INTEGERS)
@pytest.mark.parametrize(("unit", "unit_mm"), [(METRE, "1000"), (INCH, "25.4"), (YARD, "914.4")])
def test_every_width_of_whole_numbers(code: FormatType, unit: int, unit_mm: str) -> None:
    size, signed = INTEGERS[code]
    draw = random.Random(code * unit)
    for _ in range(50):
        exponent = draw.randint(-18, 3)
        fits = int(100_000 / Fraction(unit_mm) / Fraction(10) ** exponent)
        number = draw.randint(1, max(1, min(fits, 2 ** (8 * size - signed) - 2)))
        value = number.to_bytes(size, "little", signed=signed)
        mm = number * Fraction(10) ** exponent * Fraction(unit_mm)
        described = PresentationFormat(code, exponent, unit)
        if mm > 100_000:
            with pytest.raises(LengthError, match="over 100 m"):
                described.distance_mm(value)
        else:
            assert described.distance_mm(value) == float(mm)


@pytest.mark.parametrize("code", [FormatType.UINT8, FormatType.UINT16, FormatType.UINT32])
@given(st.data())
def test_whole_numbers_are_read_as_the_reference_does(
    code: FormatType, data: st.DataObject
) -> None:
    size, _ = INTEGERS[code]
    value = data.draw(st.binary(min_size=size, max_size=size))
    parse = {1: DataParser.parse_int8, 2: DataParser.parse_int16, 4: DataParser.parse_int32}[size]
    number = parse(bytearray(value), offset=0, signed=False)
    got = report_value(PresentationFormat(code, -9, METRE), value, at=AT, meter="x")
    if isinstance(got, Reading):
        assert got.distance_mm == pytest.approx(number * 1e-6, rel=1e-12)
    else:
        assert number in {0, 2 ** (8 * size) - 1}


def test_the_exponent_is_for_whole_numbers_alone() -> None:
    registry = get_format_types_registry()
    scaled = {code for code in range(0x1C) if _scales(code)}
    theirs = {
        code
        for code in range(1, 0x1C)
        if (info := registry.get_format_type_info(code)) and info.exponent
    }
    # 12 bits do not fill whole bytes and no packing is given for a single value
    assert scaled == theirs - {FormatType.UINT12, FormatType.SINT12}


def _scales(code: int) -> bool:
    """Whether the same bytes are another distance with another exponent."""
    one, ten = (PresentationFormat(code, exponent, METRE) for exponent in (0, 1))
    if not one.is_length or one.is_text:
        return False
    value = {4: struct.pack("<f", 1.5), 8: struct.pack("<d", 1.5)}
    for size in range(1, 17):
        with_one = value.get(size) if code in {0x14, 0x15} else b"\x01" + bytes(size - 1)
        try:
            return one.distance_mm(with_one or b"") != ten.distance_mm(with_one or b"")
        except LengthError:
            continue
    return False


@given(st.floats(2**-9, 100, width=32))
def test_float32_is_read_as_the_reference_does(metres: float) -> None:
    value = struct.pack("<f", metres)
    mm = PresentationFormat(FormatType.FLOAT32, 5, METRE).distance_mm(value)
    assert mm == pytest.approx(DataParser.parse_float32(bytearray(value), offset=0) * 1000)


@given(st.floats(0.001, 100))
def test_float64_keeps_every_digit(metres: float) -> None:
    value = struct.pack("<d", metres)
    mm = PresentationFormat(FormatType.FLOAT64, -7, METRE).distance_mm(value)
    assert Fraction(mm) == Fraction(float(Fraction(metres) * 1000))


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(("code", "packing"), [(0x14, "<f"), (0x15, "<d")])
def test_what_is_not_finite_is_no_value(number: float, code: int, packing: str) -> None:
    with pytest.raises(NoValue):
        PresentationFormat(code, 0, METRE).distance_mm(struct.pack(packing, number))


@pytest.mark.parametrize(
    ("code", "value", "mm"),
    [
        # IEEE 11073-20601 (from memory): 36.4 is FF00016C, mantissa 364 and exponent -1, both
        # two's complement; bluetooth-sig 0.6.0 reads the exponent as biased and is no reference
        (0x17, "6C 01 00 FF", 36_400.0),
        (0x17, "D2 09 00 FD", 2514.0),
        (0x16, "FB E0", 2510.0),
        (0x16, "72 F0", 11_400.0),
    ],
)
def test_medical_floats(code: int, value: str, mm: float) -> None:
    assert PresentationFormat(code, 3, METRE).distance_mm(bytes.fromhex(value)) == mm


@pytest.mark.parametrize("mantissa", [0x7FE, 0x7FF, 0x800, 0x801, 0x802])
def test_the_special_medical_floats_are_no_value(mantissa: int) -> None:
    # from memory: infinity, not a number, not at this resolution, reserved, minus infinity
    with pytest.raises(NoValue):
        PresentationFormat(0x16, 0, METRE).distance_mm(mantissa.to_bytes(2, "little"))


@pytest.mark.parametrize("code", [code for code in INTEGERS if INTEGERS[code][0] > 1])
def test_the_largest_number_of_a_format_is_no_value(code: FormatType) -> None:
    # common practice: the SIG's own characteristics say "not known" so
    size, signed = INTEGERS[code]
    largest = 2 ** (8 * size - signed) - 1
    value = largest.to_bytes(size, "little")
    got = report_value(PresentationFormat(code, -128, METRE), value, at=AT, meter="x")
    assert isinstance(got, Fault)


@pytest.mark.parametrize(
    "code",
    [FormatType.BOOLEAN, FormatType.UINT12, FormatType.UTF16S, FormatType.STRUCT, 0x00, 0xFF],
)
def test_other_formats_are_refused(code: int) -> None:
    odd = PresentationFormat(code, 0, METRE)
    assert not odd.is_length
    with pytest.raises(LengthError, match="neither a number nor UTF-8 text"):
        odd.distance_mm(b"\x01")


async def test_the_battery_level_is_percent() -> None:
    meter = simulated_meter(Speech.DESCRIBED, battery=b"\x55")
    backends = Backends(*memory_backends(Radio([meter])))
    driver = BleMeter(Address.parse(f"ble:{meter.address}"), backends=backends)
    async with contextlib.aclosing(driver.reports()) as reports:
        opened = await anext(reports)
    percent = BatteryLevelCharacteristic().parse_value(bytearray(b"\x55"))
    assert percent == 85
    assert isinstance(opened, Link)
    assert f"battery {percent} %" in opened.words


@given(st.binary(min_size=7, max_size=7), st.binary(max_size=20))
def test_any_bytes_are_a_distance_within_reach_or_a_reason(descriptor: bytes, value: bytes) -> None:
    got = report_value(PresentationFormat.parse(descriptor), value, at=AT, meter="x")
    check_report(got, value)


@given(
    st.sampled_from(sorted(LENGTH_UNITS)),
    st.integers(0, 255),
    st.integers(-128, 127),
    st.binary(max_size=20),
)
def test_any_length_is_a_distance_within_reach_or_a_reason(
    unit: int, code: int, exponent: int, value: bytes
) -> None:
    got = report_value(PresentationFormat(code, exponent, unit), value, at=AT, meter="x")
    check_report(got, value)


def check_report(report: Reading | Fault | Noise, value: bytes) -> None:
    assert report.raw == value
    if isinstance(report, Reading):
        assert 0 < report.distance_mm <= 100_000
    else:
        assert report.fault if isinstance(report, Fault) else report.why
