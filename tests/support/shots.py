"""Shots at known distances for the tests of learning, and what is read by what was learnt."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import decoder_for
from witnessmark.meters.learning.samples import Sample
from witnessmark.meters.learning.verdict import Learnt, learn
from witnessmark.meters.port import Fault
from witnessmark.meters.profile import read_profile, write_profile
from witnessmark.model import Reading
from witnessmark_simulators.binary import Moment, Part, frame

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
KNOWN = (1234.0, 2345.0, 3571.0)
TURNED = (1234.0, 3571.0, 871.0)
"""Known distances that go up and down, as they are suggested; one is shorter than a metre."""
PACKETS = "7a1e0001-52c4-4f0e-9c1d-3b6f0d8a4e21"

Encode = Callable[[float], bytes]


def samples(
    encode: Encode, known: Sequence[float] = KNOWN, *, channel: str = "", tape: Sequence[float] = ()
) -> list[Sample]:
    """Return one shot at each known distance; ``tape`` is how far off the tape was."""
    offs = itertools.chain(tape, itertools.repeat(0.0))
    return [
        Sample(mm + off, (RawFrame(encode(mm), AT, channel),))
        for mm, off in zip(known, offs, strict=False)
    ]


def by_parts(*parts: Part) -> Encode:
    """Return frames whose count and tilt change from shot to shot."""
    counts = itertools.count(83)
    tilts = itertools.cycle([1.7, -2.9, 0.4, -0.2])
    return lambda mm: frame(parts, Moment(mm, count=next(counts), angle_deg=next(tilts), charge=71))


def learnt(shots: Sequence[Sample], failed: Sequence[RawFrame] = ()) -> Learnt:
    verdict = learn(shots, failed)
    assert isinstance(verdict, Learnt), verdict
    return verdict


def read(one: Learnt, *frames: bytes) -> list[float | str]:
    """Return what the profile, saved and loaded again, makes of frames: distances and faults."""
    decoder = decoder_for(read_profile(write_profile(one.profile)), "meter")
    outcomes = [outcome for data in frames for outcome in decoder.packet(data, AT)]
    return [
        outcome.distance_mm if isinstance(outcome, Reading) else outcome.fault
        for outcome in outcomes
        if isinstance(outcome, Reading | Fault)
    ]
