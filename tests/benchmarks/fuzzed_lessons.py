"""Lessons from made-up meters whose bytes were damaged: what is learnt reads nothing wrong.

A meter is drawn and shown at two to four distances, as in ``bench_learning``. In most lessons a bad
line cuts, joins, doubles, loses or changes frames, or puts in those of another meter or noise. What
is learnt nevertheless has to read fresh frames of the same meter, which nothing damaged, as the
distances that they are, or not at all. Where the only trace of the distance was damaged, and by
chance another number fits, nobody can tell: such lessons are counted, and have to be few.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Final

import msgspec
from bench_learning import AT, frames_of, request_in, request_of, saved
from damaged_files import HOSTILE, Fed, Once, check_refusal
from fuzz_decoders import spoilt
from numpy.random import Generator

from witnessmark.errors import BadInput, WitnessmarkError
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.learning.samples import distances_mm
from witnessmark.meters.learning.verdict import OneMore, Refused
from witnessmark.meters.lesson import Lesson
from witnessmark_simulators.made_up import draw_meter, draw_riddle
from witnessmark_simulators.made_up_meter import MadeUpMeter

FRESH: Final = 12
"""How many frames a learnt profile is tried on."""
FLOOD: Final = 300
"""Most frames of noise in one shot."""


def lessons(_folder: Path) -> Once:
    """Lessons, most of them damaged."""
    return lesson


def lesson(rng: Generator) -> Fed:
    """One lesson: what was shown, and how many fresh distances came and are right."""
    meter = draw_riddle(rng) if rng.random() < 0.05 else draw_meter(rng)
    other = draw_meter(rng)
    is_noise = rng.random() < 0.05
    taught, fed, is_sound = Lesson(), Fed(), True
    for known_mm in _known(rng):
        frames = _noise(rng) if is_noise else _shown(meter, known_mm, rng)
        if rng.random() < 0.5:
            is_sound = False
            frames = _damaged(frames, _shown(other, known_mm, rng), rng)
        fed.count += sum(len(frame.data) for frame in frames)
        taught = taught.with_shot(known_mm + float(rng.normal(0.0, 1.5)), frames)
    if taught.profile and meter.can_fail and rng.random() < 0.3:
        try:
            taught = taught.with_failure(frames_of(meter, meter.fail(1000.0)))
        except BadInput as error:
            check_refusal(error, b"")
    if isinstance(taught.learnt, Refused | OneMore):
        assert taught.learnt.why.isprintable(), taught
    if taught.profile and not is_noise:
        _try(meter, taught, fed, rng, is_sound=is_sound)
    return fed


def _known(rng: Generator) -> list[float]:
    """Distances at which a meter is shown."""
    first = float(rng.uniform(900, 2500))
    known = [first, first + float(rng.uniform(300, 1500)), first - 300, first + 4000]
    return known[: int(rng.integers(2, 5))]


def _shown(meter: MadeUpMeter, mm: float, _rng: Generator) -> list[RawFrame]:
    asked = meter.waiting.request if meter.waiting else b""
    return frames_of(meter, meter.send(min(mm, meter.reach_mm), asked))


def _noise(rng: Generator) -> list[RawFrame]:
    """Frames that mean nothing: bytes at random, digits, or what is meant to do harm."""
    way = rng.integers(3)

    def one() -> bytes:
        if way == 0:
            return rng.bytes(int(rng.integers(1, 256)))
        if way == 1:
            return " ".join(str(n) for n in rng.integers(0, 99_999, size=20)).encode() + b"\r\n"
        return b" ".join(HOSTILE[int(at)] for at in rng.integers(len(HOSTILE), size=5)) + b"\n"

    pause = timedelta(seconds=float(rng.choice([0.01, 0.2])))
    count = int(rng.integers(1, 4)) if rng.random() < 0.9 else FLOOD
    return [RawFrame(one(), AT + at * pause) for at in range(count)]


def _damaged(frames: list[RawFrame], others: list[RawFrame], rng: Generator) -> list[RawFrame]:
    """Frames as a bad line brings them."""
    at = int(rng.integers(len(frames)))
    hit = frames[at]

    def with_data(data: bytes) -> list[RawFrame]:
        return [*frames[:at], msgspec.structs.replace(hit, data=data), *frames[at + 1 :]]

    ways = (
        *(frames * 2, frames * 3, frames[:at], frames[at + 1 :], frames[::-1]),
        *(frames + others, others + frames, others),
        with_data(spoilt(hit.data, others[0].data, rng)),
        with_data(spoilt(hit.data, hit.data, rng)),
        with_data(HOSTILE[int(rng.integers(len(HOSTILE)))]),
        with_data(hit.data + hit.data),
        with_data(b""),
    )
    return ways[int(rng.integers(len(ways)))]


def _try(meter: MadeUpMeter, taught: Lesson, fed: Fed, rng: Generator, *, is_sound: bool) -> None:
    """Save what was learnt, read it again, and try it on fresh frames."""
    learnt = taught.profile
    assert learnt is not None
    try:
        profile = saved(taught, learnt, request_of(meter))
    except WitnessmarkError as error:
        check_refusal(error, b"")
        return
    for _ in range(FRESH):
        mm = float(rng.uniform(300, min(meter.reach_mm, 9000)))
        fresh = frames_of(meter, meter.send(mm, request_in(profile)))
        fed.count += sum(len(frame.data) for frame in fresh)
        for read_mm in distances_mm(profile, learnt.channel, fresh):
            is_right = abs(read_mm - mm) <= 3 + meter.step_mm
            assert is_right or not is_sound, (meter.words, mm, read_mm, taught)
            fed.figures += is_right
            fed.misled += not is_right
