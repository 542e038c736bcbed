"""A solved round as a document."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.locate.symmetry import Symmetry
from witnessmark.model import OF_CABINET, OneCabinet, Setup, Side
from witnessmark.placing.judge import Appraisal, PairAppraisal
from witnessmark.report.blocks import EXPANDED, Block, Heading, Paragraph, Space, Table
from witnessmark.words.live import foot_words, other_side_words, symmetry_words

# the spaces put a head over the digits of its figures
_HEADS = ("", "measured  ", "± ")
_LINE = "  {:8} {:>12} {:>6}"
_AIMED_HEADS = (*_HEADS, "target ", "error ", "")
_AIMED_LINE = f"{_LINE}  {{:>10}}  {{:>10}}  {{}}"


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
        unit, digits = ("mm", 1) if quantity.is_length else ("°", 2)
        row = [
            quantity.label,
            f"{quantity.of(one.measured):.{digits}f}{unit:2}",
            f"{quantity.of(one.expanded):.{digits}f}",
        ]
        if target is not None and one.against_target is not None:
            against = one.against_target
            row.append(f"{quantity.of(target):.{digits}f}")
            row += (f"{quantity.of(against.error):+.{digits}f}", against.verdicts[quantity])
        rows.append(tuple(row))
    if target is None:
        return Table(_HEADS, tuple(rows), _LINE)
    return Table(_AIMED_HEADS, tuple(rows), _AIMED_LINE)


def _nudge(setup: Setup, side: Side, one: Appraisal) -> Iterator[Block]:
    if one.against_target is None or not one.against_target.nudge.words:
        return
    nudge = one.against_target.nudge
    yield Paragraph(f"nudge: {'; '.join(nudge.words)}", indent=2)
    for foot in nudge.feet.items():
        yield Paragraph(foot_words(OneCabinet(setup, side), *foot), indent=4, hang=6)


def _symmetry(setup: Setup, pair: Symmetry) -> Iterator[Block]:
    yield Heading("Symmetry", f" (left minus right): {pair.worst}")
    for words in (symmetry_words(setup, pair), *other_side_words(setup, pair)):
        yield Paragraph(words, indent=2)
    yield Paragraph(
        f"path to the seat {pair.error.path_to_seat_mm:+.1f} mm "
        f"±{pair.expanded.path_to_seat_mm:.1f} mm, arrival {pair.error.arrival_us:+.1f} µs, "
        f"level {pair.error.level_db:+.3f} dB",
        indent=2,
    )
