"""What is learnt from readings at known distances, and what is asked for or refused instead."""

from __future__ import annotations

import itertools
import struct

import pytest
from effort import examples
from hypothesis import given
from hypothesis import strategies as st

from shots import AT, KNOWN, PACKETS, TURNED, Encode, by_parts, learnt, read, samples
from witnessmark.errors import BadInput
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.learning.samples import Sample, check_known
from witnessmark.meters.learning.verdict import Learnt, OneMore, Refused, learn
from witnessmark.meters.number import NumberType, Order
from witnessmark_simulators.binary import (
    Moment,
    angle,
    charge,
    constant,
    counter,
    crc16_modbus,
    float_distance,
    frame,
    status,
    sum8,
    whole_distance,
    xor8,
)

NUMBERS = {
    "uint16 mm": (whole_distance(2, "big", 1.0), 1.0),
    "uint16 mm little": (whole_distance(2, "little", 1.0), 1.0),
    "uint16 0.1 mm": (whole_distance(2, "little", 0.1), 0.1),
    "uint16 cm": (whole_distance(2, "big", 10.0), 10.0),
    "uint24 0.1 mm": (whole_distance(3, "big", 0.1), 0.1),
    "uint32 mm": (whole_distance(4, "little", 1.0), 1.0),
    "uint32 0.01 mm": (whole_distance(4, "big", 0.01), 0.01),
    "uint32 0.001 in": (whole_distance(4, "big", 0.0254), 0.0254),
    "uint32 0.001 ft": (whole_distance(4, "little", 0.3048), 0.3048),
    "float m": (float_distance(4, "big", 1000.0), 0.001),
    "float m little": (float_distance(4, "little", 1000.0), 0.001),
    "float mm": (float_distance(4, "big", 1.0), 0.001),
    "float ft": (float_distance(4, "little", 304.8), 0.001),
    "float in": (float_distance(4, "big", 25.4), 0.001),
    "double m": (float_distance(8, "little", 1000.0), 0.001),
}


@pytest.mark.parametrize("channel", ["", PACKETS])
@pytest.mark.parametrize("name", NUMBERS)
def test_numbers_among_decoys(name: str, channel: str) -> None:
    number, step_mm = NUMBERS[name]
    order = "little" if "little" in name else "big"
    encode = by_parts(
        constant(b"\xf0\x0f"), counter(2, order), number, angle(2, order), charge(), crc16_modbus()
    )
    known = (*KNOWN, 7013.0) if "0.1 mm" in name and "uint16" not in name else KNOWN
    found = learnt(samples(encode, known, channel=channel, tape=(1.5, -2.0, 1.0)))
    assert found.channel == channel
    for mm in (431.0, 2514.0, 5999.0):
        assert read(found, encode(mm)) == pytest.approx([mm], abs=step_mm)


@pytest.mark.parametrize(
    ("write", "unit"),
    [
        ("{m:.3f} m\r\n", None),
        ("{m:.3f}\r\n", "m"),
        ("{mm:.0f}\n", "mm"),
        ("{mm:.0f}\r", "mm"),
        ("{ft:.3f}ft\r\n", None),
        ("{inch:.2f}\r\n", "in"),
        ("D:{m:.4f}m,{count:04d},87,0.3*\r\n", "m"),
        ("$X,{count:04d},{mm:.1f},A,{tilt:.1f}*5C\r\n", "mm"),
        ("  {tenth:.0f} {tilt:.1f}\r\n", "mm"),
        ("{count};{cm:.1f} cm;OK\x03", "cm"),
        ("\x02{tenth:08.0f}\r", "mm"),
        ("dist={comma};tilt={tilt:.1f}\n", "m"),
    ],
)
def test_text(write: str, unit: str | None) -> None:
    counts = itertools.count(1207)
    tilts = itertools.cycle([1.7, -12.9, 0.4])

    def encode(mm: float) -> bytes:
        return write.format(
            m=mm / 1000,
            mm=mm,
            cm=mm / 10,
            inch=mm / 25.4,
            ft=mm / 304.8,
            tenth=mm * 10,
            comma=f"{mm / 1000:.3f}".replace(".", ","),
            count=next(counts),
            tilt=next(tilts),
        ).encode()

    found = learnt(samples(encode, TURNED, tape=(2.0, -1.5, 1.0)))
    assert found.profile.text is not None
    assert found.profile.text.unit == unit
    for mm in (843.0, 2514.0, 12_514.0):
        assert read(found, encode(mm)) == pytest.approx([mm], abs=0.4)


