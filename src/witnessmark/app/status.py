"""The figures of a round as lines of text: targets, measured, difference, verdict, symmetry."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from textual.content import Content

from witnessmark.geometry.symmetry import Symmetry
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units, format_length
from witnessmark.model import Setup, Side
from witnessmark.placing.guidance import CabinetStatus, Guidance
from witnessmark.placing.leaning import TiltStatus

_MARKS = {
    Verdict.IN: ("✓", "$text-success"),
    Verdict.OUT: ("✗", "$text-error"),
    Verdict.UNSURE: ("?", "$text-warning"),
}


class Columns(NamedTuple):
    """How many cells each figure of a row takes."""

    target: int
    measured: int
    width: int
    off: int


_METRIC_COLUMNS, _INCH_COLUMNS = Columns(7, 9, 4, 7), Columns(11, 11, 7, 10)
_NAME, _VERDICT = 10, 8


def columns(units: Units) -> Columns:
    """The columns in which lengths of these units fit."""
    return _METRIC_COLUMNS if units in (Units.MM, Units.TENTH_MM) else _INCH_COLUMNS


def status_width(units: Units) -> int:
    """How many cells the lines take."""
    return _NAME + sum(columns(units)) + len(" ± ") + _VERDICT


class Quantity(NamedTuple):
    """One line of a cabinet's table."""

    name: str
    field: str
    verdict: str
    is_length: bool


QUANTITIES = (
    Quantity("side", "side_mm", "side", is_length=True),
    Quantity("setback", "setback_mm", "setback", is_length=True),
    Quantity("toe-in", "toe_in_deg", "toe_in", is_length=False),
)


def status_lines(setup: Setup, guidance: Guidance, rows: int) -> Content:
    """Both cabinets and their symmetry, ``status_width`` cells wide.

    Tilts are told where they are known and ``rows`` leave room for them.
    """
    lines = list(_lines(setup, guidance, tilts=True))
    if len(lines) > rows:
        lines = list(_lines(setup, guidance, tilts=False))
    return Content("\n").join(lines)


def _lines(setup: Setup, guidance: Guidance, *, tilts: bool) -> Iterator[Content]:
    for side in Side:
        status = guidance.cabinets[side]
        yield _heading(setup, side, guidance)
        for quantity in QUANTITIES:
            yield _row(setup, status, quantity)
        if tilts and status.tilt is not None:
            yield _tilt(setup, status.tilt)
    yield from _symmetry(setup, guidance)


def _heading(setup: Setup, side: Side, guidance: Guidance) -> Content:
    status, wide = guidance.cabinets[side], columns(setup.units)
    marker, style = ("▶", "bold $accent") if side is guidance.side else (" ", "bold")
    when = "before" if status.stale and status.appraisal is not None else "measured"
    titles = f"{'target':>{wide.target}}{when:>{wide.measured}}{'off':>{wide.width + wide.off + 2}}"
    return Content.assemble((f"{marker} {side.upper():8}", style), (titles, "$text-muted"))


def _row(setup: Setup, status: CabinetStatus, quantity: Quantity) -> Content:
    wide = columns(setup.units)
    target = "" if status.target is None else _figure(setup, status.target, quantity)
    start = f"  {quantity.name:8}{target:>{wide.target}}"
    appraisal = status.appraisal
    if appraisal is None:
        return Content(f"{start}{'—':>{wide.measured}}")
    measured = _figure(setup, appraisal.measured, quantity, fine=True)
    width = _width(setup, getattr(appraisal.expanded, quantity.field), quantity)
    row = Content(f"{start}{measured:>{wide.measured}} ±{width:{wide.width}}")
    if appraisal.error is None or appraisal.verdicts is None:
        return row
    off = _figure(setup, appraisal.error, quantity, fine=True, signed=True)
    words, style = said(appraisal.verdicts[quantity.verdict])
    shown = (words, "$text-muted" if status.stale else style)
    return Content.assemble(row, f"{off:>{wide.off}} ", shown)


def _tilt(setup: Setup, status: TiltStatus) -> Content:
    wide = columns(setup.units)
    target = "" if status.target_deg is None else f"{status.target_deg:.2f}°"
    start = f"  {'tilt':8}{target:>{wide.target}}"
    if status.tilt is None:
        return Content(f"{start}{'—':>{wide.measured}}")
    row = f"{start}{status.tilt.tilt_deg:>{wide.measured - 1}.2f}°"
    row += f" ±{status.tilt.expanded_deg:<{wide.width}.2f}"
    if status.verdict is None:
        return Content(row)
    off = f"{status.error_deg:+.2f}°"
    return Content.assemble(row, f"{off:>{wide.off}} ", said(status.verdict))


def _symmetry(setup: Setup, guidance: Guidance) -> Iterator[Content]:
    pair = guidance.symmetry
    if pair is None:
        yield Content.assemble(("  SYMMETRY ", "bold"), ("once both are measured", "$text-muted"))
        return
    when = "before, left minus right" if guidance.symmetry_stale else "left minus right"
    yield Content.assemble(("  SYMMETRY ", "bold"), (f"{when}  ", "$text-muted"), said(pair.worst))
    yield _beside(_difference(setup, pair, "side"), _difference(setup, pair, "setback"))
    turned = Content.assemble(
        f"{'toe-in':8}{pair.error.toe_in_deg:+.2f}° ±{pair.expanded.toe_in_deg:.2f}° ",
        _mark(pair.verdict["toe_in"]),
    )
    yield _beside(_difference(setup, pair, "path_to_seat"), turned)


def _difference(setup: Setup, pair: Symmetry, quantity: str) -> Content:
    off = length(getattr(pair.error, f"{quantity}_mm"), setup.units, signed=True)
    width = length(getattr(pair.expanded, f"{quantity}_mm"), setup.units)
    name = quantity.partition("_")[0]
    return Content.assemble(f"{name:8}{off} ±{width} ", _mark(pair.verdict[quantity]))


def _beside(one: Content, other: Content) -> Content:
    return Content.assemble("  ", one, " " * max(1, 23 - one.cell_length), other)


def said(verdict: Verdict) -> tuple[str, str]:
    """A verdict as its sign and word, and the style it is shown in."""
    mark, style = _MARKS[verdict]
    return f"{mark} {verdict}", style


def _mark(verdict: Verdict) -> tuple[str, str]:
    return _MARKS[verdict]


def _figure(
    setup: Setup, record: object, quantity: Quantity, *, fine: bool = False, signed: bool = False
) -> str:
    value = getattr(record, quantity.field)
    if quantity.is_length:
        return length(value, setup.units, fine=fine, signed=signed)
    return f"{value:+.2f}°" if signed else f"{value:.2f}°"


def _width(setup: Setup, value: float, quantity: Quantity) -> str:
    return length(value, setup.units) if quantity.is_length else f"{value:.2f}"


def length(mm: float, units: Units, *, fine: bool = True, signed: bool = False) -> str:
    """A length for a column: bare millimetres, or feet and inches with their marks."""
    if units in (Units.MM, Units.TENTH_MM):
        digits = 1 if fine else 0
        return f"{mm:+.{digits}f}" if signed else f"{mm:.{digits}f}"
    return format_length(mm, units, signed=signed)
