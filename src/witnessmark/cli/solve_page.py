"""The solved round as a page of text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from witnessmark.model import Setup, Side
from witnessmark.placing.judge import Appraisal, PairAppraisal
from witnessmark.placing.wording import foot_words, other_side_words, symmetry_words

WIDTH = 80
_ROWS = (
    ("side", "side_mm", "mm", 1),
    ("setback", "setback_mm", "mm", 1),
    ("toe-in", "toe_in_deg", "°", 2),
)


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
    for name, key, unit, digits in _ROWS:
        row = f"  {name:8} {getattr(one.measured, key):10.{digits}f}{unit:2}"
        row += f" {getattr(one.expanded, key):6.{digits}f}"
        if target is not None and one.error is not None and one.verdicts is not None:
            verdict = one.verdicts[key.removesuffix("_mm").removesuffix("_deg")]
            row += f"  {getattr(target, key):10.{digits}f}"
            row += f"  {getattr(one.error, key):+10.{digits}f}  {verdict}"
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
