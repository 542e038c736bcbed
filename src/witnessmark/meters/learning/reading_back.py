"""What a profile reads out of frames that were heard: what its driver would read."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import Outcome, decoder_for
from witnessmark.meters.profile import Profile
from witnessmark.model import Reading


def distances_mm(profile: Profile, channel: str, frames: Sequence[RawFrame]) -> list[float]:
    """The distances that a profile reads out of what came on a channel, mm."""
    decoder, outcomes = decoder_for(profile, ""), list[Outcome]()
    for burst in bursts([frame for frame in frames if frame.channel == channel], decoder.pause_s):
        for frame in burst:
            outcomes += decoder.packet(frame.data, frame.at)
        outcomes += decoder.pause(burst[-1].at)
    return [one.distance_mm for one in outcomes if isinstance(one, Reading)]


def bursts(frames: Sequence[RawFrame], pause_s: float) -> list[list[RawFrame]]:
    """Frames of one channel, in groups between which there was a longer pause.

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