@pytest.mark.parametrize("name", ["uint16 mm", "uint16 0.1 mm", "float m little", "double m"])
def test_a_bare_number(name: str) -> None:
    number, step_mm = NUMBERS[name]
    encode = by_parts(number)
    found = learnt(samples(encode, channel=PACKETS))
    assert read(found, encode(2514.0), encode(2514.0) + b"\0") == pytest.approx([2514], abs=step_mm)


def test_empty_notifications_do_no_harm() -> None:
    encode = by_parts(whole_distance(2, "big", 1.0), charge())
    shots = [
        Sample(one.known_mm, (RawFrame(b"", AT, PACKETS), *one.frames, RawFrame(b"", AT, "other")))
        for one in samples(encode, channel=PACKETS)
    ]
    assert read(learnt(shots), encode(2514.0)) == [2514.0]


def test_text_in_notifications_without_line_ends() -> None:
    found = learnt(samples(lambda mm: f"R {mm / 1000:.3f}m".encode(), channel=PACKETS))
    assert read(found, b"R 2.514m") == [2514.0]
    assert read(found, b"R 2.514", b"R 2.514mR 2.515m") == []


def test_a_status_that_is_a_word_has_to_stay() -> None:
    found = learnt(samples(lambda mm: f"{mm / 1000:.3f},OK\r\n".encode(), TURNED))
    assert read(found, b"2.514,OK\r\n", b"2.514,LOW\r\n") == [2514.0]


def test_the_unit_in_the_text_has_to_agree() -> None:
    # 1234 with "m" behind it are no millimetres
    assert isinstance(learn(samples(lambda mm: f"D {mm:.0f} m;\r\n".encode())), Refused)


def test_two_known_distances_do_for_plain_numbers() -> None:
    found = learnt(samples(by_parts(constant(b"\xf0"), whole_distance(2, "big", 1.0), sum8()))[:2])
    assert found.profile.frame is not None
    assert found.profile.frame.distance.type is NumberType.UINT16
    assert found.profile.frame.distance.order is Order.BIG


def test_two_are_not_enough_for_an_unusual_unit() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(4, "big", 0.254), sum8())
    assert isinstance(learn(samples(encode)[:2]), OneMore)
    assert read(learnt(samples(encode)), encode(2514.0)) == pytest.approx([2514.0], abs=0.3)


def test_numbers_that_read_the_same_from_either_end_need_one_more() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "big", 1.0), sum8())
    alike = samples(encode, (0x0505, 0x0A0A, 0x0E0E))
    verdict = learn(alike)
    assert isinstance(verdict, OneMore)
    assert "high byte first" in verdict.why
    assert "low byte first" in verdict.why
    found = learnt([*alike, *samples(encode, (2000.0,))])
    assert read(found, encode(2514.0)) == [2514.0]


def test_the_middle_of_a_float_does_not_pass_for_a_whole_number() -> None:
    # 1/32768 m is 0.0001 ft to a thousandth, so from 1 to 2 m two bytes of the float fit as well
    encode = by_parts(constant(b"\xf0"), float_distance(4, "little", 1000.0), crc16_modbus())
    verdict = learn(samples(encode, (1273.6, 1910.2), tape=(-0.9, -1.1)))
    assert isinstance(verdict, Learnt)
    assert verdict.profile.frame is not None
    assert verdict.profile.frame.distance.type is NumberType.FLOAT32


def test_zeros_above_a_number_are_asked_about_and_not_believed_until_then() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(4, "big", 0.1), sum8())
    verdict = learn(samples(encode))
    assert isinstance(verdict, OneMore)
    assert verdict.beyond_mm == pytest.approx(6553.5)
    assert verdict.otherwise is not None
    assert read(verdict.otherwise, encode(6000.0), encode(7000.0)) == [6000.0]
    found = learnt(samples(encode, (*KNOWN, 7013.0)))
    assert read(found, encode(6000.0), encode(7000.0), encode(40_000.0)) == [6000, 7000, 40_000]


def test_where_zeros_are_a_status_a_longer_distance_cannot_be_told_from_it() -> None:
    encode = by_parts(constant(b"\xf0"), status(), whole_distance(2, "big", 0.1), sum8())
    verdict = learn(samples(encode))
    assert isinstance(verdict, OneMore)
    assert verdict.otherwise is not None
    stale = frame(
        [constant(b"\xf0"), status(), whole_distance(2, "big", 0.1), sum8()],
        Moment(2514.0, status=1),
    )
    assert read(verdict.otherwise, stale) == []


