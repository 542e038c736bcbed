"""Made-up meters that speak text, with fields beside the distance to mistake for it."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from numpy.random import Generator

from witnessmark_simulators.binary import Moment, crc16, xor8
from witnessmark_simulators.made_up_meter import MadeUpMeter


class _Written(msgspec.Struct, frozen=True):
    """A way of writing the distance; ``signs`` stand for the comma and the dot of ``form``."""

    unit: str
    unit_mm: float
    decimals: int
    form: str = "0{width}.{decimals}f"
    signs: str = ""

    @property
    def step_mm(self) -> float:
        """What one in the last place is worth."""
        return self.unit_mm * 10.0**-self.decimals

    def write(self, mm: float, width: int) -> str:
        """Return the number, filled up with zeros to ``width`` signs."""
        form = self.form.format(width=width or "", decimals=self.decimals)
        number = mm / self.unit_mm
        text = format(round(number) if form[-1] in "xX" else number, form)
        return text.translate(dict(zip(map(ord, ",."), self.signs, strict=False)))


class _Parts(_Written, frozen=True):
    """Inches, or feet and inches, with parts of an inch."""

    parts: int = 16

    @property
    def step_mm(self) -> float:
        """What one part is worth."""
        return 25.4 / (self.parts or 10)

    def write(self, mm: float, width: int) -> str:
        """Return feet and inches where no unit follows, else inches; zeros fill both up."""
        if not self.unit:
            return feet_and_inches(mm, self.parts)
        whole, part = divmod(round(mm / 25.4 * self.parts), self.parts)
        return f"{whole} {part}/{self.parts}"


_WRITTEN = (
    _Written("m", 1000.0, 3),
    _Written("m", 1000.0, 4),
    _Written("mm", 1.0, 0),
    _Written("mm", 1.0, 1),
    _Written("cm", 10.0, 1),
    _Written("in", 25.4, 2),
    _Written("ft", 304.8, 3),
    _Written("", 0.1, 0),
    _Written("m", 1000.0, 3, signs=" ,"),
    _Written("cm", 10.0, 1, signs=" ,"),
    _Written("in", 25.4, 1, signs=" ,"),
    _Written("mm", 1.0, 1, signs=" ,"),
    _Written("mm", 1.0, 0, form=",.{decimals}f", signs=",."),
    _Written("mm", 1.0, 1, form=",.{decimals}f", signs=".,"),
    _Written("mm", 1.0, 1, form=",.{decimals}f", signs="'."),
    _Written("m", 1000.0, 4, form=".5e"),
    _Written("mm", 1.0, 0, form=".4E"),
    _Written("", 1.0, 0, form="04X"),
    _Parts("in", 25.4, 0),
    _Parts("", 25.4, 0, parts=16),
    _Parts("", 25.4, 0, parts=0),
)


def draw_text(rng: Generator, in_packets: bool) -> MadeUpMeter:
    """Return a made-up meter that sends a line, or a text without line end, for each shot."""
    written = _WRITTEN[int(rng.integers(len(_WRITTEN)))]
    width = int(rng.choice([0, 0, 8]))
    unit = written.unit if rng.random() < 0.6 or isinstance(written, _Parts) else ""
    unit = (" " + unit if rng.random() < 0.5 else unit) if unit else ""
    prefix = str(rng.choice(["", "", "D", "D:", "DIST ", "$DM,", "\x02", "R= "]))
    prefix = prefix if written.form != "04X" or prefix != "D" else "L"
    # who writes commas in numbers does not part fields by them
    apart = [",", ";", " ", "\t", ", "] if "," not in written.write(1234.5, 0) else [";", " ", "\t"]
    separator = str(rng.choice(apart if not isinstance(written, _Parts) else [";", "\t"]))
    before, after = _draw_decoys(rng)
    has_status = rng.random() < 0.5
    good = str(rng.choice(["OK", "0", "A"]))
    end = str(rng.choice(["\r\n", "\n", "\r", "\r\n"] + ([""] if in_packets else ["\x03"])))
    check = _CHECKS[int(rng.integers(len(_CHECKS)))] if rng.random() < 0.3 else None
    longest = _Extreme(rng) if rng.random() < 0.1 else None

    def encode(moment: Moment) -> bytes:
        distance = written.write(min(moment.distance_mm, 99_999.0), width) + unit
        fields = [write(moment) for write in before]
        if longest:
            fields += longest.beside(moment, lambda mm: written.write(mm, width) + unit)
        fields.append(distance)
        if has_status:
            fields.append(good if moment.status == 0 else f"E{moment.status}")
        fields += [write(moment) for write in after]
        line = (prefix + separator.join(fields)).encode()
        return (check(line) if check else line) + end.encode()

    words = f"text like {encode(Moment(1512.34, count=7, angle_deg=1.2))!r}"
    if longest:
        longest.forget()
    return MadeUpMeter(
        words,
        encode,
        rng,
        step_mm=written.step_mm,
        reach_mm=30_000,
        in_packets=in_packets,
        can_fail=has_status,
        line_end=end.encode(),
    )


class _Extreme:
    """The longest distance so far, or the shortest, told before the present one."""

    def __init__(self, rng: Generator) -> None:
        self._choose = max if rng.random() < 0.5 else min
        self._so_far: float | None = None

    def beside(self, moment: Moment, write: Callable[[float], str]) -> list[str]:
        """Return the field, which a shot that fails leaves as it was."""
        mm, before = moment.distance_mm, self._so_far
        if moment.status == 0 or before is None:
            before = self._so_far = mm if before is None else self._choose(before, mm)
        return [f"{self._choose.__name__.upper()} {write(before)}"]

    def forget(self) -> None:
        """Begin anew, as a meter does that was just switched on."""
        self._so_far = None


def _draw_decoys(
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


def with_xor(line: bytes) -> bytes:
    """Return the line with all its bytes joined by exclusive or, in two digits."""
    result = 0
    for byte in line:
        result ^= byte
    return line + f"{result:02X}".encode()


def with_sum(line: bytes) -> bytes:
    """Return the line with the sum of its bytes, in two digits."""
    return line + f"{sum(line) % 256:02X}".encode()


def with_crc(line: bytes) -> bytes:
    """Return the line with its CRC-16 of Modbus, in four digits, the high ones first."""
    return line + f"{crc16(line):04X}".encode()


def feet_and_inches(mm: float, parts: int) -> str:
    """Return feet and inches filled up with zeros, in such parts of an inch; 0: in tenths."""
    steps = round(mm / 25.4 * (parts or 10))
    feet, rest = divmod(steps, 12 * (parts or 10))
    inches, part = divmod(rest, parts or 10)
    return (
        f"{feet:02d}'{inches:02d}.{part}\""
        if not parts
        else f"{feet:02d}' {inches:02d} {part:02d}/{parts}\""
    )


_CHECKS: tuple[Callable[[bytes], bytes], ...] = (
    lambda line: line + f"*{xor8()(Moment(0.0), line).hex().upper()}".encode(),
    lambda line: with_sum(line + b"*"),
    lambda line: with_crc(line + b";"),
    with_sum,
)
