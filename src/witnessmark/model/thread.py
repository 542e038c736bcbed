"""The threads of spikes and feet, and how far one turn goes.

Metric pitches are those of ISO 261 (from memory; the coarse ones agree with the pitch table of an
open library of fasteners). Unified inch threads are those of ASME B1.1, coarse (UNC) and fine
(UNF), which agree with the tables of an open library of screws.
"""

from __future__ import annotations

from fractions import Fraction

from witnessmark.errors import BadInput

INCH_MM = Fraction(254, 10)

METRIC_PITCHES_MM: dict[str, tuple[float, ...]] = {
    "M4": (0.7, 0.5),
    "M5": (0.8, 0.5),
    "M6": (1.0, 0.75),
    "M7": (1.0, 0.75),
    "M8": (1.25, 1.0, 0.75),
    "M10": (1.5, 1.25, 1.0, 0.75),
    "M12": (1.75, 1.5, 1.25, 1.0),
    "M14": (2.0, 1.5, 1.25, 1.0),
    "M16": (2.0, 1.5, 1.0),
    "M20": (2.5, 2.0, 1.5, 1.0),
}
"""ISO 261: the coarse pitch of a diameter, then the fine ones."""

UNIFIED_THREADS_PER_INCH: dict[str, tuple[int, int]] = {
    "#8": (32, 36),
    "#10": (24, 32),
    "#12": (24, 28),
    "1/4": (20, 28),
    "5/16": (18, 24),
    "3/8": (16, 24),
    "7/16": (14, 20),
    "1/2": (13, 20),
    "9/16": (12, 18),
    "5/8": (11, 18),
}
"""ASME B1.1: threads per inch of a size, coarse (UNC) and fine (UNF)."""

_EXAMPLES = 'write it as "M8", "M8x1", "1/4-20" or "5/16-18"'


def _named() -> dict[str, float]:
    metric = {size: pitches[0] for size, pitches in METRIC_PITCHES_MM.items()}
    metric |= {
        f"{size}x{pitch:g}": pitch
        for size, pitches in METRIC_PITCHES_MM.items()
        for pitch in pitches
    }
    unified = {
        f"{size}-{count}": float(INCH_MM / count)
        for size, counts in UNIFIED_THREADS_PER_INCH.items()
        for count in counts
    }
    return {name.casefold(): pitch for name, pitch in (metric | unified).items()}


_PITCHES_MM = _named()


def pitch_mm(thread: str) -> float:
    """Return how far one turn of a spike with this thread goes, mm.

    A metric thread without its pitch (``M8``) is the coarse one; a unified one may be followed by
    its series (``1/4-20 UNC``).

    Raises:
        BadInput: when no such thread is known here.
    """
    name = thread.casefold().replace("×", "x").removesuffix("unc").removesuffix("unf")
    try:
        return _PITCHES_MM["".join(name.split())]
    except KeyError:
        raise BadInput(
            f'cabinet.thread: "{thread}" is not a thread known here; {_EXAMPLES}'
        ) from None
