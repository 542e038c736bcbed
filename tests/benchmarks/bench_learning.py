"""How many meters nobody has seen before are learnt, and whether one is ever learnt wrong.

Run with ``python tests/benchmarks/bench_learning.py [SEED]``. Two hundred meters are made up at
random: text and binary, on a serial line and on Bluetooth, with counters, status bytes, tilt,
battery, signal strength and checksums beside the distance. A person with a tape (1.5 mm) shows each
at two known distances, or at three, the third as far away as the program asks. What was learnt is
then tried on twenty fresh readings: a distance that is off makes the profile a wrong one, and more
than one that is refused means that it was not learnt. Five failed shots follow, a third of which
repeat the last distance and differ in the status alone; who has not been shown a failed shot cannot
know all of them. Twenty more meters have numbers that nobody could guess.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Final

import msgspec
import numpy as np
from numpy.random import Generator

from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import Decoder, Outcome, decoder_for
from witnessmark.meters.learning import Learnt, OneMore, Refused, Sample, learn
from witnessmark.model import Reading
from witnessmark_simulators.made_up import MadeUpMeter, draw_meter, draw_riddle

AT: Final = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
METERS, RIDDLES, FRESH, FAILED = 200, 20, 20, 5
TAPE_MM = 1.5
AIM = 0.95


class Trial(msgspec.Struct, frozen=True):
    """What became of one made-up meter."""

    words: str
    refused: int = 0
    """How many good fresh readings were not believed."""
    wrong: int = 0
    """How many good fresh readings came out as another distance."""
    taken_in: int = 0
    """How many failed shots came out as a distance."""
    said: str = ""
    """Why there is no profile; nothing where there is one."""

    @property
    def learnt(self) -> bool:
        """Whether there is a profile, which reads all but at most one of twenty."""
        return not self.said and not self.wrong and self.refused <= 1

    @property
    def fate(self) -> str:
        """What went wrong."""
        if self.said:
            return "no profile"
        return f"{self.wrong} wrong, {self.refused} refused, {self.taken_in} failed shots believed"


def show(meter: MadeUpMeter, true_mm: float, rng: Generator) -> Sample:
    """A reading of the meter at a distance that the person has measured with a tape."""
    frames = tuple(RawFrame(data, AT, channel) for channel, data in meter.send(true_mm))
    return Sample(true_mm + float(rng.normal(0.0, TAPE_MM)), frames)


def known_distances(meter: MadeUpMeter, rng: Generator) -> list[float]:
    """A distance to a wall, a step more, and one well beyond."""
    first = float(rng.uniform(600, 2500))
    second = first + float(rng.uniform(400, 1500))
    third = second + float(rng.uniform(400, min(4000, meter.reach_mm - second)))
    return [first, second, third]


def teach(
    meter: MadeUpMeter, rng: Generator, count: int, *, shows_failure: bool
) -> Learnt | OneMore | Refused:
    """Show the meter at ``count`` known distances, the last as far away as is asked for."""
    distances = known_distances(meter, rng)
    samples = [show(meter, true_mm, rng) for true_mm in distances[:2]]
    failed: list[RawFrame] = []
    if shows_failure and meter.can_fail:
        failed = [RawFrame(data, AT, channel) for channel, data in meter.fail(distances[1])]
    verdict = learn(samples, failed)
    if count > 2:
        beyond_mm = verdict.beyond_mm + 300 if isinstance(verdict, OneMore) else 0.0
        asked = max(distances[2], beyond_mm)
        samples.append(show(meter, asked if asked < meter.reach_mm else distances[2], rng))
        verdict = learn(samples, failed)
    if isinstance(verdict, OneMore) and verdict.otherwise:
        return verdict.otherwise
    return verdict


def heard(decoder: Decoder, learnt: Learnt, sent: Sequence[tuple[str, bytes]]) -> list[Outcome]:
    """What the profile makes of a shot."""
    packets = [data for channel, data in sent if channel == learnt.channel]
    return [outcome for data in packets for outcome in decoder.packet(data, AT)]


def tried(meter: MadeUpMeter, rng: Generator, count: int, *, shows_failure: bool) -> Trial:
    """Teach, then try on fresh shots and on failed ones."""
    verdict = teach(meter, rng, count, shows_failure=shows_failure)
    if not isinstance(verdict, Learnt):
        return Trial(meter.words, said=verdict.why)
    decoder = decoder_for(verdict.profile, "made up")
    refused, wrong, taken_in = 0, 0, 0
    last = 1000.0
    for _ in range(FRESH):
        last = float(rng.uniform(300, min(meter.reach_mm, 9000)))
        readings = distances_in(heard(decoder, verdict, meter.send(last)))
        refused += not readings
        wrong += any(abs(mm - last) > 3 + meter.step_mm for mm in readings)
    for _ in range(FAILED if meter.can_fail else 0):
        taken_in += bool(distances_in(heard(decoder, verdict, meter.fail(last))))
    return Trial(meter.words, refused=refused, wrong=wrong, taken_in=taken_in)


def distances_in(outcomes: Sequence[Outcome]) -> list[float]:
    """The distances among outcomes."""
    return [one.distance_mm for one in outcomes if isinstance(one, Reading)]


def trials(
    draw: Callable[[Generator], MadeUpMeter],
    rng: Generator,
    meters: int,
    *,
    count: int = 3,
    shows_failure: bool = False,
) -> list[Trial]:
    """The trials of so many meters."""
    return [tried(draw(rng), rng, count, shows_failure=shows_failure) for _ in range(meters)]


def main() -> None:
    """Print the shares, and what became of those that were not learnt."""
    rng = np.random.default_rng(int(sys.argv[1]) if len(sys.argv) > 1 else 2026)
    for count, shows_failure in ((2, False), (3, False), (3, True)):
        drawn = trials(draw_meter, rng, METERS, count=count, shows_failure=shows_failure)
        riddles = trials(draw_riddle, rng, RIDDLES, count=count)
        shown = "and a failed shot" if shows_failure else "no failed shot"
        print(f"{METERS} made-up meters, {count} known distances, {shown}:")
        for trial in drawn:
            if not trial.learnt or trial.wrong:
                print(f"    {trial.fate}: {trial.words} {trial.said}")
        learnt = sum(trial.learnt for trial in drawn) / METERS
        print(f"  learnt: {learnt:.1%}" + (f" (aim: {AIM:.0%})" if count == 3 else ""))
        wrong = sum(trial.wrong > 0 for trial in [*drawn, *riddles])
        print(f"  wrong profiles accepted: {wrong} (aim: none)")
        taken_in = sum(trial.taken_in > 0 for trial in drawn)
        print(f"  profiles that took a failed shot for a good one: {taken_in}")
        believed = sum(not trial.said for trial in riddles)
        print(f"  {RIDDLES} meters that nobody could learn: {believed} profiles (aim: none)")


if __name__ == "__main__":
    main()
