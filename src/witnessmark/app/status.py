"""The figures of a round as lines of text: targets, measured, difference, verdict, symmetry."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from textual.content import Content

from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units, format_length
from witnessmark.model import Setup, Side
from witnessmark.placing.guidance import CabinetStatus, Guidance
from witnessmark.placing.stand import Stage

_VERDICT = {
    Verdict.IN: ("✓ in", "$text-success"),
    Verdict.OUT: ("✗ out", "$text-error"),
    Verdict.UNSURE: ("? unsure", "$text-warning"),
}
_STAGE = {
    Stage.MEASURE: "being measured",
    Stage.NUDGE: "to be nudged",
    Stage.SETTLED: "settled",
    Stage.BEST: "as near as can be told",
}


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


def status_lines(setup: Setup, guidance: Guidance) -> Content:
    """Both cabinets and their symmetry, 47 cells wide in millimetres."""
    return Content("\n").join(list(_lines(setup, guidance)))


def _lines(setup: Setup, guidance: Guidance) -> Iterator[Content]:
    yield Content.styled("            target    measured      off", "$text-muted")
    for side in Side:
        yield _heading(side, guidance.cabinets[side], present=side is guidance.side)
        for quantity in QUANTITIES:
            yield _row(setup, guidance.cabinets[side], quantity)
    yield from _symmetry(setup, guidance)


def _heading(side: Side, status: CabinetStatus, *, present: bool) -> Content:
    marker, style = ("▶ ", "bold $accent") if present else ("  ", "bold")
    told = _STAGE[status.stage]
    if status.stale and status.appraisal is not None:
        told += ", figures from before"
    return Content.assemble((f"{marker}{side.upper()} ", style), (told, "$text-muted"))


def _row(setup: Setup, status: CabinetStatus, quantity: Quantity) -> Content:
    name = f"  {quantity.name:8}"
    target = "" if status.target is None else _figure(setup, status.target, quantity)
    appraisal = status.appraisal
    if appraisal is None:
        return Content(f"{name}{target:>9}{'—':>11}")
    measured = _figure(setup, appraisal.measured, quantity, fine=True)
    width = _width(setup, getattr(appraisal.expanded, quantity.field), quantity)
    row = Content(f"{name}{target:>9}{measured:>10} ±{width:4}")
    if appraisal.error is None or appraisal.verdicts is None:
        return row
    off = _figure(setup, appraisal.error, quantity, fine=True, signed=True)
    words, style = _VERDICT[appraisal.verdicts[quantity.verdict]]
    dimmed = "$text-muted" if status.stale else style
    return Content.assemble(row, f"{off:>8} ", (words, dimmed))


def _symmetry(setup: Setup, guidance: Guidance) -> Iterator[Content]:
    pair = guidance.symmetry
    if pair is None:
        yield Content.assemble(("  SYMMETRY ", "bold"), ("once both are measured", "$text-muted"))
        return
    note = "left minus right" + (", figures from before" if guidance.symmetry_stale else "")
    words, style = _VERDICT[pair.worst]
    yield Content.assemble(("  SYMMETRY ", "bold"), (f"{note} ", "$text-muted"), (words, style))
    error, expanded = pair.error, pair.expanded
    for name, field in (
        ("side", "side_mm"),
        ("setback", "setback_mm"),
        ("path", "path_to_seat_mm"),
    ):
        off = length(getattr(error, field), setup.units, signed=True)
        width = length(getattr(expanded, field), setup.units)
        key = "path_to_seat" if name == "path" else name
        words, style = _VERDICT[pair.verdict[key]]
        more = f" {error.arrival_us:+.0f} µs" if name == "path" else ""
        yield Content.assemble(f"  {name:8}{off:>9} ±{width:6} ", (words, style), more)
    words, style = _VERDICT[pair.verdict["toe_in"]]
    yield Content.assemble(
        f"  {'toe-in':8}{error.toe_in_deg:+8.2f}° ±{expanded.toe_in_deg:<5.2f}° ", (words, style)
    )


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
