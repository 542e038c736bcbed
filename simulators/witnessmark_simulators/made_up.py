"""Meters drawn at random, text and binary, with fields beside the distance to mistake for it.

None of them is like any meter in particular. Each is a build drawn once; its frames then change
with the distance, with each shot's count and tilt, and with a battery that runs down slowly. Some
have no button and wait for a request.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from string import ascii_letters
from typing import Literal

import msgspec
from numpy.random import Generator

from witnessmark_simulators.binary import (
    ByteOrder,
    Moment,
    Part,
    angle,
    charge,
    constant,
    counter,
    crc16_modbus,
    decimal_distance,
    float_distance,
    frame,
    status,
    sum8,
    sum8_negated,
    whole_distance,
    xor8,
)
from witnessmark_simulators.made_up_meter import MadeUpMeter, Waiting
from witnessmark_simulators.made_up_text import draw_text

_WAITING = 0.3
"""The share of meters that wait for a request."""


def draw_meter(rng: Generator) -> MadeUpMeter:
    """Return a made-up meter: two in five speak text, half are on Bluetooth, three in ten wait."""
    in_packets = bool(rng.random() < 0.5)
    speaks_text = bool(rng.random() < 0.4)
    meter = (draw_text if speaks_text else _draw_binary)(rng, in_packets)
    if rng.random() < _WAITING:
        draw = _draw_text_request if speaks_text else _draw_binary_request
        request, understood = draw(rng, meter)
        before = [request] if not in_packets and rng.random() < 0.3 else []
        before += [understood] if rng.random() < 0.3 else []
        pause_s = float(rng.choice([0.2, 0.8]))
        meter.waiting = Waiting(request, speaks_text, tuple(before), pause_s)
    return meter


def _draw_text_request(rng: Generator, meter: MadeUpMeter) -> tuple[bytes, bytes]:
    """Return a request, and what says that it was understood; they end as the meter's lines do."""
    letters = "".join(rng.choice(list(ascii_letters), size=int(rng.integers(1, 4)))).encode()
    end = meter.line_end
    return letters + (end if rng.random() < 0.7 else b""), b"OK" + end


def _draw_binary_request(rng: Generator, _meter: MadeUpMeter) -> tuple[bytes, bytes]:
    return rng.bytes(int(rng.integers(1, 6))), b"\x06"


def draw_riddle(rng: Generator) -> MadeUpMeter:
    """Return a made-up meter whose numbers are no plain ones, so that nobody can learn it."""
    kind = str(rng.choice(["scaled", "scrambled", "one byte", "logarithm"]))
    encoders: dict[str, Callable[[float], bytes]] = {
        "scaled": lambda mm: round(mm * 1.37).to_bytes(3, "big"),
        "scrambled": lambda mm: (round(mm) * 40503 & 0xFFFF).to_bytes(2, "big"),
        "one byte": lambda mm: bytes([min(round(mm / 100), 255)]),
        "logarithm": lambda mm: round(1000 * len(f"{mm:.3f}") + mm**0.5 * 100).to_bytes(
            3, "little"
        ),
    }
    encode_mm = encoders[kind]
    parts: list[Part] = [
        constant(bytes([int(rng.integers(128, 256))])),
        lambda moment, _before: encode_mm(moment.distance_mm),
        charge(),
    ]
    return MadeUpMeter(
        f"a riddle: {kind}",
        lambda moment: frame(parts, moment),
        rng,
        step_mm=1.0,
        reach_mm=15_000,
        in_packets=bool(rng.random() < 0.5),
        can_fail=False,
    )


class _Whole(msgspec.Struct, frozen=True):
    """A build of whole numbers."""

    size: int
    unit_mm: float
    reach_mm: float


_WHOLE = (
    _Whole(2, 1.0, 30_000),
    _Whole(2, 0.1, 6_000),
    _Whole(2, 10.0, 30_000),
    _Whole(3, 1.0, 30_000),
    _Whole(3, 0.1, 30_000),
    _Whole(3, 0.01, 30_000),
    _Whole(4, 1.0, 30_000),
    _Whole(4, 0.1, 30_000),
    _Whole(4, 0.01, 30_000),
    _Whole(4, 0.0254, 30_000),
    _Whole(4, 0.3048, 30_000),
    _Whole(2, 25.4 / 16, 30_000),
)
_DECIMAL = (_Whole(2, 1.0, 9_500), _Whole(3, 1.0, 30_000), _Whole(4, 0.1, 30_000))
_FLOAT_UNITS_MM = {"m": 1000.0, "mm": 1.0, "cm": 10.0, "ft": 304.8, "in": 25.4}


