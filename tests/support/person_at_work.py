"""A simulated person who does what is told: shoots what is prompted, nudges once as asked."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np

from witnessmark.model import Placement, Reading, Setup, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import Round
from witnessmark_simulators.meter import Answer
from witnessmark_simulators.person import Person
from witnessmark_simulators.scenario import DEMO_SETUP, demo_scenario

SETUP = DEMO_SETUP
BEGINNING = datetime(2026, 9, 12, 14, 0, tzinfo=UTC)
MOST_READINGS = 400


class Clock:
    """Gives a time one second later at each look."""

    def __init__(self) -> None:
        self._looks = 0

    def __call__(self) -> datetime:
        self._looks += 1
        return BEGINNING + timedelta(seconds=self._looks)


class Worker:
    """Someone in the demo's room whose start, meter and hands are drawn from one seed."""

    def __init__(self, seed: int, setup: Setup = SETUP) -> None:
        rng = np.random.default_rng(seed)
        scenario = msgspec.structs.replace(demo_scenario(rng), setup=setup)
        self.setup = setup
        self.person: Person = scenario.person(rng)
        self._asked: tuple[Side, int] | None = None

    def obey(self, guidance: Guidance) -> Answer:
        """Make the nudge that is asked for, if it is a new one, and take the prompted shot."""
        status = guidance.cabinets[guidance.side]
        asked = (guidance.side, status.nudges)
        if guidance.stage is Stage.NUDGE and asked != self._asked:
            assert status.appraisal is not None
            assert status.appraisal.against_target is not None
            self.person.nudge(guidance.side, status.appraisal.against_target.nudge.move)
            self._asked = asked
        return self.person.shoot(guidance.prompt.kind)

    def error(self, side: Side) -> Placement:
        """Return how far a cabinet truly stands off its target."""
        target = self.setup.targets[side]
        assert target is not None
        return self.person.truth[side].minus(target)

    def truly_in(self, side: Side) -> bool:
        """Return whether a cabinet truly stands within the tolerance of its target."""
        error, tolerance = self.error(side), self.setup.tolerance
        position = max(abs(error.side_mm), abs(error.setback_mm))
        return position <= tolerance.position_mm and abs(error.toe_in_deg) <= tolerance.toe_in_deg


class Ended(msgspec.Struct, frozen=True):
    """How one start ended."""

    readings: int
    nudges: tuple[int, int]
    called_in: tuple[bool, bool]
    truly_in: tuple[bool, bool]
    finished: bool


def work_through(seed: int, setup: Setup = SETUP) -> Ended:
    """Return the end of one round from a random start, all in this process."""
    worker, state = Worker(seed, setup), Round.begin(setup)
    clock = Clock()
    guidance = guide(state)
    while not guidance.finished and state.readings < MOST_READINGS:
        answer = worker.obey(guidance)
        assert answer.distance_mm is not None
        state = state.feed(Reading(answer.distance_mm, clock(), "sim:", answer.raw))
        guidance = guide(state)
    return ended(worker, guidance)


def ended(worker: Worker, guidance: Guidance) -> Ended:
    """Return how a round ended, by what is told and by where the cabinets truly stand."""
    stands = guidance.cabinets
    return Ended(
        readings=guidance.readings,
        nudges=(stands.left.nudges, stands.right.nudges),
        called_in=(stands.left.stage is Stage.SETTLED, stands.right.stage is Stage.SETTLED),
        truly_in=(worker.truly_in(Side.LEFT), worker.truly_in(Side.RIGHT)),
        finished=guidance.finished,
    )
