"""Both cabinets stood on their targets by the meter's button alone, from 500 random starts.

Run with ``python tests/benchmarks/bench_hands_free.py``. Two people do it in the demo's room with
the demo's meter and clumsy hands. One nudges as asked and walks round the cabinet by the prompts.
The other leaves the meter at the first point, presses its button while the cabinet comes in pieces
of chance size and once more where it stands. While more than a few millimetres are to go at that
point it is pushed once more by what is shown, as clumsily; only then it is walked round.

Needed are, for each walk round a cabinet, as many readings as the covariance foretells. A shot is
astray that a cabinet was judged by and that was taken of something else.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "placing"))

from person_at_work import BEGINNING, MOST_READINGS, SETUP, Worker

from witnessmark.model import AimedAt, OneCabinet, Placement, Reading, Shot, ShotKind, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.expectation import on_target
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.shots.plan import planned_shots

STARTS = 500
MOST_PIECES = 5
MOST_PUSHES = 4
NEAR_ENOUGH_MM = 3.0
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

    def __init__(self, seed: int, *, rests: bool) -> None:
        self.worker, self.state = Worker(seed), Round.begin(SETUP)
        self._rests, self._rng = rests, np.random.default_rng((seed, 1))
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
        return self._story()

    def _nudge(self, side: Side) -> None:
        move, person, first = guide(self.state).asked, self.worker.person, self.state.prompted
        assert move is not None
        start = person.truth[side]
        person.nudge(side, move)
        stops = list(pieces(start, person.truth[side], self._rng)) if self._rests else []
        for standing in stops:
            person.world = person.world.moved(side, standing)
            self._shoot(first)
        self._watched += max(len(stops) - 1, 0)
        for _ in range(MOST_PUSHES if self._rests else 0):
            left = self._to_go(first)
            if left is None or max(abs(left.side_mm), abs(left.setback_mm)) <= NEAR_ENOUGH_MM:
                break
            person.nudge(side, left)
            self._shoot(first)
            self._watched += 1

    def _to_go(self, first: ShotKind) -> Placement | None:
        """What the figure shows, as the push that a person makes of it; None for a question."""
        last, wanted_mm = self.state.last, on_target(SETUP, first)
        assert wanted_mm is not None
        if last is None or last.kind != first:
            return None
        toward_wall_mm = last.reading_mm - wanted_mm
        if first.to is AimedAt.FRONT:
            return Placement(0.0, -toward_wall_mm, 0.0)
        return Placement(-toward_wall_mm, 0.0, 0.0)

    def _shoot(self, kind: ShotKind) -> None:
        answer = self.worker.person.shoot(kind)
        assert answer.distance_mm is not None
        before = self.state.work.judged
        self._taken.add(Shot(kind, answer.distance_mm))
        self.state = self.state.feed(Reading(answer.distance_mm, BEGINNING, "sim:"))
        judged = self.state.works[kind.cabinet].judged
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
    yield f"the others to those needed: median {np.median(beside):.2f}, mean {np.mean(beside):.2f}"
    yield f"nudges a cabinet: median {np.median(nudges):g}, mean {nudges.mean():.2f}"
    yield f"cabinets with two nudges or less: {within:.0%}"
    yield f"called in: {called.mean():.1%}; of these truly in: {truly[called].mean():.1%}"
    judged = sum(story.judged for story in stories)
    yield f"shots astray: {sum(story.astray for story in stories)} of {judged}"


def main() -> None:
    """Print what the two people needed."""
    for name, rests in (("walks on", False), ("rests the meter", True)):
        print(f"who {name}, {STARTS} starts")
        for line in told([Rehearsal(seed, rests=rests).work() for seed in range(STARTS)]):
            print(f"  {line}")


if __name__ == "__main__":
    main()
