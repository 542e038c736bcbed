"""Rounds for phones to show: a simulated person's readings, and what is told of them."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from witnessmark.app.commands import act_words
from witnessmark.meters.port import Link, LinkState
from witnessmark.model import Act, Decision, Reading, Setup
from witnessmark.phone.meter import MeterSeen
from witnessmark.phone.state import PhoneState, phone_state
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.cues import Cue, cue
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import Round
from witnessmark_simulators.person import Person
from witnessmark_simulators.scenario import DEMO_SETUP, demo_scenario

AT = datetime(2026, 5, 3, 19, 40, tzinfo=UTC)
CONNECTED = MeterSeen().after(Link(LinkState.OPEN, "connected", AT, "sim:"))


class Working:
    """A round as it goes on, and the last cue that was to be heard of it."""

    def __init__(self, setup: Setup = DEMO_SETUP, seed: int = 1) -> None:
        rng = np.random.default_rng(seed)
        self.person: Person = demo_scenario(rng).person(rng)
        self.round = Round.begin(setup)
        self.meter = CONNECTED
        self.heard: Cue | None = None

    @property
    def guidance(self) -> Guidance:
        return guide(self.round)

    @property
    def state(self) -> PhoneState:
        """What a phone shows."""
        return phone_state(self.guidance, self.meter, act_words())

    def feed(self, event: Reading | Decision) -> None:
        """Let an event come in."""
        before = self.guidance
        self.round = self.round.feed(event)
        self.meter = self.meter.after(event)
        self.heard = cue(before, self.guidance)

    def read(self, distance_mm: float) -> None:
        """Let a reading come in."""
        self.feed(Reading(distance_mm, AT, "sim:"))

    def decide(self, act: Act) -> None:
        """Let a decision come in."""
        self.feed(Decision(act, AT))

    def shoot(self, times: int = 1) -> None:
        """Take the prompted shot so many times."""
        for _ in range(times):
            answer = self.person.shoot(self.round.prompted)
            assert answer.distance_mm is not None
            self.read(answer.distance_mm)

    def nudge(self) -> None:
        """Make the nudge that is asked for, if one is."""
        if move := self.guidance.asked:
            self.person.nudge(self.round.side, move)

    def finish(self) -> None:
        """Go on until there is nothing left to do."""
        while not self.round.finished:
            if self.round.work.stage is Stage.NUDGE:
                self.nudge()
            self.shoot()
