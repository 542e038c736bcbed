"""Choosing where the pair is to stand: the advice, the aims, and what is in the way."""

from __future__ import annotations

import msgspec

from witnessmark.errors import BadInput
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.plan import Layout, lay_out
from witnessmark.layout.remarks import LayoutCase
from witnessmark.layout.start import Free, Start, Station, Triangle
from witnessmark.lengths import Units, format_length
from witnessmark.locate.aim import Aim, aim_toe_in
from witnessmark.model import OF_CABINET, Pair, Placement, Setup, Side

_SAME_MM, _SAME_DEG = 0.01, 0.005


def begin(setup: Setup, start: Start, units: Units) -> Layout:
    """Return the layout of a setup from one of the usual beginnings.

    Raises:
        BadInput: when the start has no place in this room.
    """
    return lay_out(setup.room, setup.cabinets, setup.seat, start, units=units, mirror=setup.mirror)


def advice(setup: Setup, units: Units) -> Layout:
    """Return the layout with lanes and stations, which are the same for every start."""
    return begin(setup, Triangle(), units)


def mirror_of_left(setup: Setup, left: Placement, units: Units) -> Placement:
    """Return where the right cabinet stands as the mirror image of the left.

    Raises:
        BadInput: when the left one stands across the mirror line.
    """
    start = Free(left.side_mm, left.setback_mm, left.toe_in_deg)
    return begin(setup, start, units).placements.right


def are_mirrored(setup: Setup) -> bool:
    """Return whether the targets are mirror images of each other, or not both chosen yet."""
    left, right = setup.targets.left, setup.targets.right
    if left is None or right is None:
        return True
    try:
        off = right.minus(mirror_of_left(setup, left, Units.MM))
    except BadInput:
        return False
    return max(abs(quantity.of(off)) for quantity in OF_CABINET) < _SAME_MM


def nearest_station(layout: Layout, setback_mm: float) -> Station:
    """Return the station closest to a setback, of a layout that has stations."""
    return min(layout.stations, key=lambda station: abs(station.setback_mm - setback_mm))


def aimed(setup: Setup, placements: Pair[Placement], aim: Aim) -> Pair[Placement]:
    """Return both cabinets where they are, turned to one of the usual aims."""

    def turned(side: Side) -> Placement:
        toe_in = aim_toe_in(setup, side, placements[side], aim)
        return msgspec.structs.replace(placements[side], toe_in_deg=toe_in)

    return Pair(turned(Side.LEFT), turned(Side.RIGHT))


def aim_of(setup: Setup, placements: Pair[Placement]) -> Aim | None:
    """Return the usual aim to which both cabinets are turned, if there is one."""
    for aim in Aim:
        turned = aimed(setup, placements, aim)
        if all(
            abs(placements[side].toe_in_deg - turned[side].toe_in_deg) < _SAME_DEG for side in Side
        ):
            return aim
    return None


def layout_case(
    setup: Setup, layout: Layout, placements: Pair[Placement], units: Units
) -> LayoutCase:
    """Return what ``conflicts`` and ``cautions`` need, of a pair that may be no mirror images."""
    left, right = placements.left, placements.right
    base = setup.room.width_mm - left.side_mm - right.side_mm
    setback = max(left.setback_mm, right.setback_mm)
    return LayoutCase(
        line=MirrorLine(setup.room, setup.seat, setup.mirror),
        cabinets=setup.cabinets,
        lanes=layout.lanes,
        stations=layout.stations,
        start=Free(left.side_mm, setback, left.toe_in_deg),
        stance=Stance(base, setback, left.toe_in_deg),
        placements=placements,
        units=units,
    )


def facts(layout: Layout, placements: Pair[Placement], units: Units) -> str:
    """Return the left lane, and the right cabinet's numbers, in words."""

    def say(mm: float) -> str:
        return format_length(mm, units)

    lane, right = layout.lanes.left, placements.right
    turned = "turned in" if right.toe_in_deg >= 0 else "turned out"
    return (
        f"Left lane: {say(lane.outer_mm)} to {say(lane.inner_mm)} from the left wall.\n"
        f"Right cabinet: {say(right.side_mm)} from the right wall, {say(right.setback_mm)} from "
        f"the front wall, {turned} {abs(right.toe_in_deg):.1f}°."
    )
