"""Meters drawn at random, text and binary, with fields beside the distance to mistake for it.

None of them is like any meter in particular. Each is a build drawn once; its frames then change
with the distance, with each shot's count and tilt, and with a battery that runs down slowly. Some
have no button and wait for a request.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
    float_distance,
    frame,
    status,
    sum8,
    sum8_negated,
    whole_distance,
    xor8,
)

CHARACTERISTICS = (
    "7a1e0001-52c4-4f0e-9c1d-3b6f0d8a4e21",
    "7a1e0002-52c4-4f0e-9c1d-3b6f0d8a4e21",
)
"""The channels of a made-up meter on Bluetooth: what it measures, and what else it tells."""

Encode = Callable[[Moment], bytes]

_WAITING = 0.3
"""The share of meters that wait for a request."""


class Waiting(msgspec.Struct, frozen=True):
    """How a meter waits: for what, and what comes before its answer.

    A line with one pair of wires repeats what is written to it; a meter may say first that it has
    understood.
    """

    request: bytes
    is_text: bool
    before: tuple[bytes, ...] = ()
    pause_s: float = 0.2
    """So long it waits between what it says."""


class MadeUpMeter:
    """One made-up meter. ``send`` is a press of its button, or its request where it waits."""

    def __init__(
        self,
        words: str,
        encode: Encode,
        rng: Generator,
        *,
        step_mm: float,
        reach_mm: float,
        in_packets: bool,
        can_fail: bool,
        line_end: bytes = b"",
    ) -> None:
        self.words = words
        self.line_end = line_end
        self.step_mm = step_mm
        self.reach_mm = reach_mm
        self.in_packets = in_packets
        self.can_fail = can_fail
        self._encode = encode
        self._rng = rng
        self._count = int(rng.integers(0, 60_000))
        self._charge = float(rng.uniform(15, 100))
        self._talks_besides = in_packets and rng.random() < 0.3
        self.waiting: Waiting | None = None

    def send(self, true_mm: float, asked: bytes = b"") -> list[tuple[str, bytes]]:
        """What one shot brings: channel and bytes of each burst or notification.

        ``asked`` is what is written to the meter; nothing where its button is pressed.
        """
        if asked != (self.waiting.request if self.waiting else b""):
            return []
        shown = true_mm + self._rng.normal(0.0, 0.5)
        return self._said(self._encode(self._moment(shown)))

    def fail(self, last_mm: float) -> list[tuple[str, bytes]]:
        """What a shot brings by which the meter could not measure, asked where it waits for that.

        The number is zero, all ones, or the last distance once more; only the status tells.
        """
        number = float(self._rng.choice([0.0, 1e9, last_mm]))
        moment = self._moment(number)
        failed = msgspec.structs.replace(moment, status=int(self._rng.integers(1, 9)))
        return self._said(self._encode(failed))

    def _moment(self, distance_mm: float) -> Moment:
        self._count += 1
        self._charge = max(self._charge - float(self._rng.exponential(0.05)), 1.0)
        return Moment(
            distance_mm,
            count=self._count,
            angle_deg=float(self._rng.normal(0.0, 3.0)),
            charge=int(self._charge),
        )

    def _said(self, raw: bytes) -> list[tuple[str, bytes]]:
        frames = [*(self.waiting.before if self.waiting else ()), raw]
        if not self.in_packets:
            return [("", one) for one in frames]
        said = [(CHARACTERISTICS[0], one) for one in frames]
        if self._talks_besides:
            said.append((CHARACTERISTICS[1], bytes([int(self._charge)])))
        return said


def draw_meter(rng: Generator) -> MadeUpMeter:
    """A made-up meter: two in five speak text, half are on Bluetooth, three in ten wait."""
    in_packets = bool(rng.random() < 0.5)
    speaks_text = bool(rng.random() < 0.4)
    meter = (_draw_text if speaks_text else _draw_binary)(rng, in_packets)
    if rng.random() < _WAITING:
        draw = _draw_text_request if speaks_text else _draw_binary_request
        request, understood = draw(rng, meter)
        before = [request] if not in_packets and rng.random() < 0.3 else []
        before += [understood] if rng.random() < 0.3 else []
        pause_s = float(rng.choice([0.2, 0.8]))
        meter.waiting = Waiting(request, speaks_text, tuple(before), pause_s)
    return meter


def _draw_text_request(rng: Generator, meter: MadeUpMeter) -> tuple[bytes, bytes]:
    """A request, and what says that it was understood; they end as the meter's lines do."""
    letters = "".join(rng.choice(list("DMRQ?"), size=int(rng.integers(1, 4)))).encode()
    end = meter.line_end
    return letters + (end if rng.random() < 0.7 else b""), b"OK" + end


