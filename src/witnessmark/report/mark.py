"""A mark as documents: the list of a room's marks, one whole, and the card to put it back by."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from witnessmark.drawing.cabinet import cabinet_drawing
from witnessmark.drawing.marking import marking, over
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box
from witnessmark.layout.footprint import FloorPoint, pair_tape_points
from witnessmark.lengths import format_expanded, format_length
from witnessmark.model import (
    OF_CABINET,
    Held,
    Mark,
    Pair,
    Placement,
    Quantity,
    Setup,
    Shot,
    Side,
    Wall,
)
from witnessmark.report.blocks import (
    EXPANDED,
    Block,
    Columns,
    Figure,
    Heading,
    Paragraph,
    Space,
    Table,
)
from witnessmark.report.common import (
    FROM_THE_WALL,
    INDENT,
    Say,
    cautions,
    degrees,
    marks_table,
    title,
)
from witnessmark.report.flow import Frame, flow
from witnessmark.report.page import Page, Paper
from witnessmark.report.pieces import BELOW_FIGURE_MM, column_mm, height_mm
from witnessmark.report.scaling import fitted
from witnessmark.store.history_words import measured_words
from witnessmark.store.records import Kept

_HELD = {
    Held.WALL: "held square to the wall",
    Held.CABINET: "flush on the cabinet",
    Held.POINT: "straight",
    Held.SPOT: "by the dot on the back wall",
}
_CABINET_MM = 45.0
"""How high the drawing of one cabinet may be."""
_LEAST_PLAN_MM, _PLAN_MM = 45.0, 85.0
"""How high the plan is, by what the rest leaves of a page."""
_HOW = (
    "1. Mark every point below on the floor, each by its two distances.",
    "2. Move each cabinet until its lower corners are straight above their marks.",
    "3. Measure the corners once more, and nudge until the distances are those below.",
)


class Stood(NamedTuple):
    """A quantity of a cabinet at a mark: what was measured, its expanded ± and its target."""

    quantity: Quantity
    value: float
    expanded: float
    target: float | None


def standing(mark: Mark, side: Side) -> Iterator[Stood]:
    """How a cabinet stood: side, setback, toe-in, and its tilt where that was taken."""
    measured, expanded = mark.poses.placements[side], mark.poses.expanded(side)
    target, tilt = mark.setup.targets[side], mark.poses.tilts[side]
    for quantity in OF_CABINET:
        aim = None if target is None else quantity.of(target)
        yield Stood(quantity, quantity.of(measured), quantity.of(expanded), aim)
    if tilt is not None:
        aim = mark.setup.tilt_targets_deg[side]
        yield Stood(Quantity.TILT, tilt.tilt_deg, tilt.expanded_deg, aim)


def mark_list(marks: Sequence[Kept[Mark]], room: str) -> Iterator[Block]:
    """The marks of a room, each with where both cabinets were found."""
    if not marks:
        yield Paragraph(f"No mark was kept in {room} yet.")
        return
    yield Heading("Marks in", f" {room}")
    replaced = {mark.record.supersedes for mark in marks}
    for mark in marks:
        gone = "; another took its place" if mark.key in replaced else ""
        yield title(mark, f"{mark.record.name}{gone}")
        for side in Side:
            words = measured_words(mark.record.poses, side, mark.record.setup.units.finer)
            yield Paragraph(words, f"{side:<5}  ", INDENT, INDENT)


def whole_mark(kept: Kept[Mark]) -> Iterator[Block]:
    """A mark: where both cabinets stood and were to stand, their corners, the shots."""
    mark = kept.record
    say = partial(format_length, units=mark.setup.units.finer)
    yield title(kept, mark.name)
    if mark.notes:
        yield Paragraph(mark.notes, indent=INDENT, hang=INDENT)
    for side, points in pair_tape_points(mark.setup, mark.poses.placements).items():
        yield Heading(f"{side} cabinet".capitalize())
        yield _measured_table(mark, side)
        yield from _spikes(mark, side)
        yield from _corners(mark, side, points, say)
    if mark.shots:
        yield Heading("Shots")
    else:
        yield Space()
        yield Paragraph("No shots were kept with it.")
    for shot in mark.shots:
        yield Paragraph(_shot_words(shot, say), indent=2)
    yield EXPANDED


def _measured_table(mark: Mark, side: Side) -> Table:
    """What was measured, to what its ± supports, beside what was meant."""
    rows = []
    for stood in standing(mark, side):
        if stood.quantity.is_length:
            units = mark.setup.units.finer.known_to(stood.expanded)
            words: Say = partial(format_length, units=units)
            known = format_expanded(stood.expanded)
        else:
            words, known = degrees, degrees(stood.expanded)
        target = "" if stood.target is None else f"target {words(stood.target)}"
        rows.append((stood.quantity.label, words(stood.value), f"±{known}", target))
    return Table(("",) * 4, tuple(rows), "  {:8} {:>15}  {:13}  {}")


def _spikes(mark: Mark, side: Side) -> Iterator[Block]:
    for foot, turns in mark.spike_turns[side].items():
        yield Paragraph(f"{foot} spike: {turns:g} turns out", indent=2)


def _corners(mark: Mark, side: Side, points: Mapping[str, FloorPoint], say: Say) -> Iterator[Block]:
    own, front = (mark.setup.room.side_name(wall) for wall in (Wall.beside(side), Wall.FRONT))
    for name, point in points.items():
        words = f"{say(point.side_mm)} from the {own}, {say(point.setback_mm)} from the {front}"
        yield Paragraph(words, f"{name}: ", indent=2)


def _shot_words(shot: Shot, say: Say) -> str:
    kind = shot.kind
    line = f"{kind.cabinet} {kind.words}: {say(shot.reading_mm)}, {_HELD[kind.held]}"
    if kind.height_mm is not None:
        line += f", {say(kind.height_mm)} above the floor"
    return line


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
    yield from _spikes(mark, side)


def _stood(mark: Mark, side: Side, say: Say) -> Table:
    """The middle of the baffle, toe-in and tilt, each with its expanded uncertainty."""
    rows = []
    for stood in standing(mark, side):
        if stood.quantity.is_length:
            was, known = say(stood.value), format_expanded(stood.expanded, whole=True)
        else:
            was, known = degrees(stood.value), degrees(stood.expanded)
        rows.append((stood.quantity.label, was, f"±{known}"))
    return Table(("", "was", "known to"), tuple(rows))


def _tolerance(setup: Setup) -> str:
    limits = setup.tolerance
    return (
        "Side and setback are those of the middle of the baffle's lower edge; toe-in is the turn "
        "toward the other cabinet, tilt the lean back. ± is the expanded uncertainty, k = 2 "
        f"(95 %). A cabinet counts as put back within {limits.position_mm:g} mm and "
        f"{limits.toe_in_deg:g}° of that."
    )
