"""The figures of a round as text, a row to a quantity, for any view to lay out."""

from __future__ import annotations

import msgspec

from witnessmark.geometry.verdict import Verdict, worst
from witnessmark.lengths import Units, format_length
from witnessmark.locate.symmetry import Symmetry
from witnessmark.model import Setup, Side
from witnessmark.placing.guidance import CabinetStatus, Guidance, TiltStatus

MARKS = {Verdict.IN: "✓", Verdict.OUT: "✗", Verdict.UNSURE: "?"}
"""The sign that stands beside each verdict, so that it is never told by colour alone."""
TILT = "tilt"
"""The name of the row of a cabinet's tilt, the last one, where it is known or asked for."""
_CABINET_NAMES = (("side", "side_mm"), ("setback", "setback_mm"), ("toe-in", "toe_in_deg"))
_PAIR_NAMES = (
    ("side", "side_mm"),
    ("setback", "setback_mm"),
    ("path", "path_to_seat_mm"),
    ("toe-in", "toe_in_deg"),
)


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One quantity: all lengths bare millimetres, or feet and inches with their marks."""

    name: str
    target: str = ""
    measured: str = ""
    width: str = ""
    """The expanded uncertainty."""
    off: str = ""
    """Measured minus target, or left minus right."""
    verdict: Verdict | None = None


class Table(msgspec.Struct, frozen=True):
    """What is known of one cabinet, or of the pair."""

    name: str
    note: str
    """What the figures are."""
    stale: bool
    rows: tuple[Row, ...]
    verdict: Verdict | None = None
    """The worst of the rows."""


def tables(setup: Setup, guidance: Guidance) -> tuple[Table, Table, Table]:
    """Left cabinet, right cabinet, symmetry."""
    left, right = (_of_cabinet(setup, side, guidance.cabinets[side]) for side in Side)
    return left, right, _of_pair(setup, guidance)


def _of_cabinet(setup: Setup, side: Side, status: CabinetStatus) -> Table:
    found = status.appraisal
    note = "before" if status.stale and found else "measured"
    rows = tuple(_cabinet_row(setup, status, name, field) for name, field in _CABINET_NAMES)
    if status.tilt is not None:
        rows += (_tilt_row(status.tilt),)
    verdicts = [row.verdict for row in rows if row.verdict is not None]
    return Table(side.value, note, status.stale, rows, worst(verdicts) if verdicts else None)


def _cabinet_row(setup: Setup, status: CabinetStatus, name: str, field: str) -> Row:
    found = status.appraisal
    return Row(
        name=name,
        target=_figure(setup, status.target, field, fine=False),
        measured=_figure(setup, found.measured if found else None, field),
        width=_figure(setup, found.expanded if found else None, field),
        off=_figure(setup, found.error if found else None, field, signed=True),
        verdict=found.verdicts[_quantity(field)] if found and found.verdicts else None,
    )


def _tilt_row(status: TiltStatus) -> Row:
    tilt = status.tilt
    return Row(
        name=TILT,
        target=_degrees(status.target_deg),
        measured=_degrees(tilt.tilt_deg if tilt else None),
        width=_degrees(tilt.expanded_deg if tilt else None),
        off=_degrees(status.error_deg, signed=True),
        verdict=status.verdict,
    )


def _of_pair(setup: Setup, guidance: Guidance) -> Table:
    pair, stale = guidance.symmetry, guidance.symmetry_stale
    if pair is None:
        return Table("symmetry", "once both are measured", stale, ())
    note = "before, left minus right" if stale else "left minus right"
    rows = tuple(_pair_row(setup, pair, name, field) for name, field in _PAIR_NAMES)
    return Table("symmetry", note, stale, rows, pair.worst)


def _pair_row(setup: Setup, pair: Symmetry, name: str, field: str) -> Row:
    return Row(
        name=name,
        width=_figure(setup, pair.expanded, field),
        off=_figure(setup, pair.error, field, signed=True),
        verdict=pair.verdict[_quantity(field)],
    )


def _quantity(field: str) -> str:
    """A quantity without its unit."""
    return field.rpartition("_")[0]


def _figure(
    setup: Setup, record: object, field: str, *, fine: bool = True, signed: bool = False
) -> str:
    if record is None:
        return ""
    value = getattr(record, field)
    if field.endswith("_mm"):
        return length(value, setup.units, fine=fine, signed=signed)
    return _degrees(value, signed=signed)


def _degrees(value: float | None, *, signed: bool = False) -> str:
    if value is None:
        return ""
    return f"{value:+.2f}°" if signed else f"{value:.2f}°"


def length(mm: float, units: Units, *, fine: bool = True, signed: bool = False) -> str:
    """A length for a column: bare millimetres, or feet and inches with their marks."""
    if units in (Units.MM, Units.TENTH_MM):
        digits = 1 if fine else 0
        return f"{mm:+.{digits}f}" if signed else f"{mm:.{digits}f}"
    return format_length(mm, units, signed=signed)
