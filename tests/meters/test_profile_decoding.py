"""Bytes through a profile's decoder: what is a distance, and all that is none."""

from __future__ import annotations

import itertools
import math
import struct
from datetime import UTC, datetime

import pytest
from crccheck.crc import Crc8, Crc16CcittFalse, Crc16Xmodem, CrcModbus
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import LengthError
from witnessmark.meters.checksum import Checksum
from witnessmark.meters.decoding import Decoder, Outcome, decoder_for
from witnessmark.meters.number import NumberType, Order, number_in
from witnessmark.meters.port import Fault, Noise
from witnessmark.meters.profile import read_profile
from witnessmark.model import Reading

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
HEAD = 'format = "witnessmark profile 1"\n'
STREAM = """
[frame]
length = 7
header = "59 59"
distance = { at = 2, order = "little", type = "uint16", unit = "mm" }
status = { at = 4, ok = ["00"], faults = { 01 = "too little light" } }
fixed = [{ at = 5, bytes = "A0" }]
checksum = { kind = "sum8" }
"""
BURST = """
[frame]
length = 5
header = "AA"
distance = { at = 1, order = "big", type = "uint32", unit = "mm", scale = 0.1, longest = "20 m" }
"""
PATTERN = r"""
[text]
pattern = '\s*D=(?P<value>[0-9.,]+)(?P<unit>m|ft)? *;(?P<status>[A-Z0-9]*)'
unit = "mm"
ok = ["OK"]
faults = { E1 = "too little light", "----" = "out of range" }
"""


def decoder(profile: str, *, midway: bool = False) -> Decoder:
    return decoder_for(read_profile(HEAD + profile), "meter", midway=midway)


def fed(profile: str, *chunks: bytes | None, midway: bool = False) -> list[Outcome]:
    """The outcomes of chunks; None stands for a pause."""
    found, one = [], decoder(profile, midway=midway)
    for chunk in chunks:
        found += one.pause(AT) if chunk is None else one.feed(chunk, AT)
    return found


def mm(outcomes: list[Outcome]) -> list[float]:
    return [outcome.distance_mm for outcome in outcomes if isinstance(outcome, Reading)]


def frame(number: int, status: int = 0, spare: int = 0xA0) -> bytes:
    body = b"\x59\x59" + struct.pack("<H", number) + bytes([status, spare])
    return body + bytes([sum(body) % 256])


def test_a_frame_is_a_reading_with_its_bytes() -> None:
    assert fed(STREAM, frame(2514), None) == [Reading(2514.0, AT, "meter", frame(2514))]


def test_frames_in_a_stream_come_out_as_the_next_begins() -> None:
    one = decoder(STREAM)
    assert one.feed(frame(1000), AT) == []
    assert mm(one.feed(frame(2000)[:2], AT)) == [1000.0]
    assert mm(one.feed(frame(2000)[2:], AT) + one.pause(AT)) == [2000.0]


@given(st.lists(st.integers(1, 65534), min_size=1, max_size=6), st.data())
def test_how_a_stream_is_chunked_makes_no_difference(
    numbers: list[int], data: st.DataObject
) -> None:
    stream = b"".join(frame(number) for number in numbers)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=8)))
    chunks = [stream[at:to] for at, to in itertools.pairwise([0, *cuts, len(stream)])]
    assert mm(fed(STREAM, *chunks, None)) == [float(number) for number in numbers]


@given(st.binary(max_size=30), st.integers(1, 65534), st.binary(max_size=30))
def test_a_frame_between_rubbish_is_found_or_lost_but_never_another(
    before: bytes, number: int, behind: bytes
) -> None:
    found = fed(STREAM, before, None, frame(number), None, behind, None)
    assert number in mm(found)
    raw = b"".join(outcome.raw for outcome in found)
    assert raw == before + frame(number) + behind


@pytest.mark.parametrize(
    "data",
    [
        frame(2514)[:-1],
        frame(2514)[1:],
        frame(2514)[:4] + frame(2515),
        frame(2514)[:4] + frame(2515)[:3],
        frame(2514)[:-1] + b"\0",
        frame(2514, spare=0xA1),
        frame(65535),
        frame(0),
        b"\x59" * 40,
    ],
)
def test_what_is_no_right_frame_is_never_a_distance(data: bytes) -> None:
    assert set(mm(fed(STREAM, data, None))) <= {2515.0}


def test_a_pause_ends_a_frame_that_broke_off() -> None:
    found = fed(STREAM, frame(2514)[:4], None, frame(2514)[4:], None, frame(1512), None)
    assert [type(outcome) for outcome in found] == [Noise, Noise, Reading]


