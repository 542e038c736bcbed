"""Sheets to work by on the floor: the plan with its tape marks, a template, a mark's card."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

from witnessmark.drawing.cabinet import template_drawing
from witnessmark.drawing.marking import mark_names, marking, over, station_numbers
from witnessmark.drawing.near_walls import near_plan, near_room
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.shot import mark_picture
from witnessmark.drawing.strokes import Box, Drawing, Ink
from witnessmark.errors import BadInput
from witnessmark.layout.footprint import Band, FloorPoint, lane_pair, pair_tape_points, tape_points
from witnessmark.layout.mirror import MirrorLine
from witnessmark.layout.practice import Practice
from witnessmark.layout.start import Station, stations
from witnessmark.lengths import format_expanded, format_length, format_limit
from witnessmark.model import Cabinet, Mark, Pair, Placement, RoomKnown, Setup, Side, Wall
from witnessmark.report.blocks import (
    Block,
    Figure,
    Heading,
    LineKey,
    Paragraph,
    Say,
    SideBySide,
    Table,
)
from witnessmark.report.flow import SheetFrame, flow
from witnessmark.report.layout import station_cells
from witnessmark.report.mark import degrees, spikes, standing
from witnessmark.report.page import Page, Paper
from witnessmark.report.pieces import BELOW_FIGURE_MM, column_mm, height_mm
from witnessmark.report.scaling import fitted, to_scale
from witnessmark.words.cautions import LASER, LOCAL_RULES, MOVING

_FROM_THE_WALL = (
    "Each distance is square to the bare wall, or to the line in its place: measure past a "
    "skirting board or radiator, not to it."
)
_KEY = {
    Ink.DATUM: "line in place of a wall",
    Ink.LANE: "middle of a lane, its stations",
    Ink.TARGET: "target",
    Ink.TARGET_AIM: "its axis",
    Ink.TAKEN: "tape",
}

_CABINET_MM = 45.0
"""Greatest height of the drawing of one cabinet, mm."""
_LEAST_PLAN_MM, _PLAN_MM = 45.0, 85.0
"""How high the plan is, by what the rest leaves of a page."""
_HOW = (
    "1. Mark every point below on the floor, each by its two distances.",
    "2. Move each cabinet until its lower corners are straight above their marks.",
    "3. Measure the corners again, and nudge until the distances are those below.",
)


def marking_out(
    name: str, setup: Setup, paper: Paper, scale: float | None = None
) -> tuple[Page, ...]:
    """Return the pages for a room: the plan at a scale, the tape marks, the stations.

    Args:
        name: the room.
        setup: what is laid out; a cabinet without a target has no tape marks.
        paper: the size of the pages.
        scale: how many millimetres one of paper is; the largest for one page when None.

    Raises:
        BadInput: when the room was not measured whole, or the scale would take too many pages.
    """
    if setup.known_of_room is not RoomKnown.WHOLE:
        raise BadInput(
            "room: it was not measured whole; measure its width and length to lay the pair out"
        )
    frame = SheetFrame(paper, bars=True)
    lanes, walk = _advice(setup)
    drawing = _drawing(setup, lanes, walk)
    drawn = {stroke.ink for stroke in drawing.strokes}
    key = LineKey({ink: words for ink, words in _KEY.items() if ink in drawn})
    plan = to_scale("Plan", drawing, scale, frame, (key,))
    say = partial(format_length, units=setup.units)
    blocks = (*plan, *_marks(setup, say), *_stations(setup, lanes, walk, say), *_cautions())
    return flow(f"Marking out: {name}", blocks, frame)


def _advice(setup: Setup) -> tuple[Pair[Band], tuple[Station, ...]]:
    """Return the lanes and the stations, by common practice."""
    practice = Practice.in_units(setup.units)
    line = MirrorLine(setup.room, setup.seat, setup.mirror)
    lanes = lane_pair(line, practice)
    base = setup.room.width_mm - lanes.left.middle_mm - lanes.right.middle_mm
    return lanes, stations(line, base, practice, setup.cabinets)


def _drawing(setup: Setup, lanes: Pair[Band], walk: tuple[Station, ...]) -> Drawing:
    room = setup.room
    plan = plan_drawing(
        room,
        seat=setup.seat,
        cabinets=setup.cabinets,
        targets=setup.targets,
        lanes=lanes,
        stations_mm=[station.setback_mm for station in walk],
    )
    marks = marking(room, setup.cabinets, setup.targets, setup.units, setup.seat)
    return over(over(plan, marks), station_numbers(room, lanes, walk))


def _marks(setup: Setup, say: Say) -> Iterator[Block]:
    for side in Side:
        target = setup.targets[side]
        if target is None:
            yield Heading(f"{side} cabinet".capitalize())
            yield Paragraph("It has no target yet.")
            continue
        yield Heading(f"{side} cabinet".capitalize())
        yield Paragraph(_target_words(setup, side, target, say))
        points = tape_points(setup.room, side, setup.cabinets[side], target)
        yield _marks_table(setup, side, points, say)
    yield Paragraph(_FROM_THE_WALL)


def _target_words(setup: Setup, side: Side, target: Placement, say: Say) -> str:
    own, front = (setup.room.side_name(wall) for wall in (Wall.beside(side), Wall.FRONT))
    return (
        f"Middle of the baffle: {say(target.side_mm)} from the {own}, {say(target.setback_mm)} "
        f"from the {front}, toe-in {target.toe_in_deg:.1f}°."
    )


def _stations(
    setup: Setup, lanes: Pair[Band], walk: tuple[Station, ...], say: Say
) -> Iterator[Block]:
    seat, room = setup.seat, setup.room
    yield Heading("Seat, lanes and stations")
    yield Paragraph(
        f"The seat is {say(seat.from_front_mm)} from the {room.side_name(Wall.FRONT)} and "
        f"{say(seat.from_left_mm)} from the {room.side_name(Wall.LEFT)}. "
        + " ".join(
            f"The {side} lane runs from {say(lanes[side].outer_mm)} to "
            f"{say(lanes[side].inner_mm)} from the {room.side_name(Wall.beside(side))}."
            for side in Side
        )
        + " Lanes and stations are common practice; no standard sets them."
    )
    yield Table(
        (
            "station",
            f"{room.side_name(Wall.FRONT)} to baffle",
            "baffle to the seat",
            "to face the seat, turn in",
            "then behind the cabinet",
        ),
        tuple(
            (number, setback, to_seat, facing, *(behind or ("",)))
            for number, setback, to_seat, _angle, facing, *behind in (
                station_cells(station, say) for station in walk
            )
        ),
    )


def foot_template(name: str, setup: Setup, side: Side, paper: Paper) -> tuple[Page, ...]:
    """Return the pages of one cabinet's outline and feet at full size, with how to use them.

    Args:
        name: the room.
        setup: of which the cabinet is taken.
        side: which of the pair.
        paper: the size of the pages.

    Raises:
        BadInput: when it would take too many pages.
    """
    frame, cabinet = SheetFrame(paper, bars=True), setup.cabinets[side]
    say = partial(format_length, units=setup.units)
    how = Paragraph(
        f"The {side} cabinet of {name} from above, {say(cabinet.width_mm)} wide and "
        f"{say(cabinet.depth_mm)} deep, its baffle at the bottom of the page. Lay the sheet on the "
        f"floor so that its corners are on the tape marks, tape it down, and {_then(cabinet)}"
    )
    drawing = template_drawing(cabinet, side)
    blocks = to_scale("Template", drawing, 1.0, frame, (how, *_cautions(laser=False)))
    return flow(f"Template: {side} cabinet, {name}", blocks, frame)


def _then(cabinet: Cabinet) -> str:
    if cabinet.feet:
        return "put the cabinet on it; or mark through the crosses where the feet go."
    return "put the cabinet on it. Where its feet are has not been entered, so none is drawn."


def put_back_card(mark: Mark, room: str, paper: Paper) -> tuple[Page, ...]:
    """Return the card of a mark: what to do, where each corner was, and how well that is known.

    It is one page where notes and points of one's own leave room for that.

    Args:
        mark: what is to be put back.
        room: the name of the room.
        paper: the size of the page.
    """
    frame = SheetFrame(paper)
    say = partial(format_length, units=mark.setup.units.whole)
    points = pair_tape_points(mark.setup, mark.poses.placements)
    kept = f"{room}, kept {mark.at:%Y-%m-%d %H:%M}Z."
    above = [Paragraph(words) for words in (kept, *_HOW, _FROM_THE_WALL)]
    below: list[Block] = [
        SideBySide(tuple(tuple(_cabinet(mark, side, points[side], say, frame)) for side in Side)),
        Paragraph(_tolerance(mark.setup)),
        *_cautions(),
    ]
    if mark.notes:
        below.append(Paragraph(f"Notes: {mark.notes}"))
    free = frame.height_mm - height_mm((*above, *below), frame.width_mm)
    plan = _front(mark, frame.width_mm, min(max(free, _LEAST_PLAN_MM), _PLAN_MM))
    return flow(f"Put back: {mark.name}", (*above, plan, *below), frame)


def _front(mark: Mark, width_mm: float, most_mm: float) -> Figure:
    """Draw the front of the room with both cabinets where they stood."""
    setup = mark.setup
    placements = mark.poses.placements
    both = Pair[Placement | None](placements.left, placements.right)
    if setup.known_of_room is RoomKnown.WHOLE:
        room = setup.room
        plan = plan_drawing(room, cabinets=setup.cabinets, measured=both)
    else:
        room = near_room(setup, both)
        plan = near_plan(setup, both)
    marks = marking(room, setup.cabinets, both, setup.units.whole)
    deepest = max(placements[side].setback_mm + setup.cabinets[side].width_mm for side in Side)
    across = [x for x, _ in room.corners]
    top = min(y for _, y in room.corners)
    front = Box(min(across), top, max(across), top + deepest)
    return fitted(over(plan, marks), width_mm, most_mm - BELOW_FIGURE_MM, front)


def _cabinet(
    mark: Mark, side: Side, points: Mapping[str, FloorPoint], say: Say, frame: SheetFrame
) -> Iterator[Block]:
    """Make blocks of one cabinet: its points by name, where they were, and how it leaned."""
    yield Heading(f"{side} cabinet".capitalize())
    wide = column_mm(frame.width_mm, len(Side))
    yield fitted(mark_picture(mark, side), wide, _CABINET_MM)
    yield _marks_table(mark.setup, side, points, say)
    yield _stood(mark, side, say)
    yield from spikes(mark, side)


def _stood(mark: Mark, side: Side, say: Say) -> Table:
    """Make a table of side, setback, toe-in and tilt, each with its expanded uncertainty."""
    rows = []
    for stood in standing(mark, side):
        if stood.quantity.is_length:
            was = say(stood.value)
            known = format_expanded(stood.expanded, mark.setup.units, whole=True)
        else:
            was, known = degrees(stood.value), degrees(stood.expanded)
        rows.append((stood.quantity.label, was, f"±{known}"))
    return Table(("", "was", "known to"), tuple(rows))


def _tolerance(setup: Setup) -> str:
    limits = setup.tolerance
    return (
        "Side and setback are those of the middle of the baffle's lower edge; toe-in is the "
        "turn toward the other cabinet, tilt the lean back. ± is the expanded uncertainty, k = "
        f"2 (95 %). A cabinet is put back when within "
        f"{format_limit(limits.position_mm, setup.units)} and {limits.toe_in_deg:g}° of that."
    )


def _marks_table(setup: Setup, side: Side, points: Mapping[str, FloorPoint], say: Say) -> Table:
    """Make a table of how far each point of a cabinet is from its side wall and the front wall."""
    names = mark_names(setup.cabinets[side], side)
    own, front = (setup.room.side_name(wall) for wall in (Wall.beside(side), Wall.FRONT))
    return Table(
        ("", "point", f"from {own}", f"from {front}"),
        tuple(
            (names[name], name, say(point.side_mm), say(point.setback_mm))
            for name, point in points.items()
        ),
    )


def _cautions(*, laser: bool = True) -> Iterator[Block]:
    """Warn of what can hurt somebody at this work; ``laser`` where a meter may be at hand."""
    yield Heading("Take care")
    yield Paragraph(f"Cabinets. {MOVING} Keep fingers and feet clear of spikes.")
    if laser:
        yield Paragraph(f"Laser. {LASER}")
    yield Paragraph(LOCAL_RULES)
