"""The solved round as a page of text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from witnessmark.model import OF_CABINET, Setup, Side
from witnessmark.placing.judge import Appraisal, PairAppraisal
from witnessmark.placing.wording import foot_words, other_side_words, symmetry_words

WIDTH = 80


def solve_page(setup: Setup, appraisal: PairAppraisal) -> str:
    """Positions, errors, verdicts, nudges, suspects and symmetry, at most 80 columns wide."""
    return "\n".join(_page(setup, appraisal))


def _page(setup: Setup, appraisal: PairAppraisal) -> Iterator[str]:
    for side, one in appraisal.cabinets.items():
        yield f"{side.upper()} CABINET" + ("" if one.verdict is None else f": {one.verdict}")
        yield from _table(setup, side, one)
        yield from _nudge(setup, side, one)
        for check in one.suspects:
            found = "suspect, left out" if check.left_out else "suspect"
            yield from _wrapped(f"  {found}: {check.shot.kind.words}: {check.cause}")
        yield ""
    if appraisal.symmetry is not None:
        pair = appraisal.symmetry
        yield f"SYMMETRY (left minus right): {pair.worst}"
        for words in (symmetry_words(setup, pair), *other_side_words(setup, pair)):
            yield from _wrapped(f"  {words}")
        yield from _wrapped(
            f"  path to the seat {pair.error.path_to_seat_mm:+.1f} mm "
            f"±{pair.expanded.path_to_seat_mm:.1f} mm, arrival {pair.error.arrival_us:+.1f} µs, "
            f"level {pair.error.level_db:+.3f} dB"
        )
    yield "± is the expanded uncertainty, k = 2 (95 %)."


def _table(setup: Setup, side: Side, one: Appraisal) -> Iterator[str]:
    target = setup.targets[side]
    yield "             measured       ±" + ("" if target is None else "      target       error")
    for quantity in OF_CABINET:
        unit, digits = ("mm", 1) if quantity.is_length else ("°", 2)
        row = f"  {quantity.label:8} {quantity.of(one.measured):10.{digits}f}{unit:2}"
        row += f" {quantity.of(one.expanded):6.{digits}f}"
        if target is not None and one.error is not None and one.verdicts is not None:
            row += f"  {quantity.of(target):10.{digits}f}"
            row += f"  {quantity.of(one.error):+10.{digits}f}  {one.verdicts[quantity]}"
        yield row


def _nudge(setup: Setup, side: Side, one: Appraisal) -> Iterator[str]:
    if one.nudge is None or not one.nudge.words:
        return
    yield from _wrapped(f"  nudge: {'; '.join(one.nudge.words)}")
    for foot in one.nudge.feet.items():
        yield from _wrapped(f"    {foot_words(setup, side, *foot)}")


def _wrapped(line: str) -> list[str]:
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    return textwrap.wrap(line, WIDTH, subsequent_indent=indent)
