"""Random and mutated bytes into every decoder: no crash, and no distance but a right one.

Run with ``python tests/benchmarks/fuzz_decoders.py [BYTES] [SEED] [NAME ...]``; ten million
bytes for each decoder by default.

Some of what is fed is noise; the rest are sound frames, most of which were cut, joined, doubled,
turned round or had bytes changed, in chunks and with pauses at random. Whatever comes out as a
distance is computed again here from its bytes, independently: header, checksum, status and range
must all be right, and the bytes must have come together between two pauses.
"""

from __future__ import annotations

import math
import re
import struct
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Final

import msgspec
import numpy as np
from numpy.random import Generator

from witnessmark.meters.decoding import Decoder, Outcome, decoder_for
from witnessmark.meters.framing import LineSplitter
from witnessmark.meters.number import NumberType, Order
from witnessmark.meters.presentation import PresentationFormat, report_value
from witnessmark.meters.profile import Modbus, read_profile
from witnessmark.meters.profile_values import (
    DeviceNumber,
    FaultValue,
    Longest,
    ReadFunction,
    Register,
    ShortestDistance,
    Unit,
)
from witnessmark.meters.text import LineReader
from witnessmark.model import Reading
from witnessmark_drivers.ble_text import TextDecoder as NotifiedText
from witnessmark_drivers.modbus import RegisterReader
from witnessmark_simulators.binary import crc16

AT: Final = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
HEAD: Final = 'format = "witnessmark profile 1"\n'
ERRORS_MM: Final = (255, 9999)
LIMITS: Final = """shortest = "200 mm"
longest = "30 m"
fault_values = ["255 mm", "9999 mm"]
"""

Make = Callable[[float, Generator], bytes]
"""A sound frame for a distance in mm."""
Judge = Callable[[bytes], float | None]
"""The distance that bytes hold if they are a right frame, in mm, computed independently."""


class Case(msgspec.Struct, frozen=True):
    """A decoder, frames for it, and a second opinion."""

    name: str
    decoder: Callable[[], Decoder]
    make: Make
    judge: Judge


class Whole(Decoder):
    """Takes what comes between two pauses for one answer, or one value of a characteristic."""

    def __init__(self, outcome: Callable[[bytes], Outcome]) -> None:
        super().__init__("fuzz")
        self._outcome_of = outcome
        self._pending = b""

    def feed(self, data: bytes, at: datetime) -> list[Outcome]:
        self._pending += data
        return []

    def pause(self, at: datetime) -> list[Outcome]:
        answer, self._pending = self._pending, b""
        return [self._outcome_of(answer)] if answer else []


class Notifications(Decoder):
    """Takes each piece for one Bluetooth notification of text; nobody has chosen a unit."""

    def __init__(self) -> None:
        super().__init__("fuzz")
        self._decoder = NotifiedText("fuzz", None)

    def feed(self, data: bytes, at: datetime) -> list[Outcome]:
        return self._decoder.feed(data, at) if data else []

    def pause(self, at: datetime) -> list[Outcome]:
        return self._decoder.break_off("the text broke off", at)


class PlainLines(Decoder):
    """Lines of a serial meter that no profile describes; nobody has chosen a unit."""

    def __init__(self) -> None:
        super().__init__("fuzz")
        self._lines = LineSplitter()
        self._reader = LineReader("fuzz", None)

    def feed(self, data: bytes, at: datetime) -> list[Outcome]:
        return [self._reader.report(piece, at) for piece in self._lines.feed(data)]

    def pause(self, at: datetime) -> list[Outcome]:
        return [self._reader.report(piece, at) for piece in self._lines.break_off("broke off")]


def modbus_answers(modbus: Modbus) -> Callable[[], Decoder]:
    """Decoders of a device's answers."""
    return lambda: Whole(RegisterReader(modbus, "fuzz", lambda: AT).outcome)


def described_values(form: PresentationFormat) -> Callable[[], Decoder]:
    """Decoders of a characteristic that describes its values."""
    return lambda: Whole(lambda value: report_value(form, value, at=AT, meter="fuzz"))


