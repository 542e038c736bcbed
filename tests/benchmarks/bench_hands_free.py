"""Both cabinets stood on their targets by the meter's button alone, from 500 random starts.

Run with ``python tests/benchmarks/bench_hands_free.py``. Three people do it in the demo's room with
the demo's meter and clumsy hands. One nudges as asked and walks round the cabinet by the prompts.
Another leaves the meter at the first point, presses its button while the cabinet comes in pieces of
chance size and once more where it stands, and only then walks round it.

The third watches: makes the nudge in pieces, and as long as a point is to be watched pushes it on
in pieces until its number is within 2 mm of the one to stop at. A piece misses by 15 % of itself
and a millimetre; what is not watched goes astray by 15 % of it. Where a turn is watched the cabinet
is turned about the point that is named.

Needed are, for each walk round a cabinet, as many readings as the covariance foretells. Readings on
the way of a nudge are those whose place the next one of the same point took. A shot is
astray that a cabinet was judged by and that was taken of something else.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import msgspec
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from person_at_work import BEGINNING, MOST_READINGS, SETUP, Worker

from witnessmark.geometry.verdict import Verdict
from witnessmark.model import (
    OF_CABINET,
    OneCabinet,
    Placement,
    Reading,
    Shot,
    ShotKind,
    Side,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.shots.plan import planned_shots

STARTS = 500
MOST_PIECES = 5
MOST_PUSHES = 12
STOP_WITHIN_MM = 2.0
FEWEST = {side: planned_shots(OneCabinet(SETUP, side)).fewest or 0 for side in Side}


class Story(NamedTuple):
    """How one start ended; ``watched`` readings are those on the way of a nudge."""

    readings: int
    watched: int
    needed: int
    nudges: list[int]
    called_in: list[bool]
    truly_in: list[bool]
    judged: int
    astray: int


def pieces(start: Placement, end: Placement, rng: np.random.Generator) -> Iterator[Placement]:
    """Where a cabinet stands at each press of the button while it is nudged, and at last twice."""
    shares = sorted(rng.uniform(0.0, 1.0, rng.integers(0, MOST_PIECES)).tolist())
    move = end.minus(start)
    for share in (*shares, 1.0, 1.0):
        yield Placement(
            start.side_mm + share * move.side_mm,
            start.setback_mm + share * move.setback_mm,
            start.toe_in_deg + share * move.toe_in_deg,
        )


class Rehearsal:
    """One start, and the state that its readings lead to."""

    def __init__(self, seed: int, *, rests: bool = False, watches: bool = False) -> None:
        self.worker, self.state = Worker(seed), Round.begin(SETUP)
        self._rests, self._watches = rests or watches, watches
        self._rng = np.random.default_rng((seed, 1))
        self._asked: tuple[Side, int] | None = None
        self._watched = self._judged = self._astray = 0
        self._taken: set[Shot] = set()

    def work(self) -> Story:
        """Go on until both cabinets are done with."""
        while not self.state.finished and self.state.readings < MOST_READINGS:
            asked = (self.state.side, self.state.work.nudges)
            if self.state.work.stage is Stage.NUDGE and asked != self._asked:
                self._asked = asked
                self._nudge(self.state.side)
            else:
                self._shoot(self.state.prompted)
            if self._watches:
                self._push_on()
        return self._story()

    def _nudge(self, side: Side) -> None:
        move, person, first = guide(self.state).asked, self.worker.person, self.state.prompted
        assert move is not None
        start = person.truth[side]
        person.nudge(side, self._told(side) if self._watches else move)
        stops = list(pieces(start, person.truth[side], self._rng)) if self._rests else []
        for standing in stops[: -1 if self._watches else None]:
            person.world = person.world.moved(side, standing)
            self._shoot(first)
        if self._rests and not self._watches:
            self._watched += len(stops) - 1

    def _told(self, side: Side) -> Placement:
        """The part of the move that is told in words: what is in already stays."""
        appraisal = guide(self.state).cabinets[side].appraisal
        assert appraisal is not None
        assert appraisal.against_target is not None
        nudge, verdicts = appraisal.against_target.nudge, appraisal.against_target.verdicts
        if nudge.hold is not None:
            return nudge.move
        still = {one.field: 0.0 for one in OF_CABINET if verdicts[one] is Verdict.IN}
        return msgspec.structs.replace(nudge.move, **still)

    def _push_on(self) -> None:
        """Push or turn what is watched, piece by piece, until its number says stop."""
        for _ in range(MOST_PUSHES):
            now = guide(self.state)
            if now.held is None or now.watch is None:
                return
            left_mm = now.watch.stop_mm - now.held.reading_mm
            if abs(left_mm) <= STOP_WITHIN_MM:
                return
            self.worker.person.push(now.watch.kind, left_mm, now.watch.about)
            self._shoot(now.watch.kind)

    def _shoot(self, kind: ShotKind) -> None:
        answer = self.worker.person.shoot(kind)
        assert answer.distance_mm is not None
        before, shots = self.state.work.judged, self.state.work.shots
        self._taken.add(Shot(kind, answer.distance_mm))
        self.state = self.state.feed(Reading(answer.distance_mm, BEGINNING, "sim:"))
        work = self.state.works[kind.cabinet]
        judged = work.judged
        if self._watches and judged == before:
            before_it, after_it = (
                sum(shot.kind == kind for shot in some) for some in (shots, work.shots)
            )
            self._watched += max(before_it + 1 - after_it, 0)
        if judged != before:
            self._judged += len(judged)
            self._astray += len(set(judged) - self._taken)

    def _story(self) -> Story:
        stands = [self.state.works[side] for side in Side]
        return Story(
            readings=self.state.readings,
            watched=self._watched,
            needed=sum(FEWEST[side] * (self.state.works[side].nudges + 1) for side in Side),
            nudges=[stand.nudges for stand in stands],
            called_in=[stand.stage is Stage.SETTLED for stand in stands],
            truly_in=[self.worker.truly_in(side) for side in Side],
            judged=self._judged,
            astray=self._astray,
        )


def told(stories: list[Story]) -> Iterator[str]:
    """The figures of all starts, a line each."""
    readings = [story.readings for story in stories]
    nudges = np.array([story.nudges for story in stories]).ravel()
    called = np.array([story.called_in for story in stories]).ravel()
    truly = np.array([story.truly_in for story in stories]).ravel()
    beside = [(story.readings - story.watched) / story.needed for story in stories]
    within = (nudges <= 2).mean()
    late = np.quantile(readings, 0.9)
    yield f"readings to both in: median {np.median(readings):g}, 90th percentile {late:g}"
    yield f"of them on the way of a nudge: {sum(s.watched for s in stories) / sum(readings):.0%}"
    needed = sum(story.needed for story in stories)
    yield f"all readings to those needed: {sum(readings) / needed:.2f}"
    yield f"the others to those needed: median {np.median(beside):.2f}, mean {np.mean(beside):.2f}"
    yield f"nudges a cabinet: median {np.median(nudges):g}, mean {nudges.mean():.2f}"
    yield f"cabinets with two nudges or less: {within:.0%}"
    yield f"called in: {called.mean():.1%}; of these truly in: {truly[called].mean():.1%}"
    judged = sum(story.judged for story in stories)
    yield f"shots astray: {sum(story.astray for story in stories)} of {judged}"


def main() -> None:
    """Print what the two people needed."""
    people = {
        "walks on": {},
        "rests the meter": {"rests": True},
        "watches until the number says stop": {"watches": True},
    }
    for name, ways in people.items():
        print(f"who {name}, {STARTS} starts")
        for line in told([Rehearsal(seed, **ways).work() for seed in range(STARTS)]):
            print(f"  {line}")


if __name__ == "__main__":
    main()
