"""A solved round as a document, and as one JSON object for other programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from witnessmark.lengths import format_expanded, format_small
from witnessmark.locate.blunders import ShotCheck
from witnessmark.locate.nudge import Nudge
from witnessmark.locate.symmetry import Symmetry
from witnessmark.model import OF_CABINET, OneCabinet, Placement, Quantity, Setup, Side
from witnessmark.placing import figures as column
from witnessmark.placing.judge import Appraisal, PairAppraisal
from witnessmark.report.blocks import EXPANDED, Block, Heading, Paragraph, Space, Table
from witnessmark.words.alike import other_side_words, symmetry_words
from witnessmark.words.nudge import foot_words, nudge_words

Json = dict[str, Any]

# the spaces put a head over the digits of its figures
_HEADS = ("", "measured  ", "± ")
_AT_THE_SEAT = ("path_to_seat_mm", "arrival_us", "level_db")
_LINE = "  {:8} {:>12} {:>6}"
_AIMED_HEADS = (*_HEADS, "target ", "error ", "")
_AIMED_LINE = f"{_LINE}  {{:>10}}  {{:>10}}  {{}}"
_INCH_LINE = "  {:8} {:>14} {:>9}"
_AIMED_INCH_LINE = f"{_INCH_LINE}  {{:>13}}  {{:>13}}  {{}}"


def solve_blocks(setup: Setup, appraisal: PairAppraisal) -> Iterator[Block]:
    """Tell positions, errors, verdicts, nudges, suspects and symmetry."""
    for side, one in appraisal.cabinets.items():
        verdict = "" if one.verdict is None else f": {one.verdict}"
        yield Heading(f"{side} cabinet".capitalize(), verdict)
        yield _table(setup, side, one)
        yield from _nudge(setup, side, one)
        for check in one.suspects:
            found = "suspect, left out" if check.left_out else "suspect"
            yield Paragraph(f"{found}: {check.shot.kind.words}: {check.cause}", indent=2)
    if appraisal.symmetry is None:
        yield Space()
    else:
        yield from _symmetry(setup, appraisal.symmetry)
    yield EXPANDED


def _table(setup: Setup, side: Side, one: Appraisal) -> Table:
    target, rows = setup.targets[side], []
    for quantity in OF_CABINET:
        row = [
            quantity.label,
            _with_unit(setup, quantity, quantity.of(one.measured)),
            column.width(setup, quantity, one.expanded).removesuffix("°"),
        ]
        if target is not None and one.against_target is not None:
            against = one.against_target
            row.append(_bare(setup, quantity, quantity.of(target)))
            row.append(column.off(setup, quantity, against.error).removesuffix("°"))
            row.append(against.verdicts[quantity])
        rows.append(tuple(row))
    lines = (_LINE, _AIMED_LINE) if setup.units.is_metric else (_INCH_LINE, _AIMED_INCH_LINE)
    if target is None:
        return Table(_HEADS, tuple(rows), lines[0])
    return Table(_AIMED_HEADS, tuple(rows), lines[1])


def _bare(setup: Setup, quantity: Quantity, value: float) -> str:
    """A figure of a column without the unit that its first column has; inches keep theirs."""
    return column.length(value, setup.units) if quantity.is_length else f"{value:.2f}"


def _with_unit(setup: Setup, quantity: Quantity, value: float) -> str:
    unit = "°" if not quantity.is_length else "mm" if setup.units.is_metric else ""
    return f"{_bare(setup, quantity, value)}{unit:2}"


def _nudge(setup: Setup, side: Side, one: Appraisal) -> Iterator[Block]:
    if one.against_target is None or not one.against_target.nudge.asked:
        return
    nudge, cabinet = one.against_target.nudge, OneCabinet(setup, side)
    yield Paragraph(f"nudge: {'; '.join(nudge_words(cabinet, nudge))}", indent=2)
    for foot in nudge.feet.items():
        yield Paragraph(foot_words(cabinet, *foot), indent=4, hang=6)


def _symmetry(setup: Setup, pair: Symmetry) -> Iterator[Block]:
    units = setup.units
    yield Heading("Symmetry", f" (left minus right): {pair.worst}")
    for words in (symmetry_words(setup, pair), *other_side_words(setup, pair)):
        yield Paragraph(words, indent=2)
    yield Paragraph(
        f"path to the seat {format_small(pair.error.path_to_seat_mm, units, signed=True)} "
        f"±{format_expanded(pair.expanded.path_to_seat_mm, units, whole=False)}, "
        f"arrival {pair.error.arrival_us:+.1f} µs, level {pair.error.level_db:+.3f} dB",
        indent=2,
    )


def answer(setup: Setup, appraisal: PairAppraisal) -> Json:
    """Return all that is known of a pair as plain dicts and lists, millimetres and degrees.

    Other programs rely on its shape. A cabinet without a target has no error, verdict or nudge;
    one cabinet alone has no symmetry.
    """
    fields: Json = {
        "cabinets": {
            side.value: _cabinet_fields(OneCabinet(setup, side), one)
            for side, one in appraisal.cabinets.items()
        }
    }
    if appraisal.symmetry is not None:
        fields["symmetry"] = _symmetry_fields(appraisal.symmetry)
    return fields


def _cabinet_fields(cabinet: OneCabinet, one: Appraisal) -> Json:
    fields = _rounded(one.measured) | {"expanded": _rounded(one.expanded)}
    if (against := one.against_target) is not None:
        fields["error"] = _rounded(against.error)
        fields["verdict"] = {name: verdict.value for name, verdict in against.verdicts.items()}
        fields["nudge"] = _nudge_fields(cabinet, against.nudge)
    fields["shots"] = [_shot_fields(check) for check in one.checks]
    return fields


def _nudge_fields(cabinet: OneCabinet, nudge: Nudge) -> Json:
    return _rounded(nudge.move) | {
        "words": nudge_words(cabinet, nudge),
        "feet": {name: _rounded(foot) for name, foot in nudge.feet.items()},
    }


def _shot_fields(check: ShotCheck) -> Json:
    kind = check.shot.kind
    return {
        "point": kind.point,
        "to": kind.to.value,
        "held": kind.held.value,
        "reading_mm": check.shot.reading_mm,
        "residual_mm": round(check.residual_mm, 6),
        "suspect": check.suspect,
        "cause": check.cause,
        "left_out": check.left_out,
    }


def _symmetry_fields(pair: Symmetry) -> Json:
    error, expanded = _rounded(pair.error), _rounded(pair.expanded)
    if Quantity.PATH_TO_SEAT not in pair.verdict:  # where the seat is, nobody knows
        for name in _AT_THE_SEAT:
            del error[name], expanded[name]
    return error | {
        "expanded": expanded,
        "verdict": {name: verdict.value for name, verdict in pair.verdict.items()},
    }


def _rounded(record: Placement | msgspec.Struct) -> Json:
    """The fields of a record, to a nanometre: what lies below is rounding of the arithmetic."""
    # plus 0.0 takes the sign off a zero
    return {name: round(value, 6) + 0.0 for name, value in msgspec.structs.asdict(record).items()}
