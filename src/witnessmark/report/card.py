"""The card of a mark: how to put both cabinets back with nothing but a tape."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from witnessmark.drawing.cabinet import cabinet_drawing
from witnessmark.drawing.marking import marking, over
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box
from witnessmark.layout.footprint import FloorPoint, pair_tape_points
from witnessmark.lengths import format_expanded, format_length
from witnessmark.model import Mark, Pair, Placement, Setup, Side
from witnessmark.report.blocks import Block, Columns, Figure, Heading, Paragraph, Table
from witnessmark.report.common import FROM_THE_WALL, Say, cautions, degrees, marks_table
from witnessmark.report.flow import Frame, flow
from witnessmark.report.page import Page, Paper
from witnessmark.report.pieces import BELOW_FIGURE_MM, column_mm, height_mm
from witnessmark.report.scaling import fitted

_CABINET_MM = 45.0
"""How high the drawing of one cabinet may be."""
_LEAST_PLAN_MM, _PLAN_MM = 45.0, 85.0
"""How high the plan is, by what the rest leaves of a page."""
_HOW = (
    "1. Mark every point below on the floor, each by its two distances.",
    "2. Move each cabinet until its lower corners are straight above their marks.",
    "3. Measure the corners once more, and nudge until the distances are those below.",
)


def put_back_card(mark: Mark, room: str, paper: Paper) -> tuple[Page, ...]:
    """The card of a mark: what to do, where each corner was, and how well that is known.

    It is one page where notes and points of one's own leave room for that.

    Args:
        mark: what is to be put back.
        room: the name of the room.
        paper: the size of the page.
    """
    frame = Frame(paper)
    say = partial(format_length, units=mark.setup.units.whole)
    points = pair_tape_points(mark.setup, mark.poses.placements)
    kept = f"{room}, kept {mark.at:%Y-%m-%d %H:%M}Z."
    above = [Paragraph(words) for words in (kept, *_HOW, FROM_THE_WALL)]
    below: list[Block] = [
        Columns(tuple(tuple(_cabinet(mark, side, points[side], say, frame)) for side in Side)),
        Paragraph(_tolerance(mark.setup)),
        *cautions(),
    ]
    if mark.notes:
        below.append(Paragraph(f"Notes: {mark.notes}"))
    free = frame.height_mm - height_mm((*above, *below), frame.width_mm)
    plan = _plan(mark, frame.width_mm, min(max(free, _LEAST_PLAN_MM), _PLAN_MM))
    return flow(f"Put back: {mark.name}", (*above, plan, *below), frame)


def _plan(mark: Mark, width_mm: float, most_mm: float) -> Figure:
    """The front of the room with both cabinets where they stood."""
    setup = mark.setup
    placements = mark.poses.placements
    both = Pair[Placement | None](placements.left, placements.right)
    plan = plan_drawing(setup.room, cabinets=setup.cabinets, measured=both)
    marks = marking(setup.room, setup.cabinets, both, setup.units.whole)
    deepest = max(placements[side].setback_mm + setup.cabinets[side].width_mm for side in Side)
    across = [x for x, _ in setup.room.corners]
    top = min(y for _, y in setup.room.corners)
    front = Box(min(across), top, max(across), top + deepest)
    return fitted(over(plan, marks), width_mm, most_mm - BELOW_FIGURE_MM, front)


def _cabinet(
    mark: Mark, side: Side, points: Mapping[str, FloorPoint], say: Say, frame: Frame
) -> Iterator[Block]:
    """One cabinet: its points by name, where they were, and how it leaned."""
    yield Heading(f"{side} cabinet".capitalize())
    wide = column_mm(frame.width_mm, len(Side))
    yield fitted(cabinet_drawing(mark.setup.cabinets[side], side), wide, _CABINET_MM)
    yield marks_table(mark.setup, side, points, say)
    yield _stood(mark, side, say)
    turns = mark.spike_turns[side].items()
    for foot, count in turns:
        yield Paragraph(f"{foot} spike: {count:g} turns out")


def _stood(mark: Mark, side: Side, say: Say) -> Table:
    """The middle of the baffle, toe-in and tilt, each with its expanded uncertainty."""
    measured, expanded = mark.poses.placements[side], mark.poses.expanded(side)
    tilt = mark.poses.tilts[side]
    rows = [
        ("side", say(measured.side_mm), format_expanded(expanded.side_mm, whole=True)),
        ("setback", say(measured.setback_mm), format_expanded(expanded.setback_mm, whole=True)),
        ("toe-in", degrees(measured.toe_in_deg), degrees(expanded.toe_in_deg)),
    ]
    if tilt is not None:
        rows.append(("tilt", degrees(tilt.tilt_deg), degrees(tilt.expanded_deg)))
    return Table(("", "was", "known to"), tuple((name, was, f"±{to}") for name, was, to in rows))


def _tolerance(setup: Setup) -> str:
    limits = setup.tolerance
    return (
        "Side and setback are those of the middle of the baffle's lower edge; toe-in is the turn "
        "toward the other cabinet, tilt the lean back. ± is the expanded uncertainty, k = 2 "
        f"(95 %). A cabinet counts as put back within {limits.position_mm:g} mm and "
        f"{limits.toe_in_deg:g}° of that."
    )
