"""The figures of a round as text, a row to a quantity, for any view to lay out."""

from __future__ import annotations

import msgspec

from witnessmark.geometry.verdict import Verdict, probability_within, worst
from witnessmark.lengths import Units, format_expanded, format_length, format_small
from witnessmark.locate.symmetry import Symmetry
from witnessmark.locate.tilt import TiltSymmetry
from witnessmark.model import OF_CABINET, OF_PAIR, Quantity, Setup, Side
from witnessmark.model.pair import COVERAGE_FACTOR
from witnessmark.placing.guidance import CabinetStatus, Guidance, TiltStatus
from witnessmark.placing.judge import Appraisal
from witnessmark.sentences import percent

MARKS = {Verdict.IN: "✓", Verdict.OUT: "✗", Verdict.UNSURE: "?"}
"""The sign beside each verdict, so that colour alone never carries it."""
_LENGTHS_FIRST = sorted(OF_PAIR, key=lambda quantity: not quantity.is_length)


class FigureRow(msgspec.Struct, frozen=True, kw_only=True):
    """One quantity: all lengths bare millimetres, or inches with their unit."""

    name: str
    target: str = ""
    measured: str = ""
    width: str = ""
    """The expanded uncertainty."""
    off: str = ""
    """Measured minus target, or left minus right."""
    verdict: Verdict | None = None
    sure: str = ""
    """The probability to be within tolerance, where the verdict leaves that open."""


class FigureTable(msgspec.Struct, frozen=True):
    """What is known of one cabinet, or of the pair."""

    name: str
    note: str
    """What the figures are."""
    stale: bool
    rows: tuple[FigureRow, ...]
    verdict: Verdict | None = None
    """The worst of the rows."""
    sure: str = ""
    """The probability that all of a placement is within tolerance, where that is open."""


def tables(guidance: Guidance) -> tuple[FigureTable, FigureTable, FigureTable]:
    """Return the tables of the left cabinet, the right one and their symmetry."""
    setup = guidance.setup
    left, right = (_of_cabinet(setup, side, guidance.cabinets[side]) for side in Side)
    return left, right, _of_pair(guidance)


def _of_cabinet(setup: Setup, side: Side, status: CabinetStatus) -> FigureTable:
    found = status.appraisal
    note = "before" if status.stale and found else "measured"
    rows = tuple(_cabinet_row(setup, status, quantity) for quantity in OF_CABINET)
    if status.tilt is not None:
        rows += (_tilt_row(status.tilt),)
    verdicts = [row.verdict for row in rows if row.verdict is not None]
    against = found and found.against_target
    return FigureTable(
        name=side.value,
        note=note,
        stale=status.stale,
        rows=rows,
        verdict=worst(verdicts) if verdicts else None,
        sure="" if not against or against.within is None else percent(against.within),
    )


def _cabinet_row(setup: Setup, status: CabinetStatus, quantity: Quantity) -> FigureRow:
    found = status.appraisal
    against = found and found.against_target
    return FigureRow(
        name=quantity.label,
        target=_figure(setup, quantity, status.target, fine=False),
        measured=_figure(setup, quantity, found and found.measured),
        width=width(setup, quantity, found and found.expanded),
        off=off(setup, quantity, against and against.error),
        verdict=against.verdicts[quantity] if against else None,
        sure=_sure(setup, found, quantity) if found else "",
    )


def _sure(setup: Setup, found: Appraisal, quantity: Quantity) -> str:
    """The probability that one quantity is within its tolerance, where that is open."""
    against = found.against_target
    if against is None or against.within is None:
        return ""
    if against.verdicts[quantity] is not Verdict.UNSURE:
        return ""
    standard = quantity.of(found.expanded) / COVERAGE_FACTOR
    error, tolerance = quantity.of(against.error), quantity.tolerance(setup)
    return percent(probability_within(error, standard, tolerance))


def _tilt_row(status: TiltStatus) -> FigureRow:
    tilt = status.tilt
    return FigureRow(
        name=Quantity.TILT.label,
        target=_degrees(status.target_deg),
        measured=_degrees(tilt.tilt_deg if tilt else None),
        width=_degrees(tilt.expanded_deg if tilt else None),
        off=_degrees(status.error_deg, signed=True),
        verdict=status.verdict,
    )


def _of_pair(guidance: Guidance) -> FigureTable:
    pair, stale = guidance.symmetry, guidance.symmetry_stale
    if pair is None:
        return FigureTable("symmetry", "once both are measured", stale, ())
    note = "before, left minus right" if stale else "left minus right"
    rows = tuple(
        _pair_row(guidance.setup, pair, one) for one in _LENGTHS_FIRST if one in pair.verdict
    )
    if pair.tilt is not None:
        rows += (_pair_tilt_row(pair, pair.tilt),)
    return FigureTable("symmetry", note, stale, rows, pair.worst)


def _pair_row(setup: Setup, pair: Symmetry, quantity: Quantity) -> FigureRow:
    return FigureRow(
        name=quantity.label,
        width=width(setup, quantity, pair.expanded),
        off=off(setup, quantity, pair.error),
        verdict=pair.verdict[quantity],
    )


def _pair_tilt_row(pair: Symmetry, tilt: TiltSymmetry) -> FigureRow:
    return FigureRow(
        name=Quantity.TILT.label,
        width=_degrees(tilt.expanded_deg),
        off=_degrees(tilt.tilt_deg, signed=True),
        verdict=pair.verdict[Quantity.TILT],
    )


def _figure(setup: Setup, quantity: Quantity, record: object | None, *, fine: bool = True) -> str:
    if record is None:
        return ""
    value = quantity.of(record)
    return length(value, setup.units, fine=fine) if quantity.is_length else _degrees(value)


def width(setup: Setup, quantity: Quantity, expanded: object | None) -> str:
    """Return an expanded uncertainty for a column."""
    if expanded is None:
        return ""
    value = quantity.of(expanded)
    if not quantity.is_length:
        return _degrees(value)
    return format_expanded(value, setup.units, whole=False).removesuffix(" mm")


def off(setup: Setup, quantity: Quantity, error: object | None) -> str:
    """Return an error or a difference for a column, with its sign."""
    if error is None:
        return ""
    value = quantity.of(error)
    return misfit(value, setup.units) if quantity.is_length else _degrees(value, signed=True)


def _degrees(value: float | None, *, signed: bool = False) -> str:
    if value is None:
        return ""
    return f"{value:+.2f}°" if signed else f"{value:.2f}°"


def length(mm: float, units: Units, *, fine: bool = True) -> str:
    """Return a length for a column: bare millimetres, or feet and inches with their marks."""
    if units.is_metric:
        return f"{mm:.{1 if fine else 0}f}"
    return format_length(mm, units)


def misfit(mm: float, units: Units) -> str:
    """Return a difference for a column, with its sign: bare millimetres, or inches."""
    return f"{mm:+.1f}" if units.is_metric else format_small(mm, units, signed=True)
