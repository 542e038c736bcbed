"""Numbers in lines that could be read in more than one way, and which of them is learnt.

Each line here was once learnt as a distance that was too short, or refused though it can be told.
"""

from __future__ import annotations

import itertools

import pytest

from shots import KNOWN, TURNED, Encode, by_parts, learnt, read, samples
from witnessmark.meters.checksum import Checksum
from witnessmark.meters.learning.verdict import Learnt, OneMore, Refused, learn
from witnessmark.meters.number import NumberType
from witnessmark_simulators.binary import (
    constant,
    decimal_distance,
    sum8,
    whole_distance,
)
from witnessmark_simulators.made_up_text import feet_and_inches, with_crc, with_sum, with_xor

RISING_THEN_SHORTER = (1200.0, 2400.0, 1700.0)


def comma(mm: float, size_mm: float, decimals: int) -> str:
    return f"{mm / size_mm:.{decimals}f}".replace(".", ",")


def test_a_fraction_that_was_the_same_three_times_is_part_of_the_number() -> None:
    def encode(mm: float) -> bytes:
        whole, sixteenths = divmod(round(mm / 25.4 * 16), 16)
        return f"DIST {whole} {sixteenths}/16 in\r\n".encode()

    known = [(whole + 9 / 16) * 25.4 for whole in (92, 138, 20)]
    found = learnt(samples(encode, known))
    assert read(found, encode(2000.0)) == pytest.approx([2000.0], abs=1.6)


def test_the_longest_so_far_is_not_accepted_where_a_short_distance_is_asked_for() -> None:
    lines = samples(lambda mm: "MAX {0};{0}\r\n".format(comma(mm, 1000.0, 3)).encode(), KNOWN[:2])
    verdict = learn(lines)
    assert isinstance(verdict, OneMore)
    assert verdict.otherwise is None


def test_a_tilt_with_a_dot_beside_a_distance_with_a_comma_may_change() -> None:
    tilts = itertools.chain([2.3, 2.4, 2.1], itertools.repeat(-0.7))

    def encode(mm: float) -> bytes:
        return f"R= {next(tilts)} {comma(mm, 1.0, 1)} OK\r\n".encode()

    found = learnt(samples(encode, (2424.0, 3288.0, 566.3)))
    assert read(found, encode(2000.5)) == [2000.5]


@pytest.mark.parametrize(
    ("write", "step_mm"),
    [
        (lambda mm: f"D: {comma(mm, 10, 1)} cm\r\n", 1.0),
        (lambda mm: f"D: {comma(mm, 25.4, 1)} in\r\n", 2.54),
        (lambda mm: f"D:{comma(mm, 10, 2)}\r\n", 0.1),
        (lambda mm: f"{comma(mm, 10, 1)}cm\x03", 1.0),
        (lambda mm: f"{comma(mm, 10, 1)}\x03", 1.0),
        (lambda mm: f"\x02{comma(mm, 10, 1)} cm\r", 1.0),
        (lambda mm: f"R {comma(mm, 1, 1)};{comma(3.1, 1, 1)}\n", 0.1),
    ],
)
@pytest.mark.parametrize("known", [KNOWN[:2], KNOWN, TURNED])
def test_a_decimal_comma_is_never_dropped(
    write: Encode, step_mm: float, known: tuple[float, ...]
) -> None:
    def encode(mm: float) -> bytes:
        return str(write(mm)).encode()

    for mm_off in (-3.0, 0.0, 3.0):
        shots = samples(encode, [mm + 6.4 for mm in known], tape=[mm_off] * 3)
        found = learnt(shots)
        for mm in (1899.0, 2506.0):
            assert read(found, encode(mm)) == pytest.approx([mm], abs=step_mm / 2 + 1e-6)
        assert found.step_mm == pytest.approx(step_mm)


def test_a_comma_before_another_field_is_no_decimal_mark() -> None:
    counts = itertools.count(4207)
    found = learnt(samples(lambda mm: f"{mm / 10:.0f},{next(counts)}\r\n".encode(), TURNED))
    assert read(found, b"251,9999\r\n") == [2510.0]
    found = learnt(samples(lambda mm: f"A,{mm:.0f},{mm / 77:.0f}\r\n".encode(), TURNED))
    assert read(found, b"A,2514,99\r\n") == [2514.0]


