"""Modbus RTU against the frames of its specifications and an independent CRC.

Sources: MODBUS over Serial Line V1.02; MODBUS Application Protocol V1.1b3. Checksums are recomputed
with crccheck 1.3, answers are put together with struct as the latter lays them out. pymodbus, which
the driver decodes with, has no say here.
"""

from __future__ import annotations

import struct
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from crccheck.crc import CrcModbus
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.meters.checksum import Checksum
from witnessmark.meters.number import NumberType, Order, number_in
from witnessmark.meters.port import MeterSaysNo
from witnessmark.meters.profile import Modbus
from witnessmark.meters.profile_values import Register, Unit
from witnessmark.model import Reading
from witnessmark_drivers.modbus import EXCEPTIONS, RegisterReader, RegisterRequest
from witnessmark_drivers.serial_port import READ_S
from witnessmark_simulators.binary import crc16
from witnessmark_simulators.modbus_slave import ModbusSlave, with_checksum

AT = datetime(2026, 1, 2, tzinfo=UTC)

ON_THE_WIRE = {
    "02 07": "41 12",  # Serial Line V1.02, the section on the CRC
    "31 32 33 34 35 36 37 38 39": "37 4B",  # "123456789": the CRC catalogue's check (from memory)
    "11 03 00 6B 00 03": "76 87",  # the example of function 03, for unit 11
    "01 03 00 6B 00 03": "74 17",
    "01 03 06 02 2B 00 00 00 64": "05 7A",  # V1.1b3, 6.3
    "01 04 00 08 00 01": "B0 08",  # V1.1b3, 6.4
    "01 04 02 00 0A": "39 37",
    # no source but crccheck, from here on
    "01 03 00 00 00 0A": "C5 CD",
    "01 03 00 00 00 02": "C4 0B",
    "01 04 00 00 00 01": "31 CA",
    "01 04 02 FF FF": "B8 80",
    "01 83 02": "C0 F1",
    "01 84 02": "C2 C1",
}


@pytest.mark.parametrize(("frame", "wire"), ON_THE_WIRE.items())
def test_checksums_on_the_wire(frame: str, wire: str) -> None:
    data = bytes.fromhex(frame)
    ours = Checksum.CRC16_MODBUS.of(data)
    assert ours == bytes.fromhex(wire)
    assert ours == CrcModbus.calc(data).to_bytes(2, "little")
    assert ours == crc16(data).to_bytes(2, "little")


@given(st.binary(min_size=1, max_size=64))
def test_checksums_of_anything(data: bytes) -> None:
    ours = Checksum.CRC16_MODBUS.of(data)
    assert ours == CrcModbus.calc(data).to_bytes(2, "little")
    # over a frame with its checksum the remainder is zero
    assert Checksum.CRC16_MODBUS.of(data + ours) == b"\0\0"


def test_the_checksum_of_another_unit_is_wrong() -> None:
    # the checksum of unit 11 after a frame for unit 1; by crccheck the remainder is 0C01
    frame = bytes.fromhex("01 03 00 6B 00 03 76 87")
    assert CrcModbus.calc(frame) == 0x0C01
    assert Checksum.CRC16_MODBUS.of(frame) == (0x0C01).to_bytes(2, "little")
    assert ModbusSlave({3: [0] * 200}).answer(frame) == b""


@pytest.mark.parametrize(
    ("device", "function", "register", "count", "wire"),
    [
        (0x11, 3, 0x6B, 3, "11 03 00 6B 00 03 76 87"),
        (1, 3, 0x6B, 3, "01 03 00 6B 00 03 74 17"),
        (1, 4, 8, 1, "01 04 00 08 00 01 B0 08"),
        (1, 3, 0, 10, "01 03 00 00 00 0A C5 CD"),
        (1, 3, 0, 2, "01 03 00 00 00 02 C4 0B"),
        (1, 4, 0, 1, "01 04 00 00 00 01 31 CA"),
    ],
)
def test_requests(device: int, function: int, register: int, count: int, wire: str) -> None:
    assert RegisterRequest(device, function, register, count).data == bytes.fromhex(wire)


@pytest.mark.parametrize(
    ("function", "wire", "registers"),
    [
        (3, "01 03 06 02 2B 00 00 00 64 05 7A", (555, 0, 100)),  # V1.1b3, 6.3
        (4, "01 04 02 00 0A 39 37", (10,)),  # V1.1b3, 6.4
        (4, "01 04 02 FF FF B8 80", (65535,)),  # laid out as 6.4, checksum by crccheck
    ],
)
def test_answers(function: int, wire: str, registers: tuple[int, ...]) -> None:
    request = RegisterRequest(1, function, 0, len(registers))
    assert request.registers_in(bytes.fromhex(wire)) == registers


