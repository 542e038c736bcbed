"""The walk foreseen: what a bare room does at low frequencies to each position, side by side.

The positions are those that the evening would propose, or a free grid of the floor that is left.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Final, NamedTuple

from witnessmark.acoustics.box import Floats
from witnessmark.acoustics.foresight import (
    DEEP_DB,
    DIPS_FROM_HZ,
    DIPS_TO_HZ,
    FREQUENCIES_HZ,
    HEARD_DB,
    Foresight,
    LevelDip,
    Levels,
    difference_db,
    minima,
    third_octaves,
)
from witnessmark.errors import BadInput
from witnessmark.layout.mirror import Stance
from witnessmark.listening.difference import stance
from witnessmark.listening.steps import SPREADS, Ground, Proposal, ground, proposal, proposals
from witnessmark.locate.arrival import arrival_us, level_db, path_mm
from witnessmark.model import Pair, Placement, Seat, Setup, Side, Varied
from witnessmark.model.room import RoomKnown

SPREAD_NAMES: Final = {"narrow": 0, "middle": SPREADS // 2, "wide": SPREADS - 1}
"""The spreads that are foreseen, by their places among those that are tried."""
MOST_SEATS: Final = 5
"""Further seats that can be looked at; a whole sofa, common practice, no source."""
LEAST_GRID_MM: Final = 50.0
"""Finest step of a free grid, mm: finer steps differ by nothing at these frequencies."""
MOST_OF_GRID: Final = 20_000
"""Most positions of a free grid: more than any other step of it leaves to look at."""
_ALIKE_DB: Final = 0.5
"""Root mean square difference, dB, below which two curves count as one."""
_FOLLOWED_OCTAVES: Final = 1 / 3
"""How far a dip may move from one position to the next and be the same, octaves; no source."""


class ForeseenPosition(NamedTuple):
    """One position: where the pair stands, and what the room does there."""

    name: str
    spread_mm: float
    setback_mm: float
    placements: Pair[Placement]
    levels: Levels
    obstacles: tuple[str, ...] = ()

    @property
    def is_alike(self) -> bool:
        """Whether the room does the same to both cabinets."""
        return difference_db(self.levels.left, self.levels.right) < _ALIKE_DB


class SpreadWalk(NamedTuple):
    """The positions of one spread, from abreast of the seat forward."""

    name: str
    spread_mm: float
    positions: tuple[ForeseenPosition, ...]

    @property
    def steps_db(self) -> tuple[float, ...]:
        """How much the pair's level differs from each position to the next, dB.

        In bands of a third of an octave, about as finely as an ear hears level.
        """
        bands = [third_octaves(one.levels.pair)[1] for one in self.positions]
        return tuple(difference_db(one, other) for one, other in pairwise(bands))

    @property
    def slight_runs(self) -> tuple[tuple[int, int], ...]:
        """The first and last place of each run whose neighbours differ by less than is heard."""
        runs: list[tuple[int, int]] = []
        for place, step in enumerate(self.steps_db):
            if step >= HEARD_DB:
                continue
            if runs and runs[-1][1] == place:
                runs[-1] = (runs[-1][0], place + 1)
            else:
                runs.append((place, place + 1))
        return tuple(runs)


class DipEnd(enum.StrEnum):
    """What becomes of a dip as the pair goes on along the walk."""

    ABOVE = "above"
    BELOW = "below"
    FILLED = "filled"
    STAYS = "stays"


class DipPath(NamedTuple):
    """How a dip of one position ends: ``place`` is that of the first position without it there."""

    end: DipEnd
    place: int


class AtOtherSeat(NamedTuple):
    """What another seat gets of a position; left minus right, arrival positive when later."""

    seat: Seat
    arrival_us: float
    level_db: float
    levels: Levels


class ForeseenWalk:
    """Every position of a walk that can be foreseen, and where the pair stands now."""

    def __init__(
        self,
        setup: Setup,
        absorbed: Mapping[str, float],
        *,
        grid_mm: float | None = None,
    ) -> None:
        """Foresee it.

        Args:
            setup: room with its ceiling, cabinets and seat with their heights.
            absorbed: the sound absorption of each surface.
            grid_mm: the step of a free grid in place of the stations of three spreads.

        Raises:
            BadInput: when the room was not measured whole or cannot be foreseen, the grid is too
                fine, or no position can be foreseen.
        """
        if setup.known_of_room is not RoomKnown.WHOLE:
            raise BadInput(
                "room: it was not measured whole; measure its width and length to foresee the bass"
            )
        self.setup, self.absorbed = setup, dict(absorbed)
        self.foresight = Foresight.of(setup, absorbed)
        here = ground(setup)
        offered = _stations(here) if grid_mm is None else _grid(here, grid_mm)
        self.left_out: list[Proposal] = []
        self.spreads = tuple(
            walk for name, ones in offered if (walk := self._walk(name, ones)).positions
        )
        if not self.spreads:
            raise BadInput("walk: no position has both cabinets inside the room, before the seat")
        self._dips: dict[tuple[Side, Placement], tuple[LevelDip, ...]] = {}

    def _walk(self, name: str, offered: tuple[Proposal, ...]) -> SpreadWalk:
        able = [one for one in offered if self._can_be_foreseen(one)]
        self.left_out += [one for one in offered if one not in able]
        levels = self.foresight.levels([one.targets for one in able])
        positions = tuple(
            self._position(one.name, one.targets, found, one.obstacles)
            for one, found in zip(able, levels, strict=True)
        )
        spread_mm = stance(self.setup, offered[0].targets).base_mm if offered else 0.0
        return SpreadWalk(name, spread_mm, positions)

    def _can_be_foreseen(self, one: Proposal) -> bool:
        try:
            for side in Side:
                self.foresight.source(side, one.targets[side])
        except BadInput:
            return False
        return True

    def _position(
        self, name: str, placements: Pair[Placement], levels: Levels, obstacles: tuple[str, ...]
    ) -> ForeseenPosition:
        stood = stance(self.setup, placements)
        return ForeseenPosition(
            name, stood.base_mm, stood.setback_mm, placements, levels, obstacles
        )

    def at(self, placements: Pair[Placement], name: str) -> ForeseenPosition:
        """Return what the room does where the pair stands.

        Raises:
            BadInput: when a cabinet stands outside the room, or at the ears.
        """
        (levels,) = self.foresight.levels([placements])
        return self._position(name, placements, levels, ())

    def dips(self, position: ForeseenPosition, side: Side) -> tuple[LevelDip, ...]:
        """Return the dips of one cabinet, the deepest first; looked for when first asked."""
        key = side, position.placements[side]
        if key not in self._dips:
            self._dips[key] = self.foresight.dips(*key)
        return self._dips[key]

    def dip_path(self, spread: int, place: int, side: Side, dip: LevelDip) -> DipPath:
        """Return where a dip of a position moves out of 40 to 200 Hz, going forward.

        From position to position it is the dip nearest to where the detour by the surface that
        makes it puts it, a third of an octave away at most; without a surface nearest in frequency.
        """
        positions = self.spreads[spread].positions
        here, at_hz = positions[place].placements[side], dip.frequency_hz
        for onward, position in enumerate(positions[place + 1 :], place + 1):
            there = position.placements[side]
            wanted_hz = at_hz
            if isinstance(dip.cause, str):
                detours = (self.foresight.detour_mm(dip.cause, side, one) for one in (here, there))
                wanted_hz *= next(detours) / next(detours)
            found = [
                float(FREQUENCIES_HZ[at]) for at in minima(_of(position.levels, side), DEEP_DB)
            ]
            nearest = min(found, key=lambda hz: _octaves(hz, wanted_hz), default=wanted_hz)
            is_there = nearest in found and _octaves(nearest, wanted_hz) <= _FOLLOWED_OCTAVES
            at_hz = nearest if is_there else wanted_hz
            if at_hz > DIPS_TO_HZ:
                return DipPath(DipEnd.ABOVE, onward)
            if at_hz < DIPS_FROM_HZ:
                return DipPath(DipEnd.BELOW, onward)
            if not is_there:
                return DipPath(DipEnd.FILLED, onward)
            here = there
        return DipPath(DipEnd.STAYS, len(positions))

    def nearest(self, setback_mm: float, spread_mm: float) -> tuple[int, int]:
        """Return the places of the spread, and of the position in it, that are nearest."""
        spread = min(
            range(len(self.spreads)), key=lambda at: abs(self.spreads[at].spread_mm - spread_mm)
        )
        positions = self.spreads[spread].positions
        place = min(
            range(len(positions)), key=lambda at: abs(positions[at].setback_mm - setback_mm)
        )
        return spread, place

    def at_seats(
        self, placements: Pair[Placement], seats: tuple[Seat, ...]
    ) -> Iterator[AtOtherSeat]:
        """Return what each further seat gets of a position. The walk is for the seat alone.

        Raises:
            BadInput: for more than five seats, or one without a height, or outside the room.
        """
        if len(seats) > MOST_SEATS:
            raise BadInput(f"other seats: {len(seats)} are too many; give {MOST_SEATS} at most")
        for number, seat in enumerate(seats, 1):
            try:
                yield self._at_seat(placements, seat)
            except BadInput as why:
                raise BadInput(f"other seat {number}: {why}") from None

    def _at_seat(self, placements: Pair[Placement], seat: Seat) -> AtOtherSeat:
        foresight = self.foresight.heard_at(seat)
        scene = foresight.scene
        paths = []
        for side in Side:
            x, y, _ = scene.source(side, placements[side])
            paths.append(path_mm((x, y), scene.acoustic_heights_mm[side], seat))
        (levels,) = foresight.levels([placements])
        later = arrival_us(paths[0] - paths[1], self.setup.temperature_c)
        return AtOtherSeat(seat, later, level_db(*paths), levels)


def _octaves(one_hz: float, other_hz: float) -> float:
    return abs(math.log2(one_hz / other_hz))


def _of(levels: Levels, side: Side) -> Floats:
    return levels.left if side is Side.LEFT else levels.right


def _stations(here: Ground) -> Iterator[tuple[str, tuple[Proposal, ...]]]:
    """Every station at the least, the middle and the greatest spread."""
    spreads = proposals(here.in_lanes, Varied.SPREAD)
    for name, place in SPREAD_NAMES.items():
        yield name, proposals(here.standing(spreads[place].posture), Varied.STATION)


def _grid(here: Ground, step_mm: float) -> Iterator[tuple[str, tuple[Proposal, ...]]]:
    """Steps of spread and setback as far as there is floor: what is in the way is left out."""
    if not step_mm >= LEAST_GRID_MM:
        raise BadInput(f"grid: a step of {step_mm:g} mm is too fine; give {LEAST_GRID_MM:g} mm")
    width, seat_mm = here.layout.width_mm, here.setup.seat.from_front_mm
    count = math.ceil(width / step_mm) * math.floor(seat_mm / step_mm)
    if count > MOST_OF_GRID:
        raise BadInput(
            f"grid: a step of {step_mm:g} mm gives {count} positions; give a longer one, for "
            f"{MOST_OF_GRID} at most"
        )
    for spread in range(1, math.ceil(width / step_mm)):
        base = spread * step_mm
        stands = (
            proposal(
                here,
                Varied.STATION,
                f"setback {back * step_mm:.0f} mm",
                Stance(base, back * step_mm, 0.0),
            )
            for back in range(math.floor(seat_mm / step_mm), 0, -1)
        )
        free = tuple(one for one in stands if not one.obstacles)
        if free:
            yield f"{base:.0f} mm", free
