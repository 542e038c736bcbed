"""What is worth knowing of a layout before anything is moved, in sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.layout.footprint import band
from witnessmark.layout.remarks import HARDLY_MM, LayoutCase, for_each_cabinet
from witnessmark.model import Cabinet, Mirror, Placement, Side

_WHERE_THE_PAIR_IS = {
    Mirror.SEAT: "the lanes and the pair are moved with it",
    Mirror.ROOM: "about the room's centre line, one cabinet stands farther from it than the other",
}


def notes(case: LayoutCase) -> tuple[str, ...]:
    """What is worth knowing before anything is moved, a sentence each."""
    return (
        *_out_of_square(case),
        *_off_centre(case),
        *_out_of_lane(case),
        *_stations_at_wall(case),
    )


def _out_of_square(case: LayoutCase) -> Iterator[str]:
    front_left, front_right, back_right, back_left = case.room.corners
    skew = max(
        abs(math.dist(front_left, front_right) - math.dist(back_left, back_right)),
        abs(math.dist(front_left, back_left) - math.dist(front_right, back_right)),
        abs(math.dist(front_left, back_right) - math.dist(front_right, back_left)),
    )
    if skew > 1:
        yield (
            f"The room is out of square by up to {case.say(skew)}: the lanes are counted in "
            f"{case.say(case.room.width_mm)} by {case.say(case.room.length_mm)}."
        )


def _off_centre(case: LayoutCase) -> Iterator[str]:
    right_of_middle = case.seat.from_left_mm - case.room.width_mm / 2
    if abs(right_of_middle) > HARDLY_MM:
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
            if over > HARDLY_MM
        ]
        return f"reaches out of its lane, {' and '.join(parts)}" if parts else None

    return for_each_cabinet(case, rest)


def _stations_at_wall(case: LayoutCase) -> Iterator[str]:
    numbers = [
        str(station.number)
        for station in case.stations
        if station.rear_gap_mm is not None and station.rear_gap_mm < -HARDLY_MM
    ]
    if numbers:
        yield (
            f"At station {', '.join(numbers)} a cabinet turned to face the seat would reach "
            "through the front wall; straight it fits."
        )