def by_profile(text: str) -> Callable[[], Decoder]:
    """Decoders of a profile."""
    profile = read_profile(HEAD + text)
    return lambda: decoder_for(profile, "fuzz")


def in_range(mm: float) -> float | None:
    """The distance where it is one."""
    return mm if math.isfinite(mm) and 0 < mm <= 100_000 else None


def stream_judge(raw: bytes) -> float | None:
    """59 59, distance in mm low byte first, status 0, a spare byte, sum."""
    right = (
        len(raw) == 8
        and raw[:2] == b"\x59\x59"
        and raw[7] == sum(raw[:7]) % 256
        and raw[5] == 0
        and raw[2:5] != b"\xff\xff\xff"
    )
    return in_range(raw[2] + 256 * raw[3] + 65536 * raw[4]) if right else None


def stream_frame(mm: float, rng: Generator) -> bytes:
    """A frame as ``stream_judge`` wants it, with a status of 0 mostly."""
    status = int(rng.choice([0, 0, 0, 1]))
    body = b"\x59\x59" + round(mm).to_bytes(3, "little") + bytes([status, int(rng.integers(256))])
    return body + bytes([sum(body) % 256])


def float_judge(raw: bytes) -> float | None:
    """A float in feet, high byte first, a spare byte, CRC of Modbus; no header."""
    if len(raw) != 7 or raw[5:] != crc16(raw[:5]).to_bytes(2, "little"):
        return None
    return in_range(struct.unpack(">f", raw[:4])[0] * 304.8)


def float_frame(mm: float, rng: Generator) -> bytes:
    """A frame as ``float_judge`` wants it, not a number at times."""
    number = mm / 304.8 if rng.random() < 0.9 else float(rng.choice([math.nan, math.inf, -1.0]))
    body = struct.pack(">f", number) + bytes([int(rng.integers(256))])
    return body + crc16(body).to_bytes(2, "little")


def bare_judge(raw: bytes) -> float | None:
    """AA, distance in 0.1 mm high byte first, 0D; no checksum."""
    if len(raw) != 6 or raw[:1] != b"\xaa" or raw[5:] != b"\x0d" or raw[1:5] == b"\xff" * 4:
        return None
    return in_range(struct.unpack(">I", raw[1:5])[0] / 10)


def bare_frame(mm: float, _rng: Generator) -> bytes:
    """A frame as ``bare_judge`` wants it."""
    return b"\xaa" + struct.pack(">I", round(mm * 10)) + b"\x0d"


def line_judge(raw: bytes) -> float | None:
    """``D1.512m,OK``."""
    match = re.fullmatch(rb"D([0-9]{1,3}\.[0-9]{3})m,OK", raw)
    return in_range(float(match[1]) * 1000) if match else None


def line_frame(mm: float, rng: Generator) -> bytes:
    """A line as ``line_judge`` wants it, with another status at times."""
    return f"D{mm / 1000:.3f}m,{rng.choice(['OK', 'OK', 'E1'])}".encode()


def plain_judge(raw: bytes) -> float | None:
    """A number with decimals and perhaps its unit, which is the metre where there is none."""
    raw = _with_plain_marks(raw)
    match = re.fullmatch(rb"\s*\+?\s*([0-9]{1,9}[.,][0-9]{1,12})\s*(\D{0,3})", raw)
    sizes = {b"": 1000.0, b"m": 1000.0, b"dm": 100.0, b"cm": 10.0, b"mm": 1.0}
    sizes |= {b"in": 25.4, b"ins": 25.4, b"ft": 304.8, b"yd": 914.4, b'"': 25.4, b"'": 304.8}
    unit = match[2].strip().removesuffix(b".").lower() if match else b"?"
    if match is None or unit not in sizes:
        return None
    return in_range(float(match[1].replace(b",", b".")) * sizes[unit])


def _with_plain_marks(raw: bytes) -> bytes:
    """The same with the plain marks for feet and inches in place of those that look like them."""
    for signs, mark in (("‘’′ʹʼ´`", b"'"), ("“”″ʺ", b'"')):
        for sign in signs:
            raw = raw.replace(sign.encode(), mark)
    return raw