def running(mm: float, so_far: list[float], write: str) -> bytes:
    so_far.append(mm)
    return write.format(mm=mm / 1000, most=max(so_far) / 1000, least=min(so_far) / 1000).encode()


@pytest.mark.parametrize(
    ("write", "known"),
    [
        ("MAX {most:.3f} m CUR {mm:.3f} m\r\n", (1200.0, 1800.0, 2400.0)),
        ("CUR {mm:.3f} MAX {most:.3f}\r\n", (1200.0, 1800.0, 2400.0)),
        ("MIN {least:.3f} m CUR {mm:.3f} m\r\n", (2400.0, 1800.0, 1200.0)),
    ],
)
def test_the_longest_so_far_is_not_taken_for_the_distance(
    write: str, known: tuple[float, ...]
) -> None:
    so_far: list[float] = []
    shots = samples(lambda mm: running(mm, so_far, write), known)
    verdict = learn(shots)
    assert isinstance(verdict, OneMore)
    assert verdict.otherwise is None
    rises = known[1] > known[0]
    assert ("shorter than 2.40 m" if rises else "longer than 1.20 m") in verdict.why
    assert (verdict.below_mm, verdict.beyond_mm) == ((2400.0, 0.0) if rises else (None, 1200.0))
    found = learnt([*shots, *samples(lambda mm: running(mm, so_far, write), (1500.0,))])
    assert read(found, running(1650.0, so_far, write)) == [1650.0]


def test_two_numbers_of_two_bytes_side_by_side_are_told_apart_by_a_shorter_distance() -> None:
    so_far: list[float] = []

    def encode(mm: float) -> bytes:
        so_far.append(mm)
        numbers = (min(so_far), mm, max(so_far))
        return b"\xa5" + b"".join(round(one).to_bytes(2, "big") for one in numbers)

    shots = samples(encode, (1200.0, 1900.0))
    verdict = learn(shots)
    assert isinstance(verdict, OneMore)
    assert "shorter than 1.90 m" in verdict.why
    found = learnt([*shots, *samples(encode, (1500.0,))])
    assert read(found, encode(2200.0)) == [2200.0]
    assert read(found, encode(1300.0)) == [1300.0]


def test_the_same_number_twice_is_learnt_once_the_distances_went_up_and_down() -> None:
    encode = by_parts(constant(b"\xa5"), *[whole_distance(2, "big", 1.0)] * 2)
    assert isinstance(learn(samples(encode)), OneMore)
    assert read(learnt(samples(encode, RISING_THEN_SHORTER)), encode(2514.0)) == [2514.0]


@pytest.mark.parametrize("check", [with_xor, with_sum, with_crc])
@pytest.mark.parametrize("write", ["$D,{:.3f},m*", "D {:.3f} m ", "D{:.3f}m"])
def test_a_lines_checksum_is_learnt_and_verified(check: object, write: str) -> None:
    assert callable(check)

    def encode(mm: float) -> bytes:
        return bytes(check(write.format(mm / 1000).encode())) + b"\r\n"

    found = learnt(samples(encode, TURNED))
    assert found.profile.text is not None
    assert found.profile.text.checksum is not None
    good = encode(2514.0)
    assert read(found, good, encode(1305.0)) == [2514.0, 1305.0]
    for place, sign in itertools.product(range(len(good) - 2), b"0123456789.Amf"):
        if good[place] != sign:
            assert read(found, good[:place] + bytes([sign]) + good[place + 1 :]) == []


def test_crc_in_lines_is_that_of_the_published_check_value() -> None:
    # the check value of CRC-16/MODBUS over "123456789" is 4B37 (catalogue of parametrised CRCs)
    assert with_crc(b"123456789").endswith(b"4B37")
    assert Checksum.CRC16_MODBUS.number(b"123456789") == 0x4B37


