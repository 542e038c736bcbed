"""Tilts as lines of text: how far each cabinet leans, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator

from textual.content import Content

from witnessmark.app.status import said
from witnessmark.locate.tilt import tilt_symmetry, tilt_symmetry_words
from witnessmark.model import Pair, Setup, Side, Tilt
from witnessmark.placing.guidance import TiltStatus
from witnessmark.sentences import sentence
from witnessmark.words.tilt import tilt_words


def tilt_lines(
    setup: Setup, tilts: Pair[Tilt | None], statuses: Pair[TiltStatus | None]
) -> Content:
    """Both cabinets' tilts, what would bring them to their targets, and how they differ."""
    return Content("\n").join(list(_lines(setup, tilts, statuses)))


def _lines(
    setup: Setup, tilts: Pair[Tilt | None], statuses: Pair[TiltStatus | None]
) -> Iterator[Content]:
    for side in Side:
        yield _figures(side, tilts[side], statuses[side])
        status = statuses[side]
        for words in () if status is None else tilt_words(setup, status):
            yield Content(f"  {words}")
    if tilts.left is not None and tilts.right is not None:
        pair = tilt_symmetry(tilts.left, tilts.right, setup.tolerance.tilt_deg)
        words = tilt_symmetry_words(pair)
        yield Content.assemble(said(pair.verdict), f"  {sentence(words)}")


def _figures(side: Side, tilt: Tilt | None, status: TiltStatus | None) -> Content:
    name = (f"{side.upper():6}", "bold")
    if tilt is None:
        return Content.assemble(name, (" not taken yet", "$text-muted"))
    figures = f" {tilt.tilt_deg:+.2f}° ±{tilt.expanded_deg:.2f}°"
    if status is None or status.verdict is None or status.error_deg is None:
        return Content.assemble(name, figures)
    off = f"  target {status.target_deg:+.2f}°, off {status.error_deg:+.2f}° "
    return Content.assemble(name, figures, off, said(status.verdict))