def _draw_binary(rng: Generator, in_packets: bool) -> MadeUpMeter:
    order: ByteOrder = "big" if rng.random() < 0.5 else "little"
    number, words, step_mm, reach_mm = _draw_number(rng, order)
    before, after = _draw_decoys(rng, order)
    has_status = rng.random() < 0.6
    if has_status:
        place = before if rng.random() < 0.5 else after
        place.insert(int(rng.integers(0, len(place) + 1)), status(int(rng.choice([0, 0, 1, 0x41]))))
    header = [] if in_packets and rng.random() < 0.5 else [constant(_draw_header(rng))]
    numbers = [number] if rng.random() < 0.9 else _with_extremes(rng, number)
    parts = [*header, *before, *numbers, *after, *_draw_check(rng)]
    if rng.random() < 0.2:
        parts.append(constant(b"\r\n"))
    return MadeUpMeter(
        f"binary, {words}, {order}",
        lambda moment: frame(parts, moment),
        rng,
        step_mm=step_mm,
        reach_mm=reach_mm,
        in_packets=in_packets,
        can_fail=has_status,
    )


def _draw_number(rng: Generator, order: ByteOrder) -> tuple[Part, str, float, float]:
    if rng.random() < 0.3:
        unit = str(rng.choice(list(_FLOAT_UNITS_MM)))
        size: Literal[4, 8] = 4 if rng.random() < 0.8 else 8
        words = f"float{8 * size} {unit}"
        return float_distance(size, order, _FLOAT_UNITS_MM[unit]), words, 0.01, 30_000
    if rng.random() < 0.1:
        digits = _DECIMAL[int(rng.integers(len(_DECIMAL)))]
        words = f"{2 * digits.size} decimal digits of {digits.unit_mm:g} mm"
        part = decimal_distance(digits.size, order, digits.unit_mm)
        return part, words, digits.unit_mm, digits.reach_mm
    whole = _WHOLE[int(rng.integers(len(_WHOLE)))]
    words = f"uint{8 * whole.size} of {whole.unit_mm:g} mm"
    return whole_distance(whole.size, order, whole.unit_mm), words, whole.unit_mm, whole.reach_mm


def _with_extremes(rng: Generator, number: Part) -> list[Part]:
    """Return the number beside the longest so far, or between the shortest and the longest."""

    def extreme(choose: Callable[[float, float], float]) -> Part:
        so_far: list[float] = []

        def part(moment: Moment, before: bytes) -> bytes:
            if moment.status == 0 or not so_far:
                so_far[:] = [
                    choose(so_far[0] if so_far else moment.distance_mm, moment.distance_mm)
                ]
            return number(msgspec.structs.replace(moment, distance_mm=so_far[0]), before)

        return part

    return [number, extreme(max)] if rng.random() < 0.5 else [extreme(min), number, extreme(max)]


def _draw_header(rng: Generator) -> bytes:
    return bytes(int(byte) for byte in rng.integers(1, 256, size=int(rng.integers(1, 4))))


def _draw_decoys(rng: Generator, order: ByteOrder) -> tuple[list[Part], list[Part]]:
    pool: list[Part] = [
        counter(int(rng.integers(1, 5)), order),
        angle(2, order, float(rng.choice([0.1, 0.01]))),
        charge(),
        constant(bytes([int(rng.integers(0, 256))])),
        lambda _moment, _before: bytes([int(rng.integers(40, 200))]),
    ]
    chosen = [part for part in pool if rng.random() < 0.45]
    order_of = rng.permutation(len(chosen))
    shuffled = [chosen[int(place)] for place in order_of]
    split = int(rng.integers(0, len(shuffled) + 1))
    return shuffled[:split], shuffled[split:]


def _draw_check(rng: Generator) -> list[Part]:
    left_out = int(rng.integers(0, 2))
    checks: Sequence[list[Part]] = (
        [],
        [sum8(left_out)],
        [xor8(left_out)],
        [sum8_negated(left_out)],
        [crc16_modbus(0)],
    )
    return checks[int(rng.integers(len(checks)))]