@pytest.mark.parametrize(
    ("write", "step_mm"),
    [
        (lambda mm: f"D {mm / 1000:.5e} m\r\n", 0.01),
        (lambda mm: f"{mm:.4E}\r\n", 0.1),
        (lambda mm: f"D {mm:,.1f} mm\r\n", 0.1),
        (lambda mm: f"D {mm:,.0f}\r\n", 1.0),
        (lambda mm: f"{mm:,.0f}\r\n", 1.0),
        (lambda mm: f"{mm:,.1f};\r\n".replace(",", "'"), 0.1),
        (lambda mm: f"D={mm:,.1f} mm\r\n".translate({44: ".", 46: ","}), 0.1),
        (lambda mm: f"D={mm:,.0f} mm\r\n".replace(",", " "), 1.0),
        (lambda mm: f"D {feet_and_inches(mm, 16)}\r\n", 25.4 / 16),
        (lambda mm: f"{feet_and_inches(mm, 0)}\r\n", 2.54),
        (lambda mm: f"D {round(mm / 25.4 * 16) // 16} {round(mm / 25.4 * 16) % 16}/16 in\r\n", 1.6),
        (lambda mm: f"L{round(mm):04X}\r\n", 1.0),
        (lambda mm: f"{round(mm):04x};\r\n", 1.0),
    ],
)
def test_ways_of_writing_numbers(write: Encode, step_mm: float) -> None:
    def encode(mm: float) -> bytes:
        return str(write(mm)).encode()

    found = learnt(samples(encode, TURNED, tape=(1.5, -1.5, 1.0)))
    for mm in (431.0, 871.5, 1899.0, 2514.0, 12_345.0):
        assert read(found, encode(mm)) == pytest.approx([mm], abs=step_mm / 2 + 1e-6)


def test_a_comma_that_may_part_thousands_asks_for_a_short_distance() -> None:
    verdict = learn(samples(lambda mm: f"D {mm:,.0f}\r\n".encode()))
    assert isinstance(verdict, OneMore)
    assert "shorter than 1 m" in verdict.why
    assert verdict.otherwise is not None
    assert read(verdict.otherwise, b"D 2,514\r\n", b"D 899\r\n") == [2514.0]


@pytest.mark.parametrize("order", ["big", "little"])
@pytest.mark.parametrize("size", [2, 3, 4])
def test_decimal_digits_in_halves_of_bytes(size: int, order: str) -> None:
    encode = by_parts(constant(b"\xf0"), decimal_distance(size, order, 1.0), sum8())
    known = (*TURNED, 15_002.0) if size > 2 else TURNED
    found = learnt(samples(encode, known))
    assert found.profile.frame is not None
    assert found.profile.frame.distance.type in {
        NumberType.BCD16,
        NumberType.BCD24,
        NumberType.BCD32,
    }
    assert read(found, encode(2514.0), encode(987.0)) == [2514.0, 987.0]


def test_sixteenths_of_an_inch_in_frames() -> None:
    encode = by_parts(constant(b"\xf0"), whole_distance(2, "big", 25.4 / 16), sum8())
    assert read(learnt(samples(encode)), encode(2514.6)) == pytest.approx([2514.6])


def test_a_date_beside_no_distance_is_refused() -> None:
    assert isinstance(learn(samples(lambda _mm: b"12.30,1899\r\n")), Refused)


def test_a_whole_number_of_centimetres_is_still_learnt() -> None:
    verdict = learn(samples(lambda mm: f"D {mm / 10:.0f} cm\r\n".encode()))
    assert isinstance(verdict, Learnt)
    assert read(verdict, b"D 251 cm\r\n", b"D 251,4 cm\r\n") == [2510.0]


def test_two_frames_that_share_nothing_else_may_be_chance() -> None:
    """The second came from back to front; at its third byte stands one of another number."""
    sent = {965.7: b"\x08RQ%\xc6\x88\xe0", 1972.8: b"\xe0\x88\x10MQS\x08"}
    verdict = learn(samples(sent.__getitem__, tuple(sent)))
    assert isinstance(verdict, OneMore)
    assert verdict.otherwise is None
