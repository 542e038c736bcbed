"""What the remarks on a layout are about, how they are worded, and the conflicts among them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from witnessmark.geometry.frame import side_frame
from witnessmark.layout.footprint import Band, band, gap_mm, holds, outline, overlap, shared_mm2
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.start import InLane, Start, Station, Triangle
from witnessmark.lengths import NOT_PRINTED_MM, Units, format_length
from witnessmark.model import Cabinet, KeepClear, Mirror, Pair, Placement, Room, Seat, Side, Wall

_WHERE_THE_PAIR_IS = {
    Mirror.SEAT: "the lanes and the pair move with it",
    Mirror.ROOM: "about the room's centre line, one cabinet stands farther from it than the other",
}


def notes(case: LayoutCase) -> tuple[str, ...]:
    """Return what is worth knowing before anything is moved, a sentence each."""
    return (
        *_out_of_square(case),
        *_off_centre(case),
        *_out_of_lane(case),
        *_stations_at_wall(case),
    )


def _out_of_square(case: LayoutCase) -> Iterator[str]:
    skew = case.room.out_of_square_mm
    if skew > 1:
        yield (
            f"The room is out of square by up to {case.say(skew)}: the lanes are counted in "
            f"{case.say(case.room.width_mm)} by {case.say(case.room.length_mm)}."
        )


def _off_centre(case: LayoutCase) -> Iterator[str]:
    right_of_middle = case.seat.from_left_mm - case.room.width_mm / 2
    if abs(right_of_middle) > NOT_PRINTED_MM:
        yield (
            f"The seat is {case.say(abs(right_of_middle))} to the "
            f"{'right' if right_of_middle > 0 else 'left'} of the room's middle: "
            f"{_WHERE_THE_PAIR_IS[case.line.mirror]}."
        )


def _out_of_lane(case: LayoutCase) -> Iterator[str]:
    def rest(side: Side, cabinet: Cabinet, placement: Placement) -> str | None:
        taken, lane = band(case.room, side, cabinet, placement), case.lanes[side]
        outward, inward = lane.outer_mm - taken.outer_mm, taken.inner_mm - lane.inner_mm
        parts = [
            f"{case.say(over)} toward {where}"
            for over, where in ((outward, "its side wall"), (inward, "the middle of the room"))
            if over > NOT_PRINTED_MM
        ]
        return f"reaches out of its lane, {' and '.join(parts)}" if parts else None

    return for_each_cabinet(case, rest)


def _stations_at_wall(case: LayoutCase) -> Iterator[str]:
    numbers = [
        str(station.number)
        for station in case.stations
        if station.rear_gap_mm is not None and station.rear_gap_mm < -NOT_PRINTED_MM
    ]
    if numbers:
        yield (
            f"At station {', '.join(numbers)} a cabinet turned to face the seat would reach "
            "through the front wall; straight it fits."
        )


_HARDLY_MM2 = 1.0
"""Area of floor that nobody sees, mm^2."""

_WALLS: dict[str, Callable[[Side], Wall]] = {
    "the front wall": lambda _: Wall.FRONT,
    "the back wall": lambda _: Wall.BACK,
    "its side wall": Wall.beside,
    "the other side wall": lambda side: Wall.beside(side.other),
}
"""The walls as a cabinet on either side knows them."""


class LayoutCase(NamedTuple):
    """All that the remarks are about."""

    line: MirrorLine
    cabinets: Pair[Cabinet] | None
    lanes: Pair[Band]
    stations: tuple[Station, ...]
    start: Start
    stance: Stance
    placements: Pair[Placement]
    units: Units

    @property
    def room(self) -> Room:
        """The room."""
        return self.line.room

    @property
    def seat(self) -> Seat:
        """The seat."""
        return self.line.seat

    def say(self, mm: float) -> str:
        """Return a length in the person's units."""
        return format_length(mm, self.units)


def for_each_cabinet(
    case: LayoutCase, rest: Callable[[Side, Cabinet, Placement], str | None]
) -> Iterator[str]:
    """Yield a sentence for each cabinet that needs one; only one where both would read alike."""
    if case.cabinets is None:
        return
    left, right = (rest(side, case.cabinets[side], case.placements[side]) for side in Side)
    if left == right:
        if left:
            yield f"Each cabinet {left}."
        return
    for side, words in zip(Side, (left, right), strict=True):
        if words:
            yield f"The {side} cabinet {words}."


def turned(toe_in_deg: float) -> str:
    """Return how a cabinet stands, in words."""
    if abs(toe_in_deg) < 0.05:
        return "standing straight"
    return f"turned {'in' if toe_in_deg > 0 else 'out'} {abs(toe_in_deg):.1f}°"


def conflicts(case: LayoutCase) -> tuple[str, ...]:
    """Return what cannot stand so, a sentence each; empty when all is well."""
    return (
        *_seat_outside(case),
        *_no_station(case),
        *_too_broad_for_lane(case),
        *obstacles(case),
        *_seat_in_the_way(case),
    )


def obstacles(case: LayoutCase) -> Iterator[str]:
    """Yield what is in the cabinets' way, a sentence each; the seat and the lanes are not."""
    yield from _seat_before_cabinets(case)
    yield from _wider_than_room(case)
    yield from _through_walls(case)
    yield from _into_fittings(case)
    yield from _overlapping(case)
    yield from _in_the_way(case)


def _walls(room: Room) -> list[Wall]:
    """The sides that have a wall: what is beyond a datum line is not outside the room."""
    return [wall for wall in Wall if wall not in room.datum]