def test_small_negative_numbers_are_not_long_distances() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "big", 0.1), sum8())
    found = learnt(samples(encode, (1234.0, 2345.0, 5171.0)))
    codes = [struct.pack(">h", -number) for number in (1, 2, 10, 31, 1000)]
    frames = [b"\xf0" + code + bytes([sum(b"\xf0" + code) % 256]) for code in codes]
    assert read(found, *frames) == []


def test_a_wrong_checksum_is_never_believed_once_it_is_known() -> None:
    encode = by_parts(constant(b"\xf0"), counter(1, "big"), whole_distance(2, "big", 1.0), xor8())
    found = learnt(samples(encode))
    good = encode(2514.0)
    assert read(found, good) == [2514.0]
    for place, bit in itertools.product(range(len(good)), range(8)):
        spoilt = good[:place] + bytes([good[place] ^ 1 << bit]) + good[place + 1 :]
        assert read(found, spoilt) == []


def test_a_byte_that_never_changed_has_to_stay() -> None:
    parts = (constant(b"\xf0"), status(), whole_distance(2, "little", 1.0), counter(2, "little"))
    found = learnt(samples(by_parts(*parts)))
    assert read(found, frame(parts, Moment(2514.0, count=99, status=2))) == []
    assert read(found, frame(parts, Moment(2514.0, count=99))) == [2514.0]


@pytest.mark.parametrize("order", ["little", "big"])
def test_a_tilt_that_was_nearly_level_may_change(order: str) -> None:
    parts = (constant(b"\xf0"), whole_distance(2, order, 1.0), angle(2, order), sum8())
    level = [Sample(mm, (RawFrame(frame(parts, Moment(mm, angle_deg=-0.1)), AT),)) for mm in KNOWN]
    assert b"\xff\xff" in level[0].frames[0].data
    assert read(learnt(level), frame(parts, Moment(2514.0, angle_deg=-2.5))) == [2514.0]


def test_what_may_be_the_batterys_charge_may_change() -> None:
    parts = (constant(b"\xf0"), charge(), whole_distance(2, "little", 1.0), sum8())
    found = learnt(samples(by_parts(*parts)))
    assert read(found, frame(parts, Moment(2514.0, charge=34))) == [2514.0]


def test_the_longest_distance_so_far_may_go_on_growing() -> None:
    # two upper bytes of it were the same at each known distance
    so_far: list[float] = []

    def encode(mm: float) -> bytes:
        so_far.append(mm)
        numbers = (round(one * 100).to_bytes(4, "little") for one in (mm, max(so_far)))
        return b"\xf5\x01" + b"".join(numbers)

    found = learnt(samples(encode, (1386.0, 1819.0, 618.0), channel=PACKETS))
    assert read(found, encode(3000.0), encode(4554.0)) == [3000.0, 4554.0]


def test_a_tilt_may_change_its_sign() -> None:
    parts = (constant(b"\xf0"), whole_distance(2, "big", 1.0), angle(2, "big"), sum8())
    level = [
        Sample(mm, (RawFrame(frame(parts, Moment(mm, angle_deg=tilt)), AT),))
        for mm, tilt in zip(KNOWN, (0.4, 1.1, 2.3), strict=True)
    ]
    assert read(learnt(level), frame(parts, Moment(2514.0, angle_deg=-1.0))) == [2514.0]


def test_a_failed_shot_tells_the_status() -> None:
    parts = (constant(b"\xf0"), whole_distance(2, "little", 1.0), counter(1, "big"), status(0x41))
    failed = frame(parts, Moment(KNOWN[-1], count=9, status=3))
    shots = samples(by_parts(*parts))
    assert read(learnt(shots), failed) == [KNOWN[-1]]  # nobody could know
    found = learnt(shots, [RawFrame(failed, AT)])
    later = frame(parts, Moment(2514.0, count=77, status=5))
    assert read(found, failed, later) == ["the meter could not measure", "the meter's status is 05"]
    assert read(found, frame(parts, Moment(2514.0, count=77))) == [2514.0]


def test_a_failed_shot_just_like_a_good_one_is_refused() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "little", 1.0))
    verdict = learn(samples(encode), [RawFrame(encode(3571.0), AT)])
    assert isinstance(verdict, Refused)
    assert "looks like a good one" in verdict.why


