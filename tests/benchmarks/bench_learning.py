"""How many meters nobody has seen before are learnt, and whether one is ever learnt wrong.

Run with ``python tests/benchmarks/bench_learning.py [SEED]``; with a second number, as many more
meters are drawn, of which only the wrong and the useless are told. Four hundred meters are made up
at random: text and binary, on a serial line and on Bluetooth, with counters, status bytes, tilt,
battery, signal strength, checksums and the longest distance so far beside the distance. Numbers are
decimal with a dot or a comma, with powers of ten, thousands, feet and inches, fractions, sixteens,
whole, binary fractions and decimal digits in halves of bytes. Three in ten wait for a request,
which the line may repeat and the meter acknowledge before it answers. A person with a tape (1.5 mm)
shows each at two known distances, or at three, the third as near or far as the program asks. What
was learnt is saved, and then tried on twenty fresh readings, for which a meter that waits is asked
as the saved profile says: a distance that is off makes the profile a wrong one, and more than one
that is refused means that it was not learnt. Five failed shots follow, a third of which repeat the
last distance and differ in the status alone; who has not been shown a failed shot cannot know all
of them. Twenty more meters have numbers that nobody could guess.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Final

import msgspec
import numpy as np
from numpy.random import Generator

from witnessmark.errors import BadInput
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.learning.samples import distances_mm
from witnessmark.meters.learning.verdict import Learnt, OneMore, Refused
from witnessmark.meters.lesson import Lesson, finished
from witnessmark.meters.profile import (
    Bluetooth,
    Profile,
    Request,
    Serial,
    read_profile,
    write_profile,
)
from witnessmark.meters.profile_values import Octets, Uuid
from witnessmark_simulators.made_up import draw_meter, draw_riddle
from witnessmark_simulators.made_up_meter import MadeUpMeter

AT: Final = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
METERS, RIDDLES, FRESH, FAILED = 400, 20, 20, 5
TAPE_MM = 1.5
AIM = 0.97
AIM_USELESS = 0.0002


class Trial(msgspec.Struct, frozen=True):
    """What became of one made-up meter."""

    words: str
    waits: bool = False
    """Whether the meter waits for a request."""
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
    def useless(self) -> bool:
        """Whether there is a profile, which reads nothing."""
        return not self.said and self.refused == FRESH

    @property
    def fate(self) -> str:
        """What went wrong."""
        if self.said:
            return "no profile"
        return f"{self.wrong} wrong, {self.refused} refused, {self.taken_in} failed shots believed"


def request_of(meter: MadeUpMeter) -> Request | None:
    """By what the person asks the meter, who has read how to."""
    waiting = meter.waiting
    if waiting is None:
        return None
    if waiting.is_text:
        return Request(text=waiting.request.decode())
    return Request(bytes=Octets(waiting.request))


def shown(meter: MadeUpMeter, lesson: Lesson, true_mm: float, rng: Generator) -> Lesson:
    """The lesson after a shot at a distance that the person has measured with a tape."""
    asked = meter.waiting.request if meter.waiting else b""
    known_mm = true_mm + float(rng.normal(0.0, TAPE_MM))
    return lesson.with_shot(known_mm, frames_of(meter, meter.send(true_mm, asked)))


def frames_of(meter: MadeUpMeter, sent: Sequence[tuple[str, bytes]]) -> list[RawFrame]:
    """What was sent, in the time that the meter takes for it."""
    pause = timedelta(seconds=meter.waiting.pause_s if meter.waiting else 0.0)
    return [RawFrame(data, AT + at * pause, channel) for at, (channel, data) in enumerate(sent)]


def third_distance(meter: MadeUpMeter, rng: Generator, learnt: object) -> float:
    """The third distance: as the program asks, else nearer than the others."""
    near = float(rng.uniform(500, 850))
    if not isinstance(learnt, OneMore):
        return near
    if learnt.beyond_mm and learnt.beyond_mm + 300 < meter.reach_mm:
        return learnt.beyond_mm + 300
    return near


def teach(meter: MadeUpMeter, rng: Generator, count: int, *, shows_failure: bool) -> Lesson:
    """Show the meter at ``count`` known distances, the last as far away as is asked for."""
    first = float(rng.uniform(1000, 2500))
    second = first + float(rng.uniform(400, 1500))
    lesson = shown(meter, shown(meter, Lesson(), first, rng), second, rng)
    if count > 2:
        lesson = shown(meter, lesson, third_distance(meter, rng, lesson.learnt), rng)
    if shows_failure and meter.can_fail and lesson.profile:
        failed = frames_of(meter, meter.fail(second))
        with contextlib.suppress(BadInput):  # the person goes on without it
            lesson = lesson.with_failure(failed)
    return lesson


def saved(lesson: Lesson, learnt: Learnt, request: Request | None) -> Profile:
    """What was learnt as it is read again from its file."""
    transport: Serial | Bluetooth = Serial(request=request)
    if learnt.channel:
        transport = Bluetooth(characteristic=Uuid(learnt.channel), request=request)
    return read_profile(write_profile(finished(lesson, learnt, transport, AT)))


def request_in(profile: Profile) -> bytes:
    """What the profile has written to the meter, if anything."""
    table = profile.bluetooth or profile.serial
    return table.request.data if table and table.request else b""


def tried(meter: MadeUpMeter, rng: Generator, count: int, *, shows_failure: bool) -> Trial:
    """Teach, then try on fresh shots and on failed ones."""
    lesson = teach(meter, rng, count, shows_failure=shows_failure)
    learnt = lesson.profile
    waits = meter.waiting is not None
    if learnt is None:
        why = lesson.learnt.why if isinstance(lesson.learnt, OneMore | Refused) else "nothing"
        return Trial(meter.words, waits=waits, said=why)
    profile = saved(lesson, learnt, request_of(meter))
    refused, wrong, taken_in = 0, 0, 0
    last = 1000.0
    for _ in range(FRESH):
        last = float(rng.uniform(300, min(meter.reach_mm, 9000)))
        fresh = frames_of(meter, meter.send(last, request_in(profile)))
        readings = distances_mm(profile, learnt.channel, fresh)
        refused += not readings
        wrong += any(abs(mm - last) > 3 + meter.step_mm for mm in readings)
    for _ in range(FAILED if meter.can_fail else 0):
        failed = frames_of(meter, meter.fail(last))
        taken_in += bool(distances_mm(profile, learnt.channel, failed))
    return Trial(meter.words, waits=waits, refused=refused, wrong=wrong, taken_in=taken_in)


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


def share(part: int, whole: int) -> str:
    """A part of a whole, counted and in percent."""
    return f"{part} of {whole} ({part / whole:.1%})" if whole else "none"


def main() -> None:
    """Print the shares, and what became of those that were not learnt."""
    if len(sys.argv) > 2:
        many(int(sys.argv[2]), np.random.default_rng(int(sys.argv[1])))
        return
    rng = np.random.default_rng(int(sys.argv[1]) if len(sys.argv) > 1 else 2026)
    for count, shows_failure in ((2, False), (3, False), (3, True)):
        drawn = trials(draw_meter, rng, METERS, count=count, shows_failure=shows_failure)
        riddles = trials(draw_riddle, rng, RIDDLES, count=count)
        failing = "and a failed shot" if shows_failure else "no failed shot"
        print(f"{METERS} made-up meters, {count} known distances, {failing}:")
        for trial in drawn:
            if not trial.learnt or trial.wrong:
                print(f"    {trial.fate}: {trial.words} {trial.said}")
        aim = f", aim: {AIM:.0%}" if count == 3 else ""
        waiting = [trial for trial in drawn if trial.waits]
        print(f"  learnt: {share(sum(trial.learnt for trial in drawn), METERS)}{aim}")
        learnt = sum(trial.learnt for trial in waiting)
        print(f"  learnt of those that wait for a request: {share(learnt, len(waiting))}")
        wrong = sum(trial.wrong > 0 for trial in [*drawn, *riddles])
        print(f"  wrong profiles accepted: {wrong} (aim: none)")
        kept = [trial for trial in drawn if not trial.said]
        taken_in = sum(trial.taken_in > 0 for trial in kept)
        print(f"  profiles that read some failed shot as a distance: {share(taken_in, len(kept))}")
        believed = sum(not trial.said for trial in riddles)
        print(f"  {RIDDLES} meters that nobody could learn: {believed} profiles (aim: none)")


def many(meters: int, rng: Generator) -> None:
    """Print which of so many meters got a wrong or a useless profile."""
    kept = wrong = useless = 0
    for _ in range(meters):
        trial = tried(draw_meter(rng), rng, 3, shows_failure=False)
        kept += trial.learnt
        wrong += trial.wrong > 0
        useless += trial.useless
        if trial.wrong or trial.useless:
            print(f"    {trial.fate}: {trial.words}", flush=True)
    print(f"{meters} made-up meters, 3 known distances: learnt {share(kept, meters)}")
    print(f"  wrong profiles: {wrong} (aim: none)")
    print(f"  useless profiles: {share(useless, meters)} (aim: under {AIM_USELESS:.2%})")


if __name__ == "__main__":
    main()
