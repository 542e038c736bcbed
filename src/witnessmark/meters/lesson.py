"""A lesson: the shots that are shown to learn a meter from, one after another, and where it ends.

Records in, records out; who shows it asks for the shots and keeps the profile.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from witnessmark.errors import BadInput
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.decoding import decoder_for
from witnessmark.meters.learning import Learnt, OneMore, Refused, Sample, learn
from witnessmark.meters.learning.samples import LEAST_KNOWN, LEAST_STEP_MM
from witnessmark.meters.profile import Bluetooth, Profile, Serial
from witnessmark.meters.text import error_words
from witnessmark.meters.text_pattern import decoded
from witnessmark.model import Reading


class Lesson(msgspec.Struct, frozen=True):
    """What has been shown so far, and what that teaches.

    ``learnt`` is None until enough was shown to say anything.
    """

    samples: tuple[Sample, ...] = ()
    learnt: Learnt | OneMore | Refused | None = None

    def too_like(self, known_mm: float) -> float | None:
        """The distance shown before, mm, from which this one differs by too little."""
        near = (
            one.known_mm for one in self.samples if abs(one.known_mm - known_mm) < LEAST_STEP_MM
        )
        return next(near, None)

    def with_shot(self, known_mm: float, frames: Sequence[RawFrame]) -> Lesson:
        """The lesson after one more known distance and what the meter sent there."""
        samples = (*self.samples, Sample(known_mm, tuple(frames)))
        if len(samples) < LEAST_KNOWN:
            return Lesson(samples)
        try:
            return Lesson(samples, learn(samples))
        except BadInput as error:
            return Lesson(samples, Refused(str(error)))

    @property
    def profile(self) -> Learnt | None:
        """What may be kept: the one decoding that explains every shot, as far as it is sure."""
        if isinstance(self.learnt, OneMore):
            return self.learnt.otherwise
        return self.learnt if isinstance(self.learnt, Learnt) else None

    def reads(self, frames: Sequence[RawFrame]) -> list[float]:
        """The distances, mm, that what may be kept so far reads out of a further shot."""
        learnt = self.profile
        if learnt is None:
            return []
        decoder = decoder_for(learnt.profile, "")
        own = [frame for frame in frames if frame.channel == learnt.channel]
        outcomes = [one for frame in own for one in decoder.packet(frame.data, frame.at)]
        return [one.distance_mm for one in outcomes if isinstance(one, Reading)]


def over_transport(profile: Profile, transport: Serial | Bluetooth) -> Profile:
    """A profile together with how its bytes are come by."""
    if isinstance(transport, Serial):
        return msgspec.structs.replace(profile, serial=transport)
    return msgspec.structs.replace(profile, bluetooth=transport)


def told_error(frames: Sequence[RawFrame]) -> str | None:
    """The meter's own error line, where that is all that it sent."""
    lines = b"".join(frame.data for frame in frames).splitlines()
    told = [error_words(decoded(line)) for line in lines if line.strip()]
    return told[0] if told and all(told) else None
