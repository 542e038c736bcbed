"""A layout as a document for a person with a tape."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from witnessmark.layout.free import free_words
from witnessmark.layout.plan import Layout
from witnessmark.layout.start import Free, InLane, Station, Triangle
from witnessmark.lengths import Units, format_length
from witnessmark.model import Pair, Placement, Side
from witnessmark.report.blocks import Block, Heading, Paragraph, Say, Space, Table
from witnessmark.words.cautions import LOCAL_RULES, MOVING

WIDTH = 78
"""Columns of a layout."""
_STATION_HEADS = (
    "",
    "front wall\nto baffle",
    "baffle to\nthe seat",
    "angle at\nthe seat",
    "to face the\nseat, turn in",
    "then behind\nthe cabinet",
)
_PAIR_HEADS = ("", "left cabinet", "right cabinet")
_PAIR_LINE = "    {:34}{:>18}{:>18}"
_NO_CABINET = "(--cabinet-width and --cabinet-depth add its corners and whether it fits)"
_SOURCES = "Lanes, seat and stations are common practice; no standard sets them."


def layout_blocks(layout: Layout, free: Pair[Placement] | None, units: Units) -> Iterator[Block]:
    """Tell a layout in words and tables, lengths in ``units``; ``free`` is the nearest free one."""
    say = partial(format_length, units=units)
    yield _room(layout, say)
    if layout.stations:
        yield from _stations(layout, say)
    yield from _beginning(layout, say)
    yield from _remarks("Conflicts", (*layout.conflicts, *free_words(free, units)))
    yield from _remarks("Worth knowing", layout.notes)
    yield from _remarks("Take care", (MOVING, LOCAL_RULES))
    yield Space()
    yield Paragraph(_SOURCES)


def _room(layout: Layout, say: Say) -> Table:
    seat = layout.seat
    to_front, to_back = say(seat.from_front_mm), say(layout.length_mm - seat.from_front_mm)
    to_left, to_right = say(seat.from_left_mm), say(layout.width_mm - seat.from_left_mm)
    rows = [
        ("Room", f"{say(layout.width_mm)} wide, {say(layout.length_mm)} long"),
        ("Seat", f"{to_front} from the front wall, {to_back} from the back wall"),
        ("", f"{to_left} from the left wall, {to_right} from the right wall"),
    ]
    left, right = (f"{say(lane.outer_mm)} to {say(lane.inner_mm)}" for lane in layout.lanes)
    if layout.lanes.left == layout.lanes.right:
        rows.append(("Lanes", f"{left} from each side wall"))
    else:
        rows += (("Lanes", f"{left} from the left wall"), ("", f"{right} from the right wall"))
    return Table(("", ""), tuple(rows), "{:8}{}")


def _stations(layout: Layout, say: Say) -> Iterator[Block]:
    left, right = layout.lanes.left, layout.lanes.right
    apart = layout.width_mm - left.middle_mm - right.middle_mm
    words = f"Stations on the middles of the lanes, {say(apart)} from baffle to baffle"
    yield Heading(words, minor=True)
    rows = tuple(station_cells(station, say) for station in layout.stations)
    count = len(rows[-1])
    line = "{:>4}" + "{:>15}" * (count - 1)
    yield Table(_STATION_HEADS[:count], tuple(row[:count] for row in rows), line)


def station_cells(station: Station, say: Say) -> tuple[str, ...]:
    """Return a station's number, setback, path and angle at the seat, toe-in, and gap behind."""
    cells = (
        str(station.number),
        say(station.setback_mm),
        say(station.to_seat_mm),
        _degrees(station.angle_deg),
        _degrees(station.facing_deg),
    )
    return cells if station.rear_gap_mm is None else (*cells, say(station.rear_gap_mm))


def _beginning(layout: Layout, say: Say) -> Iterator[Block]:
    places, stands = layout.placements, layout.stands
    yield Heading(f"Begin {_how(layout)}, {say(layout.base_mm)} from baffle to baffle", minor=True)
    rows = [
        ("side wall to middle of baffle", *(say(places[s].side_mm) for s in Side)),
        ("front wall to middle of baffle", *(say(places[s].setback_mm) for s in Side)),
        ("toe-in", *(_degrees(places[s].toe_in_deg) for s in Side)),
        ("middle of baffle to the seat", *(say(stands[s].to_seat_mm) for s in Side)),
    ]
    corners = {name: [stands[s].points[name] for s in Side] for name in stands.left.points}
    for name, both in corners.items():
        rows.append((f"side wall to {name}", *(say(point.side_mm) for point in both)))
    for name, both in corners.items():
        rows.append((f"front wall to {name}", *(say(point.setback_mm) for point in both)))
    yield Table(_PAIR_HEADS, tuple(rows), _PAIR_LINE)
    if not corners:
        yield Paragraph(_NO_CABINET, indent=4)


def _how(layout: Layout) -> str:
    match layout.start:
        case Triangle():
            return f"on a {layout.angle_deg:.0f}° triangle (ITU-R BS.775)"
        case InLane():
            return "in the lanes"
        case Free():
            return "where you chose"


def _remarks(heading: str, sentences: tuple[str, ...]) -> Iterator[Block]:
    if sentences:
        yield Heading(heading, minor=True)
    yield from (Paragraph(sentence, "! ", indent=2) for sentence in sentences)


def _degrees(angle_deg: float) -> str:
    return f"{angle_deg:.1f}°"