def modbus_judge(raw: bytes) -> float | None:
    """The answer with two registers, a float in metres."""
    right = len(raw) == 9 and raw[:3] == b"\x01\x03\x04"
    if not right or raw[7:] != crc16(raw[:7]).to_bytes(2, "little"):
        return None
    return in_range(struct.unpack(">f", raw[3:7])[0] * 1000)


def modbus_frame(mm: float, rng: Generator) -> bytes:
    """An answer as ``modbus_judge`` wants it, an exception at times."""
    body = b"\x01\x03\x04" + struct.pack(">f", mm / 1000)
    body = body if rng.random() < 0.9 else b"\x01\x83\x02"
    return body + crc16(body).to_bytes(2, "little")


def within_judge(mm: float) -> float | None:
    """What is left of a distance by a meter's limits and error numbers, as ``LIMITS`` has them."""
    is_error = any(abs(mm - one) < 0.05 for one in ERRORS_MM)
    return mm if 200 <= mm <= 30_000 and not is_error else None


def drawn_within(mm: float, rng: Generator) -> int:
    """A distance, or a number at the limits or among the errors, in whole mm."""
    odd = [*ERRORS_MM, 0, 199, 200, 201, 29_999, 30_000, 30_001]
    return round(mm / 2) if rng.random() < 0.6 else int(rng.choice(odd))


def limited_line_judge(raw: bytes) -> float | None:
    """``R01512``."""
    match = re.fullmatch(rb"R([0-9]{5})", raw)
    return within_judge(float(match[1])) if match else None


def limited_frame_judge(raw: bytes) -> float | None:
    """3C, distance in mm high byte first, xor of all before."""
    if len(raw) != 4 or raw[:1] != b"\x3c" or raw[3] != raw[0] ^ raw[1] ^ raw[2]:
        return None
    return within_judge(256.0 * raw[1] + raw[2])


def limited_frame(mm: float, rng: Generator) -> bytes:
    """A frame as ``limited_frame_judge`` wants it."""
    body = b"\x3c" + drawn_within(mm, rng).to_bytes(2, "big")
    return body + bytes([body[0] ^ body[1] ^ body[2]])


def registers_judge(raw: bytes) -> float | None:
    """The answer of device 7 with two input registers, whole mm, the lower register first."""
    right = len(raw) == 9 and raw[:3] == b"\x07\x04\x04"
    if not right or raw[7:] != crc16(raw[:7]).to_bytes(2, "little"):
        return None
    low, high = struct.unpack(">HH", raw[3:7])
    return within_judge(65_536.0 * high + low)


def registers_frame(mm: float, rng: Generator) -> bytes:
    """An answer as ``registers_judge`` wants it, that of another device at times."""
    device = b"\x07" if rng.random() < 0.9 else b"\x08"
    body = device + b"\x04\x04" + struct.pack(">HH", drawn_within(mm, rng), 0)
    return body + crc16(body).to_bytes(2, "little")


def described_judge(raw: bytes) -> float | None:
    """Four bytes, low byte first, of 0.0001 m; all ones are no value."""
    if len(raw) != 4 or raw == b"\xff" * 4:
        return None
    return in_range(int.from_bytes(raw, "little") / 10)


def described_frame(mm: float, rng: Generator) -> bytes:
    """A value as ``described_judge`` wants it, none at times."""
    return round(mm * 10).to_bytes(4, "little") if rng.random() < 0.95 else b"\xff" * 4


def short_float_judge(raw: bytes) -> float | None:
    """Two bytes, low byte first: an exponent of ten in four bits, and feet in twelve."""
    if len(raw) != 2:
        return None
    bits = int.from_bytes(raw, "little")
    exponent, feet = (bits >> 12) - 16 * (bits >> 15), (bits & 0xFFF) - 0x1000 * (bits >> 11 & 1)
    is_special = 0x7FE <= bits & 0xFFF <= 0x802
    return None if is_special else in_range(feet * 10.0**exponent * 304.8)


