"""``witnessmark foresee``: what the bare room does to the bass of each position of the walk."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, Final

import click
import msgspec

from witnessmark.cli.echo import echo
from witnessmark.cli.output import echo_blocks, echo_json
from witnessmark.cli.sources import named_setup, room_option
from witnessmark.cli.types import COUNT, LENGTH, UNITS, Written
from witnessmark.errors import BadInput
from witnessmark.layout.practice import Practice
from witnessmark.layout.start import default_seat, read_seat
from witnessmark.lengths import Units
from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup, Side

if TYPE_CHECKING:
    from witnessmark.acoustics.foresight import LevelDip
    from witnessmark.listening.foreseen import AtOtherSeat, ForeseenPosition, ForeseenWalk

_FURNISHINGS: Final = ("hard", "furnished", "soft")
"""The names of ``acoustics.foresight.Furnishing``, which brings numpy with it."""
_SPREADS: Final = ("narrow", "middle", "wide")


def _surface(where: str, text: str) -> tuple[str, float]:
    """Return a surface with its own sound absorption, such as ``floor=0.3``."""
    name, _, figure = text.partition("=")
    try:
        return name.strip(), float(figure)
    except ValueError:
        raise BadInput(
            f'{where}: "{text}" is not a surface with a figure; write floor=0.3'
        ) from None


def _seat(where: str, text: str) -> Seat:
    """Return a further seat as it is written."""
    try:
        return read_seat(text)
    except BadInput as wrong:
        raise BadInput(f"{where}: {wrong}") from None


def absorption_options(command: Callable[..., None]) -> Callable[..., None]:
    """Add the options that say how much sound the surfaces absorb."""
    furnishing = click.option(
        "--absorption",
        type=click.Choice(_FURNISHINGS),
        default="furnished",
        help="How much sound all surfaces absorb: 5, 12 or 30 % [furnished].",
    )
    surface = click.option(
        "--surface",
        "surfaces",
        type=Written("surface", _surface),
        multiple=True,
        help="One surface's own figure, 0 to 1, as in floor=0.3; may be repeated.",
    )
    return furnishing(surface(command))


@click.command("foresee")
@click.argument("file", metavar="[FILE]", required=False)
@room_option
@click.option("--width", type=LENGTH, help="Room, instead of FILE: from side wall to side wall.")
@click.option("--length", type=LENGTH, help="Room, from front wall to back wall.")
@click.option("--height", type=LENGTH, help="Room, from floor to ceiling.")
@click.option("--cabinet-width", type=LENGTH, help="Cabinet, across its baffle.")
@click.option("--cabinet-depth", type=LENGTH, help="Cabinet, from baffle to rear.")
@click.option("--acoustic-height", type=LENGTH, help="Cabinet, where its sound begins.")
@click.option("--seat-from-front", type=LENGTH, help="Seat [2/3 of the length].")
@click.option("--seat-from-left", type=LENGTH, help="Seat [half of the width].")
@click.option("--ear-height", type=LENGTH, help="Seat, from the floor to the ears.")
@click.option("--units", type=UNITS, help=f"One of {', '.join(Units)} [as entered].")
@absorption_options
@click.option("--grid", type=LENGTH, help="A free grid with this step instead of the stations.")
@click.option(
    "--spread", type=click.Choice(_SPREADS), default="middle", help="The spread drawn [middle]."
)
@click.option("--station", type=COUNT, help="Tell this one in sentences.")
@click.option("--third-octaves", is_flag=True, help="Bands of a third of an octave.")
@click.option(
    "--other-seat",
    "seats",
    type=Written("seat", _seat),
    multiple=True,
    help="Another seat, as in 4.4m,1.9m,1.0m: front wall, left wall, ears; up to five [stored].",
)
@click.option("--json", "as_json", is_flag=True, help="Print one object, mm, Hz and dB.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a line for each level, mm, Hz and dB.")
def foresee_command(
    file: str | None,
    room: str | None,
    units: Units | None,
    absorption: str,
    surfaces: tuple[tuple[str, float], ...],
    grid: float | None,
    spread: str,
    station: int | None,
    seats: tuple[Seat, ...],
    *,
    third_octaves: bool,
    as_json: bool,
    as_csv: bool,
    **sizes: float | None,
) -> None:
    """Show what the bare room does to the bass at each station, before you try it.

    The room is the latest in the store, --room, a round FILE (- reads it), or given by its sizes.
    It needs the height of the ceiling, of the ears and of the cabinets' acoustic centres.
    """
    if as_json and as_csv:
        raise BadInput("--json and --csv each choose how it is printed; give one of them")
    setup = _setup(file, room, sizes)
    if units is not None:
        setup = msgspec.structs.replace(setup, units=units)
    walk = foresee(setup, absorption, surfaces, grid)
    number = _SPREADS.index(spread) if grid is None else len(walk.spreads) // 2
    number = min(number, len(walk.spreads) - 1)
    place = place_of(station, walk, number)
    present = present_position(walk)
    here = present or walk.spreads[number].positions[place or 0]
    heard = tuple(walk.at_seats(here.placements, seats or setup.seats_beside))
    if as_json:
        echo_json(_answer(walk, present, heard, in_bands=third_octaves))
    elif as_csv:
        echo(_table(walk, in_bands=third_octaves), nl=False)
    else:
        from witnessmark.report.foresight import WIDTH, foresight_blocks

        if heard and present is None and place is None:
            place = 0  # the position whose other seats are described
        blocks = foresight_blocks(
            walk, number, place=place, present=present, seats=heard, in_bands=third_octaves
        )
        echo_blocks(blocks, WIDTH)


def foresee(
    setup: Setup,
    absorption: str,
    surfaces: tuple[tuple[str, float], ...],
    grid_mm: float | None = None,
) -> ForeseenWalk:
    """Return the walk of a setup.

    Raises:
        BadInput: as ``ForeseenWalk`` does, and for a surface that does not exist.
    """
    from witnessmark.acoustics.foresight import Furnishing, absorptions  # numpy
    from witnessmark.listening.foreseen import ForeseenWalk

    absorbed = absorptions(Furnishing(absorption), dict(surfaces))
    return ForeseenWalk(setup, absorbed, grid_mm=grid_mm)


def place_of(station: int | None, walk: ForeseenWalk, spread: int) -> int | None:
    """Return the place of a station by its number.

    Raises:
        BadInput: when there is none, saying how many there are.
    """
    count = len(walk.spreads[spread].positions)
    if station is not None and station > count:
        raise BadInput(f"--station: {station} is not there; this walk has {count}")
    return None if station is None else station - 1


def present_position(walk: ForeseenWalk) -> ForeseenPosition | None:
    """Return where the pair is to stand now, if both targets are known."""
    left, right = walk.setup.targets
    if left is None or right is None:
        return None
    return walk.at(Pair[Placement](left, right), "as the targets are")


def _setup(file: str | None, room: str | None, sizes: dict[str, float | None]) -> Setup:
    """Find the setup in a file, in the store, or make one of sizes."""
    given = [name for name, value in sizes.items() if value is not None]
    if not given:
        return named_setup(room, file)[1]
    if file is not None or room is not None:
        raise BadInput(
            f"{_option(given[0])} gives the room by its sizes; leave out FILE and --room"
        )
    needed = ("width", "length", "height", "cabinet_width", "cabinet_depth", "acoustic_height")
    for name in (*needed, "ear_height"):
        if sizes[name] is None:
            raise BadInput(f"{_option(name)}: it is missing; the bass cannot be foreseen without")

    found: dict[str, float] = {name: value for name, value in sizes.items() if value is not None}
    box = Room.rectangular(found["width"], found["length"], found["height"])
    seat = default_seat(
        box,
        Practice(),
        from_front_mm=sizes["seat_from_front"],
        from_left_mm=sizes["seat_from_left"],
        ear_height_mm=sizes["ear_height"],
    )
    cabinet = Cabinet(found["cabinet_width"], found["cabinet_depth"], found["acoustic_height"])
    return Setup(room=box, cabinets=Pair(cabinet, cabinet), seat=seat)


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _answer(
    walk: ForeseenWalk,
    present: ForeseenPosition | None,
    heard: tuple[AtOtherSeat, ...],
    *,
    in_bands: bool,
) -> dict[str, Any]:
    from witnessmark.report.foresight import curve

    frequencies, _ = curve(walk.spreads[0].positions[0].levels.pair, in_bands=in_bands)
    return {
        "absorption": walk.absorbed,
        "out_of_square_mm": walk.foresight.scene.room.out_of_square_mm,
        "frequencies_hz": frequencies,
        "spreads": [
            {
                "name": row.name,
                "spread_mm": row.spread_mm,
                "positions": [
                    _position(walk, one, in_bands=in_bands) | {"to_next_db": step}
                    for one, step in zip(row.positions, [*row.steps_db, None], strict=True)
                ],
            }
            for row in walk.spreads
        ],
        "present": None if present is None else _position(walk, present, in_bands=in_bands),
        "left_out": [
            {"name": one.name, "placements": msgspec.to_builtins(one.targets)}
            for one in walk.left_out
        ],
        "other_seats": [
            {
                "seat": msgspec.to_builtins(one.seat),
                "arrival_us": one.arrival_us,
                "level_db": one.level_db,
                "levels_db": _levels(one, in_bands=in_bands),
            }
            for one in heard
        ],
    }


def _position(walk: ForeseenWalk, one: ForeseenPosition, *, in_bands: bool) -> dict[str, Any]:
    return {
        "name": one.name,
        "setback_mm": one.setback_mm,
        "spread_mm": one.spread_mm,
        "placements": msgspec.to_builtins(one.placements),
        "levels_db": _levels(one, in_bands=in_bands),
        "dips": {side.value: [_dip(dip) for dip in walk.dips(one, side)] for side in Side},
        "obstacles": one.obstacles,
    }


def _dip(dip: LevelDip) -> dict[str, Any]:
    cause = dip.cause
    known: object = cause if cause is None or isinstance(cause, str) else msgspec.to_builtins(cause)
    return {"frequency_hz": dip.frequency_hz, "level_db": dip.level_db, "cause": known}


def _levels(one: ForeseenPosition | AtOtherSeat, *, in_bands: bool) -> dict[str, tuple[float, ...]]:
    from witnessmark.report.foresight import curve

    return {
        name: curve(level, in_bands=in_bands)[1] for name, level in one.levels._asdict().items()
    }


_HEADS: Final = ("spread_mm", "setback_mm", "name", "of", "frequency_hz", "level_db")


def _table(walk: ForeseenWalk, *, in_bands: bool) -> str:
    """Return every level as a line of its own, its columns parted by commas."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_HEADS)
    writer.writerows(_rows(walk, in_bands=in_bands))
    return text.getvalue()


def _rows(walk: ForeseenWalk, *, in_bands: bool) -> Iterator[tuple[object, ...]]:
    from witnessmark.report.foresight import curve

    for row in walk.spreads:
        for one in row.positions:
            where = (f"{one.spread_mm:.1f}", f"{one.setback_mm:.1f}", one.name)
            for name, level in one.levels._asdict().items():
                for hz, db in zip(*curve(level, in_bands=in_bands), strict=True):
                    yield *where, name, f"{hz:.2f}", f"{db:.2f}"
