"""Which shot a reading is that the prompted one does not explain.

A hand goes to another corner than the one that was asked for, or presses the button once more where
it still is. What is known of the cabinet says what every open shot should read; a reading that fits
just one of those, and fits it far better than the prompted one, was probably taken there.
"""

from __future__ import annotations

from witnessmark.model import Setup, ShotKind, Side
from witnessmark.placing.cabinet_work import CabinetWork
from witnessmark.placing.expect import Expectation, agree, expect, gate_at_rest

FAR_BETTER = 3.0
"""So many times nearer, each in units of its own gate."""
MOST_ALIKE = 3
"""After so many of one shot in a row, one more is asked about: it may be of the next after all."""


def elsewhere(setup: Setup, side: Side, stand: CabinetWork, reading_mm: float) -> ShotKind | None:
    """The one shot that a reading fits far better than it fits the prompted one; else None.

    One that is still to be taken, or the one that was taken last. Where it fits two of them it
    could be either, and neither is named.
    """
    prompted = expect(setup, side, stand, stand.todo[0])
    likely = {
        kind: expected
        for kind, expected in _others(setup, side, stand).items()
        if expected.fits(reading_mm)
    }
    if len(likely) != 1:
        return None
    (kind, expected), *_ = likely.items()
    far_better = FAR_BETTER * expected.misfit(reading_mm) <= prompted.misfit(reading_mm)
    return kind if far_better else None


def is_repeat(setup: Setup, stand: CabinetWork, kind: ShotKind, reading_mm: float) -> bool:
    """Whether a reading that was taken for a shot is the one before once more, hand held."""
    last = stand.shots[-1] if stand.shots else None
    if last is None or last.kind != kind or _in_a_row(stand) >= MOST_ALIKE:
        return False
    return agree(setup.meter, last.reading_mm, reading_mm)


def _in_a_row(stand: CabinetWork) -> int:
    """How many of the latest shots are of one kind."""
    kinds = [shot.kind for shot in reversed(stand.shots)]
    return next((place for place, kind in enumerate(kinds) if kind != kinds[0]), len(kinds))


def _others(setup: Setup, side: Side, stand: CabinetWork) -> dict[ShotKind, Expectation]:
    """What every open shot but the prompted one should read, and the last one if taken again."""
    prompted = stand.todo[0]
    others = {kind: expect(setup, side, stand, kind) for kind in stand.todo[1:] if kind != prompted}
    if stand.shots and stand.shots[-1].kind not in stand.todo:
        last = stand.shots[-1]
        others[last.kind] = Expectation(last.reading_mm, gate_at_rest(setup.meter))
    return others