def _seat_outside(case: LayoutCase) -> Iterator[str]:
    frame = side_frame(case.room, Side.LEFT)
    head = frame.from_plan(case.seat.plan)
    for wall in _walls(case.room):
        inside = frame.walls[wall].distance_mm(head)
        if inside <= 0:
            yield f"The seat is outside the room, {case.say(-inside)} beyond the {wall} wall."


def _seat_before_cabinets(case: LayoutCase) -> Iterator[str]:
    behind = case.stance.setback_mm - case.seat.from_front_mm
    if behind > NOT_PRINTED_MM:
        yield (
            f"The seat is {case.say(behind)} closer to the front wall than the cabinets: "
            f"{case.say(case.seat.from_front_mm)} against their setback of "
            f"{case.say(case.stance.setback_mm)}."
        )


def _wider_than_room(case: LayoutCase) -> Iterator[str]:
    base, width = case.stance.base_mm, case.room.width_mm
    if base >= width:
        what = "triangle" if isinstance(case.start, Triangle) else "pair"
        yield (
            f"The {what} is wider than the room: {case.say(base)} from baffle to baffle against "
            f"{case.say(width)} from wall to wall."
        )


def _no_station(case: LayoutCase) -> Iterator[str]:
    if not case.stations:
        yield (
            f"No station fits: the seat is {case.say(case.seat.from_front_mm)} from the front "
            "wall, less than a cabinet is deep."
        )


def _too_broad_for_lane(case: LayoutCase) -> Iterator[str]:
    # elsewhere than in the lanes it is asked whether a cabinet could stand there at all: straight
    toe_in = case.stance.toe_in_deg if isinstance(case.start, InLane) else 0.0

    def rest(side: Side, cabinet: Cabinet, placement: Placement) -> str | None:
        as_asked = Placement(placement.side_mm, placement.setback_mm, toe_in)
        taken = band(case.room, side, cabinet, as_asked).breadth_mm
        lane = case.lanes[side].breadth_mm
        if taken - lane <= NOT_PRINTED_MM:
            return None
        return (
            f"is too wide for its lane: {turned(toe_in)} it takes {case.say(taken)}, and the "
            f"lane is {case.say(lane)} wide"
        )

    return for_each_cabinet(case, rest)


def _through_walls(case: LayoutCase) -> Iterator[str]:
    def rest(gap: float, wall: Wall, name: str, _: Cabinet, placement: Placement) -> str | None:
        if wall in case.room.datum or -gap <= NOT_PRINTED_MM:
            return None
        words = f"{turned(placement.toe_in_deg)} reaches {case.say(-gap)} through {name}"
        if wall is Wall.FRONT:
            words += f"; its setback must be {case.say(placement.setback_mm - gap)} or more"
        return words

    return _for_each_wall(case, rest)


def _into_fittings(case: LayoutCase) -> Iterator[str]:
    """Cabinets where a skirting board, radiator or panel already is."""

    def rest(gap: float, wall: Wall, name: str, cabinet: Cabinet, _: Placement) -> str | None:
        proud = _proud_mm(case.room, wall, cabinet)
        # through the wall itself is reported already
        if proud - gap <= NOT_PRINTED_MM or gap < -NOT_PRINTED_MM:
            return None
        return f"reaches {case.say(proud - gap)} into what sticks out from {name}"

    return _for_each_wall(case, rest)


def _for_each_wall(
    case: LayoutCase, rest: Callable[[float, Wall, str, Cabinet, Placement], str | None]
) -> Iterator[str]:
    """Say ``rest`` of each cabinet by its gap to each wall, where there is something to say."""
    for name, wall_of in _WALLS.items():

        def of_cabinet(
            side: Side,
            cabinet: Cabinet,
            placement: Placement,
            name: str = name,
            wall_of: Callable[[Side], Wall] = wall_of,
        ) -> str | None:
            wall = wall_of(side)
            gap = gap_mm(case.room, side, cabinet, placement, wall)
            return rest(gap, wall, name, cabinet, placement)

        yield from for_each_cabinet(case, of_cabinet)


def _proud_mm(room: Room, wall: Wall, cabinet: Cabinet) -> float:
    """How far that stands proud of a wall which begins no higher than the cabinet is known to be.

    A cabinet is at least as high as its acoustic height.
    """
    known_mm = cabinet.acoustic_height_mm or 0.0
    met = (o for o in room.offsets if o.wall is wall and o.from_height_mm <= known_mm)
    return max((offset.proud_mm for offset in met), default=0.0)


def _overlapping(case: LayoutCase) -> Iterator[str]:
    if case.cabinets is None:
        return
    left, right = (
        outline(case.room, side, case.cabinets[side], case.placements[side]) for side in Side
    )
    if overlap(left, right):
        yield (
            f"The cabinets overlap: {case.say(case.stance.base_mm)} from baffle to baffle is too "
            "little."
        )


def _in_the_way(case: LayoutCase) -> Iterator[str]:
    """Cabinets on floor that is to be kept clear."""
    for zone in case.room.keep_clear:

        def rest(
            side: Side, cabinet: Cabinet, placement: Placement, zone: KeepClear = zone
        ) -> str | None:
            taken = outline(case.room, side, cabinet, placement)
            if shared_mm2(zone, taken) <= _HARDLY_MM2:
                return None
            return f'stands in the way of "{zone.name}", which must be kept clear'

        yield from for_each_cabinet(case, rest)


def _seat_in_the_way(case: LayoutCase) -> Iterator[str]:
    for zone in case.room.keep_clear:
        if holds(zone, case.seat.plan):
            yield f'The seat is in the way of "{zone.name}", which must be kept clear.'