def _draw_binary_request(rng: Generator, _meter: MadeUpMeter) -> tuple[bytes, bytes]:
    return rng.bytes(int(rng.integers(1, 6))), b"\x06"


def draw_riddle(rng: Generator) -> MadeUpMeter:
    """A made-up meter whose numbers are no plain ones, so that nobody can learn it."""
    kind = str(rng.choice(["scaled", "scrambled", "decimal digits", "one byte", "logarithm"]))
    encoders: dict[str, Callable[[float], bytes]] = {
        "scaled": lambda mm: round(mm * 1.37).to_bytes(3, "big"),
        "scrambled": lambda mm: (round(mm) * 40503 & 0xFFFF).to_bytes(2, "big"),
        "decimal digits": lambda mm: bytes.fromhex(f"{round(mm):06d}"),
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


# ---- binary


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
)
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
    parts = [*header, *before, number, *after, *_draw_check(rng)]
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
    whole = _WHOLE[int(rng.integers(len(_WHOLE)))]
    words = f"uint{8 * whole.size} of {whole.unit_mm:g} mm"
    return whole_distance(whole.size, order, whole.unit_mm), words, whole.unit_mm, whole.reach_mm


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


# ---- text


class _Written(msgspec.Struct, frozen=True):
    """A way of writing the distance."""

    unit: str
    unit_mm: float
    decimals: int

    def write(self, mm: float, width: int) -> str:
        """The number, filled up with zeros to ``width`` signs."""
        return f"{mm / self.unit_mm:0{width}.{self.decimals}f}"


_WRITTEN = (
    _Written("m", 1000.0, 3),
    _Written("m", 1000.0, 4),
    _Written("mm", 1.0, 0),
    _Written("mm", 1.0, 1),
    _Written("cm", 10.0, 1),
    _Written("in", 25.4, 2),
    _Written("ft", 304.8, 3),
    _Written("", 0.1, 0),
)


def _draw_text(rng: Generator, in_packets: bool) -> MadeUpMeter:
    written = _WRITTEN[int(rng.integers(len(_WRITTEN)))]
    width = int(rng.choice([0, 0, 8]))
    unit = written.unit if rng.random() < 0.6 else ""
    unit = (" " + unit if rng.random() < 0.5 else unit) if unit else ""
    prefix = str(rng.choice(["", "", "D", "D:", "DIST ", "$DM,", "\x02", "R= "]))
    separator = str(rng.choice([",", ";", " ", "\t", ", "]))
    before, after = _draw_text_decoys(rng)
    has_status = rng.random() < 0.5
    good = str(rng.choice(["OK", "0", "A"]))
    end = str(rng.choice(["\r\n", "\n", "\r", "\r\n"] + ([""] if in_packets else ["\x03"])))
    has_check = rng.random() < 0.2

    def encode(moment: Moment) -> bytes:
        fields = [write(moment) for write in before]
        fields.append(written.write(min(moment.distance_mm, 99_999.0), width) + unit)
        if has_status:
            fields.append(good if moment.status == 0 else f"E{moment.status}")
        fields += [write(moment) for write in after]
        line = (prefix + separator.join(fields)).encode()
        if has_check:
            line += f"*{xor8()(moment, line).hex().upper()}".encode()
        return line + end.encode()

    return MadeUpMeter(
        f"text like {encode(Moment(1512.34, count=7, angle_deg=1.2))!r}",
        encode,
        rng,
        step_mm=written.unit_mm * 10.0**-written.decimals,
        reach_mm=30_000,
        in_packets=in_packets,
        can_fail=has_status,
        line_end=end.encode(),
    )


def _draw_text_decoys(
    rng: Generator,
) -> tuple[list[Callable[[Moment], str]], list[Callable[[Moment], str]]]:
    pool: list[Callable[[Moment], str]] = [
        lambda moment: f"{moment.count % 10_000:04d}",
        lambda moment: f"{moment.angle_deg:.1f}",
        lambda moment: f"{moment.charge}",
        lambda _moment: f"{int(rng.integers(100, 4000))}",
    ]
    chosen = [write for write in pool if rng.random() < 0.35]
    split = int(rng.integers(0, len(chosen) + 1))
    return chosen[:split], chosen[split:]
