"""A layout as a page of 80 columns for a person with a tape."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from textwrap import fill

from witnessmark.cautions import LOCAL_RULES, MOVING
from witnessmark.layout import Free, InLane, Layout, Station, Triangle
from witnessmark.layout.free import free_words
from witnessmark.lengths import Units, format_length
from witnessmark.model import Pair, Placement, Side

Say = Callable[[float], str]

_COLUMNS = 78
_STATION_HEADS = (
    ("", "front wall", "baffle to", "angle at", "to face the", "then behind"),
    ("", "to baffle", "the seat", "the seat", "seat, turn in", "the cabinet"),
)
_NO_CABINET = "    (--cabinet-width and --cabinet-depth add its corners and whether it fits)"
_SOURCES = "Lanes, seat and stations are common practice; no standard sets them."


def page(layout: Layout, free: Pair[Placement] | None, units: Units) -> str:
    """The layout in words and tables, lengths in ``units``; ``free`` is the nearest free one."""
    say = partial(format_length, units=units)
    blocks = (
        _room(layout, say),
        _stations(layout, say),
        _beginning(layout, say),
        _remarks("Conflicts", (*layout.conflicts, *free_words(free, units))),
        _remarks("Worth knowing", layout.notes),
        _remarks("Take care", (MOVING, LOCAL_RULES)),
        (_SOURCES,),
    )
    return "\n\n".join(filter(None, ("\n".join(block) for block in blocks)))


def _room(layout: Layout, say: Say) -> Iterator[str]:
    seat = layout.seat
    to_front, to_back = say(seat.from_front_mm), say(layout.length_mm - seat.from_front_mm)
    to_left, to_right = say(seat.from_left_mm), say(layout.width_mm - seat.from_left_mm)
    yield f"Room    {say(layout.width_mm)} wide, {say(layout.length_mm)} long"
    yield f"Seat    {to_front} from the front wall, {to_back} from the back wall"
    yield f"        {to_left} from the left wall, {to_right} from the right wall"
    left, right = layout.lanes.left, layout.lanes.right
    if left == right:
        yield f"Lanes   {say(left.outer_mm)} to {say(left.inner_mm)} from each side wall"
    else:
        yield f"Lanes   {say(left.outer_mm)} to {say(left.inner_mm)} from the left wall"
        yield f"        {say(right.outer_mm)} to {say(right.inner_mm)} from the right wall"


def _stations(layout: Layout, say: Say) -> Iterator[str]:
    if not layout.stations:
        return
    left, right = layout.lanes.left, layout.lanes.right
    apart = layout.width_mm - left.middle_mm - right.middle_mm
    yield f"Stations on the middles of the lanes, {say(apart)} from baffle to baffle"
    rows = [*_STATION_HEADS, *(_station_cells(station, say) for station in layout.stations)]
    for row in rows:
        number, *others = row[: len(rows[-1])]
        yield f"{number:>4}" + "".join(f"{cell:>15}" for cell in others)


def _station_cells(station: Station, say: Say) -> tuple[str, ...]:
    cells = (
        str(station.number),
        say(station.setback_mm),
        say(station.to_seat_mm),
        _degrees(station.angle_deg),
        _degrees(station.facing_deg),
    )
    return cells if station.rear_gap_mm is None else (*cells, say(station.rear_gap_mm))


def _beginning(layout: Layout, say: Say) -> Iterator[str]:
    places, stands = layout.placements, layout.stands
    yield f"Begin {_how(layout)}, {say(layout.base_mm)} from baffle to baffle"
    yield _pair_row("", "left cabinet", "right cabinet")
    yield _pair_row("side wall to middle of baffle", *(say(places[s].side_mm) for s in Side))
    yield _pair_row("front wall to middle of baffle", *(say(places[s].setback_mm) for s in Side))
    yield _pair_row("toe-in", *(_degrees(places[s].toe_in_deg) for s in Side))
    yield _pair_row("middle of baffle to the seat", *(say(stands[s].to_seat_mm) for s in Side))
    for point in stands.left.points:
        yield _pair_row(
            f"side wall to {point}", *(say(stands[s].points[point].side_mm) for s in Side)
        )
    for point in stands.left.points:
        yield _pair_row(
            f"front wall to {point}", *(say(stands[s].points[point].setback_mm) for s in Side)
        )
    if not stands.left.points:
        yield _NO_CABINET


def _how(layout: Layout) -> str:
    match layout.start:
        case Triangle():
            return f"on a {layout.angle_deg:.0f}° triangle (ITU-R BS.775)"
        case InLane():
            return "in the lanes"
        case Free():
            return "where you chose"


def _pair_row(what: str, left: str, right: str) -> str:
    return f"    {what:<34}{left:>18}{right:>18}"


def _remarks(title: str, sentences: tuple[str, ...]) -> Iterator[str]:
    if sentences:
        yield title
    for sentence in sentences:
        yield fill(sentence, _COLUMNS, initial_indent="  ! ", subsequent_indent="    ")


def _degrees(angle_deg: float) -> str:
    return f"{angle_deg:.1f}°"
