"""Live rounds with a person whose cabinets, room and readings are not quite as they are told.

The person follows the screen: shoots what is prompted, shoots again where a reading is questioned,
and moves a cabinet as asked with clumsy hands, though not by what nobody would do.
"""

from __future__ import annotations

import math
import zlib
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Final, NamedTuple

import msgspec
import numpy as np
from answer_rounds import skewed, with_width_error
from honesty import NAMES, limits, random_cabinet
from numpy.random import Generator

from witnessmark.model import (
    BOX_POINTS,
    Act,
    Decision,
    Held,
    Pair,
    Placement,
    Reading,
    Room,
    Seat,
    Setup,
    ShotKind,
    Side,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark_simulators.hands import Hands
from witnessmark_simulators.meter import ImperfectMeter
from witnessmark_simulators.person import Person
from witnessmark_simulators.room import ImpossibleShot, SimulatedRoom
from witnessmark_simulators.scenario import DEMO_SETUP, start_near

MOST_READINGS = 80
SKEWED_ROOMS = 10
_MOST_EVENTS = 160
_TOO_FAR_DEG = 90.0
"""A turn by more than this is not made, because the loudspeaker would face away."""
_BEGINNING = datetime(2026, 10, 3, 20, 0, tzinfo=UTC)


class Trouble(NamedTuple):
    """What is not as it is told, or not done as it is asked."""

    width_sd_mm: float = 0.0
    """Of both cabinets, each on its own."""
    far_width: float = 0.0
    """Probability that both cabinets are 25 mm wider or narrower than told instead."""
    wrong_reading: float = 0.0
    """Probability that a reading is wrong by 5 to 50 mm."""
    wrong_corner: float = 0.0
    """Probability that a shot is taken from another corner of the box."""
    skew: float = 0.0
    """Most that the room is out of square, as a share of its length, while told as another."""


_FAR_WIDTH_MM = 25.0
_WIDTH = Trouble(width_sd_mm=5.0, far_width=0.1)
_READING = Trouble(wrong_reading=0.02, wrong_corner=0.01)
_ROOM = Trouble(skew=0.01)
_ALL = Trouble(*map(max, zip(_WIDTH, _READING, _ROOM, strict=True)))


class LiveRegime(NamedTuple):
    """In which rooms, by which hold, and with what trouble."""

    name: str
    trouble: Trouble
    held: Held
    is_demo: bool
    """The demo's room; else ten rooms up to 3 % out of square, told with their corners."""
    weight: int = 1


LIVE_REGIMES: Final = {
    regime.name: regime
    for is_demo, room in ((True, "demo"), (False, "ten skewed rooms"))
    for held in (Held.CABINET, Held.WALL)
    for regime in (
        LiveRegime(f"{room}, held {held}: no trouble", Trouble(), held, is_demo),
        LiveRegime(f"{room}, held {held}: widths", _WIDTH, held, is_demo),
        LiveRegime(f"{room}, held {held}: readings", _READING, held, is_demo),
        LiveRegime(f"{room}, held {held}: room", _ROOM, held, is_demo),
        LiveRegime(f"{room}, held {held}: all of it", _ALL, held, is_demo, weight=4),
    )
}
"""Every regime by its name."""


class LiveEnd(NamedTuple):
    """How one round went."""

    finished: bool
    called_in: bool
    """Whether both cabinets were called in."""
    settled: tuple[bool, bool]
    truly_off: tuple[frozenset[str], frozenset[str]]
    """Of each cabinet, the quantities that are truly beyond tolerance."""
    edge_off: tuple[bool, bool]
    """Of each cabinet, whether any is, its side counted at the outer edge and not at its middle."""
    worst: dict[str, float]
    """The largest true error of each quantity, of the cabinets that were called in."""
    largest_turn_deg: float
    """The largest turn that was asked for."""
    nudges: int
    readings: int
    questions: int

    @property
    def is_false(self) -> bool:
        """Whether both cabinets were called in and one is not."""
        return self.called_in and any(self.truly_off)

    @property
    def is_false_by_its_edge(self) -> bool:
        """The same by the outer edges, from which no wrong width can be seen by any shot to it."""
        return self.called_in and any(self.edge_off)


class LivePerson:
    """Someone in a room that is not quite as told, and the state that their readings lead to."""

    def __init__(self, regime: LiveRegime, number: int) -> None:
        rng = np.random.default_rng((zlib.crc32(regime.name.encode()), number))
        self.state = _beginning(regime, number % SKEWED_ROOMS)
        self.setup = self.state.setup
        self.trouble = regime.trouble
        self._rng = rng
        meter = ImperfectMeter(self.setup.meter, rng)
        self.person = Person(_true_world(self.setup, regime.trouble, rng), meter, rng, Hands())
        self._asked: tuple[Side, int] | None = None
        self._events = 0
        self.largest_turn_deg = 0.0
        self.questions = 0

    def work(self) -> LiveEnd:
        """Follow the screen until it says that all is done, or patience is at its end."""
        while not self.state.finished and self.state.readings < MOST_READINGS:
            if self._events > _MOST_EVENTS:
                break
            self._obey()
        return self._end()

    def _obey(self) -> None:
        asked = (self.state.side, self.state.work.nudges)
        if self.state.work.stage is Stage.NUDGE and asked != self._asked:
            self._asked = asked
            self.nudge(guide(self.state).asked)
        self._events += 1
        at = _BEGINNING + timedelta(seconds=self._events)
        try:
            distance_mm = self._shoot(self.state.prompted)
        except ImpossibleShot:  # the person sees that the beam goes elsewhere
            distance_mm = None
        if distance_mm is None:
            self.state = self.state.feed(Decision(Act.SKIP, at))
            return
        self.state = self.state.feed(Reading(distance_mm, at, "sim:"))
        self.questions += self.state.question is not None

    def nudge(self, asked: Placement | None) -> None:
        """Move the present cabinet as asked, but do not turn a loudspeaker away."""
        if asked is None:
            return
        turn = abs(asked.toe_in_deg)
        self.largest_turn_deg = max(self.largest_turn_deg, turn)
        if turn <= _TOO_FAR_DEG:
            self.person.nudge(self.state.side, asked)

    def _shoot(self, kind: ShotKind) -> float | None:
        """Read the prompted shot, or one that it is mistaken for, now and then wrongly."""
        trouble, rng = self.trouble, self._rng
        if rng.random() < trouble.wrong_corner:
            others = [point for point in BOX_POINTS if point != kind.point]
            kind = msgspec.structs.replace(kind, point=others[int(rng.integers(len(others)))])
        distance_mm = self.person.shoot(kind).distance_mm
        if distance_mm is not None and rng.random() < trouble.wrong_reading:
            distance_mm += float(rng.choice((-1.0, 1.0)) * rng.uniform(5.0, 50.0))
        return distance_mm if distance_mm is None or distance_mm > 0 else None

    def _end(self) -> LiveEnd:
        stands = self.state.works
        settled = [stands[side].stage is Stage.SETTLED for side in Side]
        errors = [self._error(side) for side in Side]
        off = [self._beyond(error) for error in errors]
        edges = [bool(self._beyond(self._edge_error(side))) for side in Side]
        told = [error for error, is_settled in zip(errors, settled, strict=True) if is_settled]
        return LiveEnd(
            finished=self.state.finished,
            called_in=all(settled),
            settled=(settled[0], settled[1]),
            truly_off=(off[0], off[1]),
            edge_off=(edges[0], edges[1]),
            worst={name: max((abs(getattr(e, name)) for e in told), default=0.0) for name in NAMES},
            largest_turn_deg=self.largest_turn_deg,
            nudges=stands.left.nudges + stands.right.nudges,
            readings=self.state.readings,
            questions=self.questions,
        )

    def _error(self, side: Side) -> Placement:
        """How far a cabinet truly stands off its target, by tape in the true room."""
        return self.person.truth[side].minus(_target(self.setup, side))

    def _edge_error(self, side: Side) -> Placement:
        """The same of where its middle would be, half of the told width from its outer edge."""
        wider = self.person.world.cabinets[side].width_mm - self.setup.cabinets[side].width_mm
        error, toe_in = self._error(side), math.radians(self.person.truth[side].toe_in_deg)
        return Placement(
            error.side_mm - math.cos(toe_in) * wider / 2,
            error.setback_mm + math.sin(toe_in) * wider / 2,
            error.toe_in_deg,
        )

    def _beyond(self, error: Placement) -> frozenset[str]:
        """The quantities of an error that are beyond tolerance."""
        within = zip(NAMES, limits(self.setup), strict=True)
        return frozenset(name for name, limit in within if abs(getattr(error, name)) > limit)


def live_end_of(name: str, number: int) -> LiveEnd:
    """One round of the regime of this name, the same for the same number."""
    return LivePerson(LIVE_REGIMES[name], number).work()


@cache
def _beginning(regime: LiveRegime, place: int) -> Round:
    """The round before its first reading, with its planned shots."""
    setup = DEMO_SETUP if regime.is_demo else _skewed_setup(place)
    return Round.begin(msgspec.structs.replace(setup, held=regime.held))


def _skewed_setup(place: int) -> Setup:
    """One of ten rooms out of square, with a pair of boxes of its own and targets alike."""
    rng = np.random.default_rng((2027, place))
    width, length = float(rng.uniform(3800, 6200)), float(rng.uniform(5000, 8200))
    room = skewed(Room.rectangular(width, length), rng.uniform(-0.03, 0.03, 3).tolist())
    box = random_cabinet(rng)
    target = Placement(
        width * float(rng.uniform(0.26, 0.32)),
        length * float(rng.uniform(0.25, 0.35)),
        float(rng.uniform(0.0, 15.0)),
    )
    return Setup(
        room=room,
        cabinets=Pair(box, box),
        seat=Seat(length * 0.66, width / 2, 1000.0),
        meter=DEMO_SETUP.meter,
        targets=Pair[Placement | None](target, target),
    )


def _true_world(setup: Setup, trouble: Trouble, rng: Generator) -> SimulatedRoom:
    """The room and the cabinets as they are, both cabinets somewhere about their targets."""
    targets = Pair(*(_target(setup, side) for side in Side))
    room = skewed(setup.room, (*rng.uniform(-trouble.skew, trouble.skew, 2).tolist(), 0.0))
    wider = rng.normal(0.0, trouble.width_sd_mm, 2)
    if rng.random() < trouble.far_width:
        wider[:] = float(rng.choice((-1.0, 1.0))) * _FAR_WIDTH_MM
    cabinets = Pair(
        *(with_width_error(setup.cabinets[s], float(w)) for s, w in zip(Side, wider, strict=True))
    )
    return SimulatedRoom(room, cabinets, setup.seat, start_near(targets, rng))


def _target(setup: Setup, side: Side) -> Placement:
    target = setup.targets[side]
    assert target is not None
    return target
