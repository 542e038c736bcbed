"""``witnessmark layout``: where to begin in a room."""

from __future__ import annotations

from functools import partial

import click
import msgspec

from witnessmark.acoustics.scene import Scene
from witnessmark.cli.echo import echo
from witnessmark.cli.output import echo_blocks, echo_json
from witnessmark.cli.types import COUNT, LENGTH, UNITS
from witnessmark.errors import BadInput
from witnessmark.layout.free import nearest_free
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.plan import Layout, lay_out
from witnessmark.layout.practice import Practice
from witnessmark.layout.remarks import LayoutCase
from witnessmark.layout.start import Free, InLane, Start, Station, Triangle, default_seat
from witnessmark.lengths import Units
from witnessmark.model import Cabinet, Mirror, Pair, Placement, Room, Side
from witnessmark.report.layout import WIDTH, layout_blocks


@click.command("layout")
@click.option("--width", type=LENGTH, required=True, help="Room, from side wall to side wall.")
@click.option("--length", type=LENGTH, required=True, help="Room, from front wall to back wall.")
@click.option("--cabinet-width", type=LENGTH, help="Cabinet, across its baffle.")
@click.option("--cabinet-depth", type=LENGTH, help="Cabinet, from baffle to rear.")
@click.option("--seat-from-front", type=LENGTH, help="Seat [2/3 of the length].")
@click.option("--seat-from-left", type=LENGTH, help="Seat [half of the width].")
@click.option("--station-step", type=LENGTH, help="Between stations [300 mm, or 1 ft in inches].")
@click.option("--base", type=LENGTH, help="Triangle, from baffle to baffle.")
@click.option("--setback", type=LENGTH, help="Triangle by its setback; or with --side.")
@click.option("--side", type=LENGTH, help="Your own numbers, with --setback and --toe-in.")
@click.option("--station", type=COUNT, help="Begin in the lanes, at this station.")
@click.option("--toe-in", type=float, help="Degrees, with --side or --station.")
@click.option(
    "--mirror",
    type=click.Choice([mirror.value for mirror in Mirror]),
    default=Mirror.SEAT.value,
    help="The mirror line: that through the seat, or the room's centre [seat].",
)
@click.option("--sound", is_flag=True, help="Also show what the room does to the sound.")
@click.option("--height", type=LENGTH, help="Room, for its ceiling, with --sound.")
@click.option("--ear-height", type=LENGTH, help="Seat, for floor and ceiling, with --sound.")
@click.option(
    "--acoustic-height", type=LENGTH, help=("Cabinet, where its sound begins, with --sound.")
)
@click.option("--units", type=UNITS, default="mm", help=f"One of {', '.join(Units)} [mm].")
@click.option("--json", "as_json", is_flag=True, help="Print one object, mm and degrees.")
def layout_command(
    width: float,
    length: float,
    cabinet_width: float | None,
    cabinet_depth: float | None,
    seat_from_front: float | None,
    seat_from_left: float | None,
    station_step: float | None,
    base: float | None,
    setback: float | None,
    side: float | None,
    station: int | None,
    toe_in: float | None,
    mirror: str,
    sound: bool,
    height: float | None,
    ear_height: float | None,
    acoustic_height: float | None,
    units: Units,
    as_json: bool,
) -> None:
    """Lanes, seat, stations and a place to begin, as a tape finds them.

    Without --base, --setback, --side or --station the pair begins on a triangle of 60 degrees
    that spans the middles of the lanes. Lengths are written as 5.36 m, 536 cm, 5360 or 17' 7".
    """
    if not sound:
        _refuse(
            {"--height": height, "--ear-height": ear_height, "--acoustic-height": acoustic_height}
        )
    room = Room.rectangular(width, length, height)
    practice = (
        Practice.in_units(units) if station_step is None else Practice(station_step_mm=station_step)
    )
    cabinets = _cabinets(cabinet_width, cabinet_depth)
    plan = partial(
        lay_out,
        room,
        cabinets,
        default_seat(
            room,
            practice,
            from_front_mm=seat_from_front,
            from_left_mm=seat_from_left,
            ear_height_mm=ear_height,
        ),
        practice=practice,
        units=units,
        mirror=Mirror(mirror),
    )
    station_setback = None if station is None else _setback_of(station, plan().stations)
    layout = plan(start=_start(base, setback, side, station_setback, toe_in))
    scene = _scene(room, layout, acoustic_height) if sound else None
    free = nearest_free(_case(room, cabinets, layout, Mirror(mirror), units))
    show = _print_object if as_json else _print_page
    show(layout, free, scene, units)


