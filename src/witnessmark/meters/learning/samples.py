"""What is learnt from, a meter's bytes at known distances, and what a profile reads out of them."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

import msgspec

from witnessmark.errors import BadInput
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import Outcome, decoder_for
from witnessmark.meters.profile import Profile
from witnessmark.model import Reading
from witnessmark.model.limits import KNOWN_DISTANCE

LEAST_KNOWN: Final = 2
LEAST_STEP_MM: Final = 100.0
"""Known distances that differ less could be told apart by too few of the meter's digits."""

_TAPE_MM = 6.0
_TAPE_PER_MM = 0.001


class Sample(msgspec.Struct, frozen=True):
    """A known distance, and all that the meter sent when it was measured."""

    known_mm: float
    frames: tuple[RawFrame, ...]

    def on(self, channel: str) -> list[bytes]:
        """Return what came on one channel."""
        return [frame.data for frame in self.frames if frame.channel == channel]


def tolerance_mm(known_mm: float, step_mm: float) -> float:
    """Return how far a reading may lie from the known distance, mm: 6 + 1 a metre + half a step.

    A tape, a mark and the edge of the meter leave a few millimetres; a step is that of the
    meter's last digit.
    """
    return _TAPE_MM + _TAPE_PER_MM * known_mm + step_mm / 2


def check_known(known_mm: Sequence[float]) -> None:
    """Refuse distances from which nothing can be learnt.

    Raises:
        BadInput: when there are fewer than two, one is out of range, or two are alike.
    """
    if len(known_mm) < LEAST_KNOWN:
        raise BadInput(f"known distances: give at least {LEAST_KNOWN}, such as 1 m and 1.5 m")
    for known in known_mm:
        if not KNOWN_DISTANCE.admits(known):
            raise BadInput(f"known distance {known:g} mm: it must be from 50 mm to 100 m")
    for one, other in itertools.combinations(known_mm, 2):
        if abs(one - other) < LEAST_STEP_MM:
            raise BadInput(
                f"known distances {one:g} mm and {other:g} mm are too close; make them differ by "
                f"{LEAST_STEP_MM:g} mm or more"
            )


def channels(samples: Sequence[Sample]) -> list[str]:
    """Return the channels on which something came at every known distance."""
    heard = [{frame.channel for frame in sample.frames} for sample in samples]
    return sorted(set.intersection(*heard)) if heard else []


def distances_mm(profile: Profile, channel: str, frames: Sequence[RawFrame]) -> list[float]:
    """Return the distances that a profile reads out of what came on a channel, mm."""
    decoder, outcomes = decoder_for(profile, ""), list[Outcome]()
    for burst in bursts([frame for frame in frames if frame.channel == channel], decoder.pause_s):
        for frame in burst:
            outcomes += decoder.packet(frame.data, frame.at)
        outcomes += decoder.pause(burst[-1].at)
    return [one.distance_mm for one in outcomes if isinstance(one, Reading)]


def bursts(frames: Sequence[RawFrame], pause_s: float) -> list[list[RawFrame]]:
    """Return the frames of one channel in bursts, between which there were longer pauses.

    Over Bluetooth a pause means nothing, so that there is one group at most.
    """
    groups: list[list[RawFrame]] = []
    for frame in frames:
        before = groups[-1][-1] if groups else None
        paused = before is not None and (frame.at - before.at).total_seconds() > pause_s
        if before is None or (paused and not frame.channel):
            groups.append([])
        groups[-1].append(frame)
    return groups
