"""Frames put together from parts, a meter that speaks them, and meters made up at random."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from crccheck.crc import CrcModbus
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.model import Meter
from witnessmark_simulators.binary import (
    BinaryVoice,
    Moment,
    angle,
    charge,
    constant,
    counter,
    crc16,
    crc16_modbus,
    float_distance,
    frame,
    status,
    sum8,
    sum8_negated,
    whole_distance,
    xor8,
)
from witnessmark_simulators.made_up import draw_meter, draw_riddle
from witnessmark_simulators.meter import Answer, ImperfectMeter, fault
from witnessmark_simulators.modbus_slave import ModbusSlave, with_checksum


def test_parts_follow_one_another() -> None:
    moment = Moment(2514.0, count=258, angle_deg=-1.5, charge=87, status=3)
    parts = [
        constant(b"\xa5"),
        counter(2, "big"),
        whole_distance(3, "little", 0.1),
        angle(2, "big"),
        charge(),
        status(),
        sum8(),
    ]
    body = b"\xa5" + b"\x01\x02" + (25140).to_bytes(3, "little") + struct.pack(">h", -15) + b"W\x03"
    assert frame(parts, moment) == body + bytes([sum(body) % 256])


def test_floats_and_a_status_that_is_well() -> None:
    parts = [float_distance(4, "big", 1000.0), status(0x41), xor8()]
    body = struct.pack(">f", 2.514) + b"A"
    assert frame(parts, Moment(2514.0))[:-1] == body


def test_what_is_too_long_is_all_ones() -> None:
    assert frame([whole_distance(2, "big", 1.0)], Moment(70_000.0)) == b"\xff\xff"


@given(st.binary(min_size=3, max_size=30), st.integers(0, 2))
def test_checksums(data: bytes, left_out: int) -> None:
    covered = data[left_out:]
    start = constant(data)
    assert frame([start, sum8(left_out)], Moment(0.0))[-1] == sum(covered) % 256
    assert (frame([start, sum8_negated(left_out)], Moment(0.0))[-1] + sum(covered)) % 256 == 0
    assert frame([constant(covered), xor8(), xor8()], Moment(0.0))[-1] == 0
    assert crc16(data) == CrcModbus.calc(data)
    assert frame([start, crc16_modbus()], Moment(0.0))[-2:] == CrcModbus.calc(data).to_bytes(
        2, "little"
    )


def test_a_meter_says_its_answers_in_frames() -> None:
    voice = BinaryVoice([constant(b"\xa5"), whole_distance(2, "big", 1.0), status()])
    meter = ImperfectMeter(Meter(zero_mm=0.0), np.random.default_rng(1))
    answer = meter.press(2514.0)
    said = voice(answer)
    assert said.distance_mm == answer.distance_mm
    assert said.raw == struct.pack(">BHB", 0xA5, int(answer.distance_mm or 0), 0)
    meter.misbehave_next(fault("dark"))
    assert voice(meter.press(2514.0)).raw[-1] == 1
    assert voice(Answer(b"rubbish")) == Answer(b"rubbish")


def test_the_same_seed_makes_up_the_same_meters() -> None:
    one, other = (np.random.default_rng(5) for _ in range(2))
    for _ in range(20):
        first, second = draw_meter(one), draw_meter(other)
        assert first.words == second.words
        assert first.send(1512.0) == second.send(1512.0)
        assert draw_riddle(one).send(900.0) == draw_riddle(other).send(900.0)


def test_made_up_meters_are_of_all_sorts() -> None:
    rng = np.random.default_rng(6)
    meters = [draw_meter(rng) for _ in range(200)]
    in_text = sum(meter.words.startswith("text") for meter in meters)
    in_packets = sum(meter.in_packets for meter in meters)
    assert 50 < in_text < 110
    assert 70 < in_packets < 130
    assert len({meter.words for meter in meters}) > 60


@pytest.mark.parametrize(
    ("request_hex", "answer_hex"),
    [
        ("01 03 00 01 00 02", "01 03 04 00 65 00 66"),
        ("01 03 00 63 00 02", "01 83 02"),
        ("01 03 00 00 00 00", "01 83 03"),
        ("01 06 00 00 00 01", "01 86 01"),
        ("02 03 00 00 00 01", ""),
    ],
)
def test_a_slave_answers_what_is_asked(request_hex: str, answer_hex: str) -> None:
    slave = ModbusSlave({3: list(range(100, 200))})
    answer = slave.answer(with_checksum(bytes.fromhex(request_hex)))
    assert answer == (with_checksum(bytes.fromhex(answer_hex)) if answer_hex else b"")


def test_a_slave_does_not_hear_a_broken_request() -> None:
    slave = ModbusSlave({3: [1, 2]})
    good = with_checksum(bytes.fromhex("01 03 00 00 00 01"))
    assert slave.answer(good)
    assert not slave.answer(good[:-1] + bytes([good[-1] ^ 1]))
    assert not slave.answer(good[:-1])