def short_float_frame(mm: float, rng: Generator) -> bytes:
    """A value as ``short_float_judge`` wants it: tenths or hundredths of feet."""
    exponent = int(rng.choice([-1, -2]))
    feet = min(round(mm / 304.8 * 10**-exponent), 0x7FF)
    return ((exponent & 0xF) << 12 | feet).to_bytes(2, "little")


def with_unit_judge(raw: bytes) -> float | None:
    """A number and its unit, for nobody has chosen one."""
    number = _with_plain_marks(raw).strip()
    whole = re.fullmatch(rb"\+?\s*([0-9]{1,12})\s*(mm|cm|ins?|\")\.?", number, re.IGNORECASE)
    if whole:  # of these the smallest units may be sent without decimals
        sizes = {b"mm": 1.0, b"cm": 10.0, b"in": 25.4, b"ins": 25.4, b'"': 25.4}
        return in_range(float(whole[1]) * sizes[whole[2].lower()])
    return plain_judge(raw) if re.search(rb"[A-Za-z\"'.]\Z", number) else None


def unitless_line(mm: float, rng: Generator) -> bytes:
    """A line with its unit, or with none."""
    lines = (f"{mm / 1000:.3f} m", f"{mm:.0f} mm", f"{mm:.0f}", f"{mm / 1000:.3f}")
    ends = rng.choice(["\r\n", "\n"])
    return f"{rng.choice(lines)}{ends}".encode()


CASES: Final = (
    Case(
        "frames in a stream",
        by_profile("""
[frame]
length = 8
header = "59 59"
distance = { at = 2, order = "little", type = "uint24", unit = "mm" }
status = { at = 5, ok = ["00"] }
checksum = { kind = "sum8" }
"""),
        stream_frame,
        stream_judge,
    ),
    Case(
        "frames without header",
        by_profile("""
[frame]
length = 7
distance = { at = 0, order = "big", type = "float32", unit = "ft" }
checksum = { kind = "crc16-modbus" }
"""),
        float_frame,
        float_judge,
    ),
    Case(
        "frames without checksum",
        by_profile("""
[frame]
length = 6
header = "AA"
distance = { at = 1, order = "big", type = "uint32", unit = "mm", scale = 0.1 }
fixed = [{ at = 5, bytes = "0D" }]
"""),
        bare_frame,
        bare_judge,
    ),
    Case(
        "lines by pattern",
        by_profile(r"""
[text]
pattern = 'D(?P<value>[0-9]{1,3}\.[0-9]{3})m,(?P<status>.*)'
unit = "m"
ok = ["OK"]
"""),
        lambda mm, rng: line_frame(mm, rng) + b"\r\n",
        line_judge,
    ),
    Case(
        "text that a pause ends",
        by_profile(r"""
[text]
pattern = 'D(?P<value>[0-9]{1,3}\.[0-9]{3})m,(?P<status>.*)'
unit = "m"
ok = ["OK"]
ends = ""
"""),
        line_frame,
        line_judge,
    ),
    Case(
        "plain lines",
        by_profile('[text]\nunit = "m"'),
        lambda mm, _rng: f"{mm / 1000:.3f} m\n".encode(),
        plain_judge,
    ),
    Case(
        "lines with limits",
        by_profile(f"""
[text]
pattern = 'R(?P<value>[0-9]{{5}})'
unit = "mm"
{LIMITS}"""),
        lambda mm, rng: f"R{drawn_within(mm, rng):05}\r\n".encode(),
        limited_line_judge,
    ),
    Case(
        "frames with limits",
        by_profile(f"""
[frame]
length = 4
header = "3C"
checksum = {{ kind = "xor8" }}

[frame.distance]
at = 1
order = "big"
type = "uint16"
unit = "mm"
{LIMITS}"""),
        limited_frame,
        limited_frame_judge,
    ),
    Case(
        "modbus answers",
        modbus_answers(Modbus(type=NumberType.FLOAT32, unit=Unit("m"), register=Register(0))),
        modbus_frame,
        modbus_judge,
    ),
    Case(
        "modbus answers with limits",
        modbus_answers(
            Modbus(
                type=NumberType.UINT32,
                unit=Unit("mm"),
                register=Register(30),
                device=DeviceNumber(7),
                function=ReadFunction(4),
                word_order=Order.LITTLE,
                shortest=ShortestDistance(200),
                longest=Longest(30_000),
                fault_values=tuple(FaultValue(mm) for mm in ERRORS_MM),
            )
        ),
        registers_frame,
        registers_judge,
    ),
    Case(
        "values described as whole",
        described_values(PresentationFormat(0x08, -4, 0x2701)),
        described_frame,
        described_judge,
    ),
    Case(
        "values described as short floats",
        described_values(PresentationFormat(0x16, 0, 0x27A3)),
        short_float_frame,
        short_float_judge,
    ),
    Case("text in notifications", Notifications, unitless_line, with_unit_judge),
    Case("lines without a chosen unit", PlainLines, unitless_line, with_unit_judge),
)