def _case(
    room: Room, cabinets: Pair[Cabinet] | None, layout: Layout, mirror: Mirror, units: Units
) -> LayoutCase:
    left = layout.placements.left
    return LayoutCase(
        line=MirrorLine(room, layout.seat, mirror),
        cabinets=cabinets,
        lanes=layout.lanes,
        stations=layout.stations,
        start=layout.start,
        stance=Stance(layout.base_mm, left.setback_mm, left.toe_in_deg),
        placements=layout.placements,
        units=units,
    )


def _print_object(
    layout: Layout, free: Pair[Placement] | None, scene: Scene | None, _units: Units
) -> None:
    found = msgspec.to_builtins(layout) | {"nearest_free": msgspec.to_builtins(free)}
    if scene is not None:
        from witnessmark.acoustics.figures import room_sound

        found["sound"] = msgspec.to_builtins(room_sound(scene))
    echo_json(found)


def _print_page(
    layout: Layout, free: Pair[Placement] | None, scene: Scene | None, units: Units
) -> None:
    echo_blocks(layout_blocks(layout, free, units), WIDTH)
    if scene is not None:
        from witnessmark.report import sound

        echo()
        echo_blocks(sound.sound_blocks(scene, units), sound.WIDTH)


def _scene(room: Room, layout: Layout, acoustic_height: float | None) -> Scene:

    places = Pair[Placement | None](*(layout.placements[side] for side in Side))
    return Scene(room, layout.seat, Pair(acoustic_height, acoustic_height), places)


def _refuse(given: dict[str, float | None]) -> None:
    for name, value in given.items():
        if value is not None:
            raise BadInput(f"{name} needs --sound; a layout alone uses no heights")


def _cabinets(width: float | None, depth: float | None) -> Pair[Cabinet] | None:
    if width is None and depth is None:
        return None
    if width is None or depth is None:
        missing = "--cabinet-width" if width is None else "--cabinet-depth"
        raise BadInput(f"{missing}: it is missing; a cabinet needs its width and its depth")
    cabinet = Cabinet(width, depth)
    return Pair(cabinet, cabinet)


def _setback_of(number: int, walk: tuple[Station, ...]) -> float:
    if number > len(walk):
        raise BadInput(f"--station: {number} is not there; this room has {len(walk)} stations")
    return walk[number - 1].setback_mm


def _start(
    base: float | None,
    setback: float | None,
    side: float | None,
    station_setback: float | None,
    toe_in: float | None,
) -> Start:
    values = {"--base": base, "--side": side, "--station": station_setback}
    chosen = [name for name, value in values.items() if value is not None]
    if len(chosen) > 1:
        raise BadInput(f"{' and '.join(chosen)} each choose where to begin; give one of them")
    if side is not None:
        if setback is None:
            raise BadInput("--setback: it is missing; --side needs it")
        return Free(side, setback, toe_in)
    if setback is not None and chosen:
        raise BadInput(f"--setback follows from {chosen[0]}; give one of the two")
    if station_setback is not None:
        return InLane(station_setback, toe_in or 0.0)
    if toe_in is not None:
        raise BadInput("--toe-in needs --side or --station; a triangle faces the seat")
    return Triangle(base, setback)