@pytest.mark.parametrize("function", [3, 4])
@pytest.mark.parametrize("code", EXCEPTIONS)
def test_exceptions(function: int, code: int) -> None:
    # V1.1b3, section 7: the function + 80, and a code
    answer = with_checksum(bytes([1, function | 0x80, code]))
    with pytest.raises(MeterSaysNo, match=f"Modbus {code:02X}"):
        RegisterRequest(1, function, 0, 1).registers_in(answer)


def test_exception_codes() -> None:
    # V1.1b3, section 7
    assert set(EXCEPTIONS) == {1, 2, 3, 4, 5, 6, 8, 0x0A, 0x0B}
    assert "function" in EXCEPTIONS[1]
    assert "register" in EXCEPTIONS[2]
    assert "value" in EXCEPTIONS[3]
    assert "fail" in EXCEPTIONS[4]
    assert "busy" in EXCEPTIONS[6]


def test_the_last_of_a_hundred_registers() -> None:
    # V1.1b3, section 7: registers 0 to 99, from 96 on four are there and five are not
    slave = ModbusSlave({3: list(range(100))})
    request = RegisterRequest(1, 3, 96, 4)
    assert request.registers_in(slave.answer(request.data)) == (96, 97, 98, 99)
    request = RegisterRequest(1, 3, 96, 5)
    with pytest.raises(MeterSaysNo, match="no such register"):
        request.registers_in(slave.answer(request.data))


def test_silent_gaps() -> None:
    # Serial Line V1.02, 2.5.1.1: 1.5 and 3.5 characters of 11 bits
    character_us = Fraction(11 * 10**6, 9600)
    assert float(character_us * Fraction(3, 2)) == pytest.approx(1718.75)
    assert float(character_us * Fraction(7, 2)) == pytest.approx(4010.42, abs=5e-3)
    # 750 us and 1.75 ms above 19200 Bd (from memory) are shorter still: the reader's own pause is
    # longer than any of them, so that it never cuts a frame of a sound device
    assert 10 * character_us * Fraction(7, 2) < READ_S * 1e6


def test_a_float_in_two_registers() -> None:
    data = bytes.fromhex("4020 E560")
    assert float(number_in(data, NumberType.FLOAT32, Order.BIG)) == pytest.approx(2.514, abs=1e-7)
    modbus = Modbus(type=NumberType.FLOAT32, unit=Unit("m"), register=Register(0))
    answer = with_checksum(bytes.fromhex("01 03 04") + data)
    reading = RegisterReader(modbus, "meter", lambda: AT).outcome(answer)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(2514, abs=1e-3)
    little = Modbus(
        type=NumberType.FLOAT32, unit=Unit("m"), register=Register(0), word_order=Order.LITTLE
    )
    assert little.in_registers((0xE560, 0x4020)) == reading.distance_mm


@given(st.lists(st.integers(0, 65535), min_size=1, max_size=8), st.integers(1, 247))
def test_answers_laid_out_as_in_the_specification_are_read_and_given(
    values: list[int], device: int
) -> None:
    # V1.1b3, 6.3: unit, function, count of bytes, registers with the high byte first; Serial Line
    # V1.02, 2.5.1: then the checksum with its low byte first
    slave = ModbusSlave({3: values}, device)
    request = RegisterRequest(device, 3, 0, len(values))
    body = struct.pack(f">BBB{len(values)}H", device, 3, 2 * len(values), *values)
    answer = body + struct.pack("<H", CrcModbus.calc(body))
    assert slave.answer(request.data) == answer
    assert request.registers_in(answer) == tuple(values)


@given(st.binary(max_size=40))
def test_a_distance_only_ever_comes_from_a_right_answer(data: bytes) -> None:
    modbus = Modbus(type=NumberType.UINT32, unit=Unit("mm"), register=Register(0))
    outcome = RegisterReader(modbus, "meter", lambda: AT).outcome(data)
    if isinstance(outcome, Reading):
        assert len(data) == 9
        assert data[:3] == b"\x01\x03\x04"
        assert data[7:] == CrcModbus.calc(data[:7]).to_bytes(2, "little")
        assert outcome.distance_mm == struct.unpack(">I", data[3:7])[0]