def spoilt(data: bytes, other: bytes, rng: Generator) -> bytes:
    """The frame with something done to it, or nothing in one time of three."""
    at, to = sorted(int(place) for place in rng.integers(0, len(data) + 1, size=2))
    last = len(data) - 1
    bit = 1 << int(rng.integers(8))
    ways = (
        data[:at],
        data[at:],
        data[:at] + other[at:],
        data[:at] + data[to:],
        data[:at] + rng.bytes(int(rng.integers(1, 4))) + data[at:],
        data[: min(at, last)] + bytes([data[min(at, last)] ^ bit]) + data[min(at, last) + 1 :],
        data + other,
        data[::-1],
    )
    place = int(rng.integers(len(ways) * 3 // 2))
    return ways[place] if place < len(ways) else data


def material(case: Case, rng: Generator) -> bytes:
    """The next bytes for a decoder."""
    if rng.random() < 0.1:
        return rng.bytes(int(rng.integers(1, 200)))
    one, other = (case.make(float(rng.uniform(100, 90_000)), rng) for _ in range(2))
    return spoilt(one, other, rng)


def fuzz(case: Case, rng: Generator, count: int) -> tuple[int, int]:
    """Feed about ``count`` bytes; how many were fed, and how many distances came.

    Raises:
        AssertionError: when a distance is not right.
    """
    decoder, fed, distances, together = case.decoder(), 0, 0, b""
    while fed < count:
        data = material(case, rng)
        fed += len(data)
        cuts = sorted(int(place) for place in rng.integers(0, len(data) + 1, size=2))
        together = (together + data)[-20_000:]
        outcomes = [
            outcome
            for start, end in zip([0, *cuts], [*cuts, len(data)], strict=True)
            for outcome in decoder.feed(data[start:end], AT)
        ]
        distances += check(case, outcomes, together)
        if rng.random() < 0.5:
            distances += check(case, decoder.pause(AT), together)
            together = b""
    return fed, distances


def check(case: Case, outcomes: list[Outcome], together: bytes) -> int:
    """Judge the distances among outcomes; how many there were."""
    readings = [outcome for outcome in outcomes if isinstance(outcome, Reading)]
    for reading in readings:
        assert reading.raw in together, (case.name, reading)
        judged = case.judge(reading.raw)
        assert judged is not None, (case.name, reading)
        assert math.isclose(judged, reading.distance_mm, rel_tol=1e-9), (case.name, reading, judged)
    return len(readings)


def main() -> None:
    """Fuzz all decoders and print how much each took."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000_000
    rng = np.random.default_rng(int(sys.argv[2]) if len(sys.argv) > 2 else 7)
    names = sys.argv[3:]
    for case in CASES:
        if names and case.name not in names:
            continue
        begin = time.perf_counter()
        fed, distances = fuzz(case, rng, count)
        spent = time.perf_counter() - begin
        print(f"{case.name:<24} {fed:>10} bytes, {distances:>7} right distances, {spent:.0f} s")


if __name__ == "__main__":
    main()