@pytest.mark.parametrize(
    "encode",
    [
        lambda mm: b"\xf0" + round(mm * 1.37).to_bytes(3, "big"),
        lambda mm: b"\xf0" + (round(mm) * 40503 & 0xFFFF).to_bytes(2, "big"),
        lambda mm: bytes([0xF0, round(mm / 100), 7]),
        lambda mm: f"{mm / 914.4 * 2:.3f}\r\n".encode(),
        lambda _mm: b"\xf0\x01\x02\x03",
        lambda _mm: b"READY\r\n",
    ],
)
@pytest.mark.parametrize("count", [2, 3])
def test_what_cannot_be_explained_is_refused(encode: Encode, count: int) -> None:
    assert isinstance(learn(samples(encode)[:count]), Refused)


def test_one_wrong_shot_of_three_is_named() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "big", 1.0), sum8())
    verdict = learn(samples(encode, tape=(0.0, 150.0, 0.0)))
    assert isinstance(verdict, Refused)
    assert "measure that distance again" in verdict.why
    assert "2495 mm" in verdict.why


def test_the_tapes_tolerance_has_an_end() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "big", 1.0), sum8())
    assert isinstance(learn(samples(encode, tape=(6.0, -6.0, 6.0))), Learnt)
    assert isinstance(learn(samples(encode, tape=(12.0, -12.0, 12.0))), Refused)


def test_a_copy_in_other_units_is_no_contradiction() -> None:
    encode: Encode = lambda mm: f"{mm / 1000:.3f}m {mm / 304.8:.3f}ft;\r\n".encode()  # noqa: E731
    found = learnt(samples(encode, TURNED))
    assert read(found, b"2.514m 8.248ft;\r\n") == pytest.approx([2514.0], abs=0.2)
    assert any("more than once" in note for note in found.notes)


def test_two_fields_that_differ_are_a_contradiction() -> None:
    # from the rear and from a front edge 5 mm nearer: the tape cannot tell which
    verdict = learn(samples(lambda mm: f"{mm:.0f},{mm - 5:.0f};\r\n".encode(), tape=(-2, -3, -2)))
    assert isinstance(verdict, OneMore)


def test_silence_teaches_nothing() -> None:
    shots = samples(lambda mm: f"{mm / 1000:.3f}\r\n".encode())
    verdict = learn([*shots[:2], Sample(3571.0, ())])
    assert isinstance(verdict, Refused)
    assert verdict.why == "nothing came from the meter at 3571 mm"


@pytest.mark.parametrize(
    ("known", "words"),
    [
        ([], "at least 2"),
        ([1000.0], "at least 2"),
        ([1000.0, 1000.0], "too close"),
        ([1000.0, 2000.0, 2099.0], "too close"),
        ([1000.0, 40.0], "from 50 mm to 100 m"),
        ([1000.0, 100_001.0], "from 50 mm to 100 m"),
        ([1000.0, float("nan")], "from 50 mm to 100 m"),
    ],
)
def test_known_distances_that_teach_nothing_are_refused(known: list[float], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        check_known(known)
    with pytest.raises(BadInput, match=words):
        learn([Sample(mm, ()) for mm in known])


@examples(40, 300)
@given(
    st.lists(
        st.lists(st.binary(min_size=1, max_size=24), min_size=1, max_size=3),
        min_size=2,
        max_size=4,
    )
)
def test_random_bytes_are_never_learnt(shots: list[list[bytes]]) -> None:
    known = [1100.0 + 700 * place for place in range(len(shots))]
    heard = [
        Sample(mm, tuple(RawFrame(data, AT) for data in frames))
        for mm, frames in zip(known, shots, strict=True)
    ]
    verdict = learn(heard)
    if isinstance(verdict, Learnt):  # then the bytes do say the distances
        for mm, one in zip(known, heard, strict=True):
            assert any(
                abs(found - mm) < 25 for found in read(verdict, *(f.data for f in one.frames))
            )


def test_a_line_is_quoted_with_signs_that_can_be_read() -> None:
    lines = samples(lambda mm: f"$DM,{mm / 10:.1f} cm\t80\r".replace(".", ",").encode(), KNOWN[:2])
    more = learn(lines)
    assert isinstance(more, OneMore)
    assert "\\t80" in more.why
    assert more.why.isprintable()


def test_a_line_that_lost_a_letter_does_not_cut_the_decimals_off_all_others() -> None:
    def line(mm: float) -> bytes:
        unit = "c" if mm == TURNED[0] else "cm"  # a bad line, once
        return f"{mm / 10:08.1f}{unit}\tOK\r\n".replace(".", ",").encode()

    assert not isinstance(learn(samples(line, TURNED)), Learnt)
