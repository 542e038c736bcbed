"""A lesson: the shots that are shown to learn a meter from, one after another, and where it ends.

Records in, records out; who shows it asks for the shots and keeps the profile.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import msgspec

from witnessmark.errors import BadInput
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.learning import Learnt, OneMore, Refused, Sample, learn
from witnessmark.meters.learning.samples import LEAST_KNOWN, LEAST_STEP_MM, distances_mm
from witnessmark.meters.profile import Bluetooth, Profile, Serial
from witnessmark.meters.text import decoded, error_words

WHY_FAIL: Final = "without one, one profile in nine later reads some failed shot as a distance"
"""Why a shot that fails is worth showing: ``tests/benchmarks/bench_learning.py`` prints the share.
"""


class Lesson(msgspec.Struct, frozen=True):
    """What has been shown so far, and what that teaches.

    ``failed`` is what came of shots by which the meter could not measure. ``learnt`` is None until
    enough was shown to say anything.
    """

    samples: tuple[Sample, ...] = ()
    failed: tuple[RawFrame, ...] = ()
    learnt: Learnt | OneMore | Refused | None = None

    def too_like(self, known_mm: float) -> float | None:
        """Return the distance shown before, mm, from which this one differs by too little."""
        near = (
            one.known_mm for one in self.samples if abs(one.known_mm - known_mm) < LEAST_STEP_MM
        )
        return next(near, None)

    def with_shot(self, known_mm: float, frames: Sequence[RawFrame]) -> Lesson:
        """Return the lesson after one more known distance and what the meter sent there."""
        samples = (*self.samples, Sample(known_mm, tuple(frames)))
        return _taught(msgspec.structs.replace(self, samples=samples))

    def with_failure(self, frames: Sequence[RawFrame]) -> Lesson:
        """Return the lesson after a shot by which the meter could not measure.

        Raises:
            BadInput: when nothing tells that shot from a good one, so that it teaches nothing.
        """
        lesson = _taught(msgspec.structs.replace(self, failed=(*self.failed, *frames)))
        if isinstance(lesson.learnt, Refused) and not isinstance(self.learnt, Refused):
            raise BadInput("that shot looks just like a good one, so it is left out; did it fail?")
        return lesson

    @property
    def profile(self) -> Learnt | None:
        """What may be kept: the one decoding that explains every shot, as far as it is sure."""
        if isinstance(self.learnt, OneMore):
            return self.learnt.otherwise
        return self.learnt if isinstance(self.learnt, Learnt) else None

    def reads(self, frames: Sequence[RawFrame]) -> list[float]:
        """Return the distances, mm, that what may be kept so far reads out of a further shot."""
        learnt = self.profile
        if learnt is None:
            return []
        return distances_mm(learnt.profile, learnt.channel, frames)


def _taught(lesson: Lesson) -> Lesson:
    """The lesson with what it teaches, as soon as it can teach anything."""
    if len(lesson.samples) < LEAST_KNOWN:
        return lesson
    learnt: Learnt | OneMore | Refused
    try:
        learnt = learn(lesson.samples, lesson.failed)
    except BadInput as error:
        learnt = Refused(str(error))
    return msgspec.structs.replace(lesson, learnt=learnt)


def finished(
    lesson: Lesson, learnt: Learnt, transport: Serial | Bluetooth, at: datetime
) -> Profile:
    """Return the whole profile of what was ``learnt``, with its transport and the time.

    ``transport`` is the table that the driver gives for the channel learnt from.
    """
    count = len(lesson.samples)
    about = f"Learnt on {at:%Y-%m-%d} from {count} known distances"
    profile = msgspec.structs.replace(learnt.profile, about=about)
    if isinstance(transport, Serial):
        return msgspec.structs.replace(profile, serial=transport)
    return msgspec.structs.replace(profile, bluetooth=transport)


def told_error(frames: Sequence[RawFrame]) -> str | None:
    """Return the meter's own error line, where that is all that it sent."""
    lines = b"".join(frame.data for frame in frames).splitlines()
    told = [error_words(decoded(line)) for line in lines if line.strip()]
    return told[0] if told and all(told) else None
