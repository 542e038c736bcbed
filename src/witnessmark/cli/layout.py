"""``witnessmark layout``: where to begin in a room."""

from __future__ import annotations

from functools import partial

import click

from witnessmark.cli.types import LENGTH, UNITS
from witnessmark.errors import BadInput
from witnessmark.layout import (
    FOOT_MM,
    Free,
    InLane,
    Practice,
    Start,
    Station,
    Triangle,
    default_seat,
    lay_out,
)
from witnessmark.lengths import Units
from witnessmark.model import Cabinet, Mirror, Pair, Room, Seat


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
@click.option("--station", type=click.IntRange(min=1), help="Begin in the lanes, at this station.")
@click.option("--toe-in", type=float, help="Degrees, with --side or --station.")
@click.option(
    "--mirror",
    type=click.Choice([mirror.value for mirror in Mirror]),
    default=Mirror.SEAT.value,
    help="The mirror line: that through the seat, or the room's centre [seat].",
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
    units: Units,
    as_json: bool,
) -> None:
    """Lanes, seat, stations and a place to begin, as a tape finds them.

    Without --base, --setback, --side or --station the pair begins on a triangle of 60 degrees
    that spans the middles of the lanes. Lengths are written as 4.98 m, 498 cm, 4980 or 16' 4".
    """
    room = Room.rectangular(width, length)
    practice = Practice(station_step_mm=_step_mm(units) if station_step is None else station_step)
    plan = partial(
        lay_out,
        room,
        _cabinets(cabinet_width, cabinet_depth),
        _seat(room, practice, seat_from_front, seat_from_left),
        practice=practice,
        units=units,
        mirror=Mirror(mirror),
    )
    station_setback = None if station is None else _setback_of(station, plan().stations)
    layout = plan(start=_start(base, setback, side, station_setback, toe_in))
    if as_json:
        import msgspec.json  # noqa: PLC0415

        click.echo(msgspec.json.format(msgspec.json.encode(layout)))
    else:
        from witnessmark.cli.layout_page import page  # noqa: PLC0415

        click.echo(page(layout, units))


def _step_mm(units: Units) -> float:
    return FOOT_MM if units in (Units.INCH_16, Units.INCH_32) else 300.0


def _cabinets(width: float | None, depth: float | None) -> Pair[Cabinet] | None:
    if width is None and depth is None:
        return None
    if width is None or depth is None:
        missing = "--cabinet-width" if width is None else "--cabinet-depth"
        raise BadInput(f"{missing}: it is missing; a cabinet needs its width and its depth")
    cabinet = Cabinet(width, depth)
    return Pair(cabinet, cabinet)


def _seat(
    room: Room, practice: Practice, from_front: float | None, from_left: float | None
) -> Seat:
    usual = default_seat(room, practice)
    return Seat(
        usual.from_front_mm if from_front is None else from_front,
        usual.from_left_mm if from_left is None else from_left,
    )


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
        raise BadInput("--toe-in goes with --side or --station; a triangle faces the seat")
    return Triangle(base, setback)