def test_a_status_is_a_fault_in_its_own_words() -> None:
    found = fed(STREAM, frame(2514, status=1), None, frame(2514, status=7), None)
    assert [outcome.fault for outcome in found if isinstance(outcome, Fault)] == [
        "too little light",
        "the meter's status is 07",
    ]
    assert not mm(found)


def test_a_burst_counts_when_it_is_whole_frames_and_nothing_else() -> None:
    one, two = (b"\xaa" + struct.pack(">I", number) for number in (15123, 25140))
    assert mm(fed(BURST, one + two, None)) == [1512.3, 2514.0]
    for burst in (one[1:], one + two[:-1], b"\0" + one, one + b"\0", one[:3] + two, one + one[1:]):
        assert not mm(fed(BURST, burst, None)), burst.hex()
    assert mm(fed(BURST, one[:3], two, None, one, None)) == [1512.3]


def test_a_burst_that_had_begun_before_the_opening_is_lost() -> None:
    one = b"\xaa" + struct.pack(">I", 15123)
    found = fed(BURST, one, None, one, None, midway=True)
    assert [type(outcome) for outcome in found] == [Noise, Reading]
    assert mm(fed(BURST, None, one, None, midway=True)) == [1512.3]


def test_bytes_without_any_pause_are_given_up_and_told() -> None:
    one = b"\xaa" + struct.pack(">I", 15123)
    found = fed(BURST, *[one] * 2000)
    assert found
    for outcome in found:
        assert isinstance(outcome, Noise)
        assert "without a pause" in outcome.why


def test_nothing_is_believed_beyond_what_the_profile_knows() -> None:
    (noise,) = fed(BURST, b"\xaa" + struct.pack(">I", 200_001), None)
    assert isinstance(noise, Noise)
    assert "over 20 m, the longest that this profile takes" in noise.why


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (b"D=1512;OK\r\n", 1512.0),
        (b"  D=1.512m ;OK\n", 1512.0),
        (b"D=1,512m;OK\n", 1512.0),
        (b"D=10.5ft;OK\r", 3200.4),
        (b"D=0.0;OK\n", None),
        (b"D=100001;OK\n", None),
        (b"D=1512;E2\n", 'the meter\'s status is "E2"'),
        (b"D=1512;E1\n", "too little light"),
        (b"----\n", "out of range"),
        (b"E7\n", "E7"),
        (b"xD=1512;OK\n", None),
        (b"D=1512;OKD=1512;OK\n", None),
        (b"D=1.5.12;OK\n", None),
        (b"D=1512;\n", "the meter's status is"),
        (b"\xff\xfe\n", None),
    ],
)
def test_lines_by_pattern(line: bytes, expected: float | str | None) -> None:
    (outcome,) = fed(PATTERN, line)
    match expected:
        case float():
            assert isinstance(outcome, Reading)
            assert outcome.distance_mm == pytest.approx(expected, abs=1e-9)
        case str():
            assert isinstance(outcome, Fault)
            assert outcome.fault.startswith(expected)
        case None:
            assert isinstance(outcome, Noise)


def test_a_line_that_broke_off_never_joins_the_next() -> None:
    found = fed(PATTERN, b"D=1", None, b"512;OK\nD=1513;OK\n")
    assert [type(outcome) for outcome in found] == [Noise, Noise, Reading]


def test_a_signed_number_may_be_written_with_plus() -> None:
    profile = "[text]\npattern = '(?P<value>\\+?[0-9]+)'\nunit = 'mm'\nscale = 0.1\n"
    assert mm(fed(profile, b"+15123\n")) == [1512.3]


@pytest.mark.parametrize(
    ("rest", "line", "mm"),
    [
        ("scale = 0.1", b"9.31", 931.0),
        ("scale = 0.1", b".931", None),
        ("scale = 0.1", b"8' 3 1/2\"", None),
        ("", b"8' 3 1/2\"", 2527.3),
        ("", b".931", None),
        ("", b"2 435", None),
        ("hexadecimal = true", b"1F", 31_000.0),
        ("hexadecimal = true", b"9.31", None),
    ],
)
def test_a_value_is_read_as_the_profile_has_it_or_not_at_all(
    rest: str, line: bytes, mm: float | None
) -> None:
    profile = f"[text]\npattern = '(?P<value>.+)'\nunit = \"m\"\n{rest}\n"
    (outcome,) = fed(profile, line + b"\r\n")
    read = outcome.distance_mm if isinstance(outcome, Reading) else None
    assert read == (None if mm is None else pytest.approx(mm))


