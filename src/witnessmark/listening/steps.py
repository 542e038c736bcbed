"""The positions that there are to try of each kind, one thing varied at a time.

All are mirror images about the setup's line. How finely spread and tilt are stepped is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.layout.footprint import Band
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.plan import Layout, lay_out
from witnessmark.layout.remarks import LayoutCase, obstacles
from witnessmark.layout.start import Free
from witnessmark.lengths import format_length
from witnessmark.listening.difference import PairPose, mean_tilt, stance
from witnessmark.locate.aim import Aim, aim_toe_in
from witnessmark.locate.tilt import tilt_to_ears
from witnessmark.model import Pair, Placement, Setup, Side, Varied

SPREADS = 7
"""How many spreads are tried between the lanes' edges; the middle one is that of the stations."""
TILT_STEP_DEG = 1.0
TILT_STEPS = 2
"""How many steps of tilt are tried either way."""
MOST_TILT_DEG = 10.0
"""A cabinet is not leaned farther on its spikes; common practice, no source."""


class Proposal(msgspec.Struct, frozen=True):
    """A position to try.

    ``obstacles`` are sentences that say why the pair cannot stand so, empty where it can;
    ``tried`` are the keys of the trials of it.
    """

    varied: Varied
    name: str
    targets: Pair[Placement]
    tilt_targets_deg: Pair[float | None]
    obstacles: tuple[str, ...] = ()
    tried: tuple[str, ...] = ()

    @property
    def posture(self) -> PairPose:
        """Where the pair is to stand and lean."""
        return PairPose(self.targets, self.tilt_targets_deg)


class Ground(NamedTuple):
    """A room laid out for its pair, and the stance and tilt from which one thing is varied."""

    setup: Setup
    layout: Layout
    stance: Stance
    tilt_deg: float | None

    @property
    def line(self) -> MirrorLine:
        """The line about which the two are mirror images."""
        return MirrorLine(self.setup.room, self.setup.seat, self.setup.mirror)

    @property
    def in_lanes(self) -> Ground:
        """The same ground with the pair on the middles of the lanes."""
        lanes = self.layout.lanes
        base = self.layout.width_mm - lanes.left.middle_mm - lanes.right.middle_mm
        return self._replace(stance=self.stance._replace(base_mm=base))

    def standing(self, posture: PairPose) -> Ground:
        """Return the same ground with the pair standing so."""
        return self._replace(
            stance=stance(self.setup, posture.placements), tilt_deg=mean_tilt(posture)
        )


def ground(setup: Setup) -> Ground:
    """Return a room with its pair on target; without targets straight, at the last station."""
    layout = lay_out(
        setup.room,
        setup.cabinets,
        setup.seat,
        units=setup.units,
        mirror=setup.mirror,
    )
    left, right = setup.targets.left, setup.targets.right
    setback = layout.stations[-1].setback_mm if layout.stations else setup.seat.from_front_mm
    here = Ground(setup, layout, Stance(0.0, setback, 0.0), setup.tilt_targets_deg.left)
    if left is None or right is None:
        return here.in_lanes
    return here.standing(PairPose(Pair(left, right), setup.tilt_targets_deg))


def proposals(here: Ground, what: Varied) -> tuple[Proposal, ...]:
    """Return every position that varies this one thing, in the order of trying."""
    steps = {
        Varied.STATION: _stations,
        Varied.SPREAD: _spreads,
        Varied.TOE_IN: _aims,
        Varied.TILT: _tilts,
    }
    return tuple(steps[what](here))


def _stations(here: Ground) -> Iterator[Proposal]:
    for station in here.layout.stations:
        stood = here.stance._replace(setback_mm=station.setback_mm)
        yield proposal(here, Varied.STATION, f"station {station.number}", stood)


def _spreads(here: Ground) -> Iterator[Proposal]:
    """From the inner edges of the lanes to the outer ones."""
    left, right = here.layout.lanes.left, here.layout.lanes.right
    inner = here.layout.width_mm - left.inner_mm - right.inner_mm
    outer = here.layout.width_mm - left.outer_mm - right.outer_mm
    for step in range(SPREADS):
        base = inner + (outer - inner) * step / (SPREADS - 1)
        name = f"spread {format_length(base, here.setup.units)}"
        yield proposal(here, Varied.SPREAD, name, here.stance._replace(base_mm=base))


def _aims(here: Ground) -> Iterator[Proposal]:
    """The usual aims; about a line beside the seat both turn by the mean of what each would."""
    setup, placements = here.setup, here.line.placements(here.stance)
    for aim in Aim:
        turns = [aim_toe_in(setup, side, placements[side], aim) for side in Side]
        stood = here.stance._replace(toe_in_deg=sum(turns) / len(turns))
        yield proposal(here, Varied.TOE_IN, f"toe-in: {aim}", stood)


def _tilts(here: Ground) -> Iterator[Proposal]:
    """A few steps about the present tilt, or about upright where that is not known; the ears.

    The ears only where their height and that of the cabinets' acoustic centres are known.
    """
    present = here.tilt_deg or 0.0
    for step in range(-TILT_STEPS, TILT_STEPS + 1):
        tilt = present + step * TILT_STEP_DEG
        yield proposal(here, Varied.TILT, tilt_name(tilt), here.stance, tilt)
    placements = here.line.placements(here.stance)
    try:
        tilts = [tilt_to_ears(here.setup, side, placements[side]) for side in Side]
    except BadInput:
        return
    yield proposal(here, Varied.TILT, "tilt: the ears", here.stance, sum(tilts) / len(tilts))


def tilt_name(tilt_deg: float) -> str:
    """Return what a tilt is called; leaning back is positive."""
    # plus 0.0 takes the sign off a zero
    return f"tilt {round(tilt_deg, 1) + 0.0:.1f}°"


def proposal(
    here: Ground, what: Varied, name: str, stood: Stance, tilt_deg: float | None = None
) -> Proposal:
    """Return a position of the pair on this ground, with what is in the way there."""
    tilt = here.tilt_deg if tilt_deg is None else tilt_deg
    return Proposal(
        what,
        name,
        here.line.placements(stood),
        Pair(tilt, tilt),
        (*_in_the_way(here, stood), *_leaning_too_far(tilt)),
    )


def _in_the_way(here: Ground, stood: Stance) -> tuple[str, ...]:
    """Walls, fittings, zones and the other cabinet; that a lane is kept to is only advice."""
    setup, anywhere = here.setup, Band(0.0, here.layout.width_mm)
    placements = here.line.placements(stood)
    case = LayoutCase(
        line=here.line,
        cabinets=setup.cabinets,
        lanes=Pair(anywhere, anywhere),
        stations=here.layout.stations,
        start=Free(placements.left.side_mm, stood.setback_mm),
        stance=stood,
        placements=placements,
        units=setup.units,
    )
    return tuple(obstacles(case))


def _leaning_too_far(tilt_deg: float | None) -> Iterator[str]:
    if tilt_deg is not None and abs(tilt_deg) > MOST_TILT_DEG:
        yield (
            f"A lean of {abs(tilt_deg):.0f}° is more than spikes should give: the cabinet may tip "
            "over."
        )
