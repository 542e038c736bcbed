"""What is laid on the floor: the plan to scale with its tape marks, a cabinet's template."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from witnessmark.drawing.marking import marking, over, station_numbers
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Drawing, Ink
from witnessmark.drawing.template import template_drawing
from witnessmark.layout.band import Band, lane_pair
from witnessmark.layout.footprint import tape_points
from witnessmark.layout.mirror import MirrorLine
from witnessmark.layout.practice import Practice
from witnessmark.layout.stations import Station, stations
from witnessmark.lengths import format_length
from witnessmark.model import Cabinet, Pair, Placement, Setup, Side, Wall
from witnessmark.report.blocks import Block, Heading, LineKey, Paragraph, Table
from witnessmark.report.common import FROM_THE_WALL, Say, cautions, marks_table
from witnessmark.report.flow import Frame, flow
from witnessmark.report.layout import station_cells
from witnessmark.report.page import Page, Paper
from witnessmark.report.scaling import to_scale

_KEY = {
    Ink.DATUM: "line in place of a wall",
    Ink.LANE: "middle of a lane, its stations",
    Ink.TARGET: "target",
    Ink.TARGET_AIM: "its axis",
    Ink.TAKEN: "tape",
}


def marking_out(
    name: str, setup: Setup, paper: Paper, scale: float | None = None
) -> tuple[Page, ...]:
    """The pages for a room: the plan at a scale, the tape marks, the stations.

    Args:
        name: the room.
        setup: what is laid out; a cabinet without a target has no tape marks.
        paper: the size of the pages.
        scale: how many millimetres one of paper is; the largest for one page when None.

    Raises:
        BadInput: when the scale would take too many pages.
    """
    frame = Frame(paper, bars=True)
    lanes, walk = _advice(setup)
    drawing = _drawing(setup, lanes, walk)
    drawn = {stroke.ink for stroke in drawing.strokes}
    key = LineKey({ink: words for ink, words in _KEY.items() if ink in drawn})
    plan = to_scale("Plan", drawing, scale, frame, (key,))
    say = partial(format_length, units=setup.units)
    blocks = (*plan, *_marks(setup, say), *_stations(setup, lanes, walk, say), *cautions())
    return flow(f"Marking out: {name}", blocks, frame)


def _advice(setup: Setup) -> tuple[Pair[Band], tuple[Station, ...]]:
    """The lanes and the stations, by common practice."""
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
            yield Paragraph("No target is chosen for it yet.")
            continue
        yield Heading(f"{side} cabinet".capitalize())
        yield Paragraph(_target_words(setup, side, target, say))
        points = tape_points(setup.room, side, setup.cabinets[side], target)
        yield marks_table(setup, side, points, say)
    yield Paragraph(FROM_THE_WALL)


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
    """The outline and the feet of one cabinet at full size, with how to use it.

    Args:
        name: the room.
        setup: of which the cabinet is taken.
        side: which of the pair.
        paper: the size of the pages.

    Raises:
        BadInput: when it would take too many pages.
    """
    frame, cabinet = Frame(paper, bars=True), setup.cabinets[side]
    say = partial(format_length, units=setup.units)
    how = Paragraph(
        f"The {side} cabinet of {name} from above, {say(cabinet.width_mm)} wide and "
        f"{say(cabinet.depth_mm)} deep, its baffle at the bottom of the page. Lay the sheet on the "
        f"floor so that its corners are on the tape marks, tape it down, and {_then(cabinet)}"
    )
    drawing = template_drawing(cabinet, side)
    blocks = to_scale("Template", drawing, 1.0, frame, (how, *cautions(laser=False)))
    return flow(f"Template: {side} cabinet, {name}", blocks, frame)


def _then(cabinet: Cabinet) -> str:
    if cabinet.feet:
        return "put the cabinet on it; or mark through the crosses where the feet go."
    return "put the cabinet on it. Where its feet are has not been entered, so none is drawn."
