"""Made-up meters that speak text, with fields beside the distance to mistake for it."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from numpy.random import Generator

from witnessmark_simulators.binary import Moment, xor8
from witnessmark_simulators.made_up_meter import MadeUpMeter


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


def draw_text(rng: Generator, in_packets: bool) -> MadeUpMeter:
    """A made-up meter that sends a line, or a text without line end, for each shot."""
    written = _WRITTEN[int(rng.integers(len(_WRITTEN)))]
    width = int(rng.choice([0, 0, 8]))
    unit = written.unit if rng.random() < 0.6 else ""
    unit = (" " + unit if rng.random() < 0.5 else unit) if unit else ""
    prefix = str(rng.choice(["", "", "D", "D:", "DIST ", "$DM,", "\x02", "R= "]))
    separator = str(rng.choice([",", ";", " ", "\t", ", "]))
    before, after = _draw_decoys(rng)
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