def test_text_that_a_pause_ends() -> None:
    profile = "[text]\npattern = '(?P<value>[0-9.]+) m'\nunit = 'm'\nends = ''\n"
    assert mm(fed(profile, b"1.5", b"12 m", None, b"2.514 m", None)) == [1512.0, 2514.0]
    assert not mm(fed(profile, b"1.512 m1.512 m", None))
    assert not mm(fed(profile, b"x" * 300, None))
    assert mm(fed(profile, b"2 m", None, b"1.512 m", None, midway=True)) == [1512.0]


def test_text_that_only_a_pause_would_end_is_no_distance_once_the_link_is_lost() -> None:
    line = decoder("[text]\npattern = 'D=(?P<value>[0-9.]+)'\nunit = 'm'\nends = ''\n")
    line.feed(b"D=1.5", AT)  # of 1.512
    (noise,) = line.lost(AT)
    assert noise == Noise("the link was lost before a pause", AT, "meter", b"D=1.5")
    whole = decoder(STREAM)
    whole.feed(frame := b"YY\xe8\x05\x00\xa0\x3f", AT)
    assert [one.raw for one in whole.lost(AT)] == [frame]


def test_lines_that_end_with_a_sign_of_their_own() -> None:
    assert mm(fed("[text]\nends = ';'\nunit = 'm'\n", b"1.512 m;2.514;")) == [1512.0, 2514.0]


def test_plain_lines_keep_to_the_profiles_words_and_limit() -> None:
    profile = '[text]\nunit = "m"\nlongest = "20 m"\nfaults = { "-1" = "out of range" }\n'
    found = fed(profile, b"1.512\n-1\n20.5 m\nE3\n")
    assert [type(outcome) for outcome in found] == [Reading, Fault, Noise, Fault]
    assert isinstance(found[1], Fault)
    assert found[1].fault == "out of range"


def test_packets_end_frames_but_not_lines() -> None:
    assert mm(decoder(STREAM).packet(frame(2514), AT)) == [2514.0]
    lines = decoder('[text]\nunit = "m"')
    assert mm(lines.packet(b"1.5", AT) + lines.packet(b"12\n", AT)) == [1512.0]


def test_modbus_is_no_stream() -> None:
    with pytest.raises(ValueError, match="not a stream"):
        decoder('[modbus]\nregister = 0\ntype = "uint16"\nunit = "mm"')


WHOLE = {
    NumberType.UINT16: ("H", 2),
    NumberType.UINT32: ("I", 4),
    NumberType.INT16: ("h", 2),
    NumberType.INT32: ("i", 4),
    NumberType.FLOAT32: ("f", 4),
    NumberType.FLOAT64: ("d", 8),
}


@given(st.sampled_from(sorted(WHOLE)), st.sampled_from(Order), st.binary(min_size=8, max_size=8))
def test_numbers_against_struct(kind: NumberType, order: Order, data: bytes) -> None:
    code, size = WHOLE[kind]
    (expected,) = struct.unpack((">" if order is Order.BIG else "<") + code, data[:size])
    try:
        assert number_in(data[:size], kind, order) == expected
    except LengthError:
        bits = 8 * size
        ends = {2**bits - 1} if kind.startswith("u") else {-(2 ** (bits - 1)), 2 ** (bits - 1) - 1}
        assert not math.isfinite(expected) or expected in ends


@pytest.mark.parametrize("order", Order)
@pytest.mark.parametrize("number", [1, 70_000, 2**24 - 2])
def test_numbers_of_three_bytes(order: Order, number: int) -> None:
    data = number.to_bytes(3, order.value)
    assert number_in(data, NumberType.UINT24, order) == number
    signed = number if number < 2**23 else number - 2**24
    assert number_in(data, NumberType.INT24, order) == signed


def test_a_number_of_another_size_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="uint24 has 3 bytes, not 2"):
        number_in(b"\0\1", NumberType.UINT24, Order.BIG)


@given(st.binary(min_size=1, max_size=40))
def test_checksums_against_another_library(data: bytes) -> None:
    assert Checksum.CRC8.of(data) == bytes([Crc8.calc(data)])
    assert Checksum.CRC16_MODBUS.of(data) == CrcModbus.calc(data).to_bytes(2, "little")
    assert Checksum.CRC16_CCITT.of(data) == Crc16CcittFalse.calc(data).to_bytes(2, "big")
    assert Checksum.CRC16_XMODEM.of(data) == Crc16Xmodem.calc(data).to_bytes(2, "big")
    assert Checksum.SUM8.of(data) == bytes([sum(data) % 256])
    assert (sum(data) + Checksum.SUM8_NEGATED.of(data)[0]) % 256 == 0
    assert Checksum.SUM8_INVERTED.of(data)[0] ^ Checksum.SUM8.of(data)[0] == 0xFF
    assert Checksum.XOR8.of(data + Checksum.XOR8.of(data)) == b"\0"
