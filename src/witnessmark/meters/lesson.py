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
from witnessmark.meters.learning.samples import LEAST_KNOWN, LEAST_STEP_MM, Sample, distances_mm
from witnessmark.meters.learning.verdict import Learnt, OneMore, Refused, learn
from witnessmark.meters.number import SAME_MM
from witnessmark.meters.profile import Bluetooth, Profile, Serial
from witnessmark.meters.profile_values import DisplayStep
from witnessmark.meters.text import decoded, error_words
from witnessmark.model import Meter
from witnessmark.model.limits import METER_ERROR

WHY_FAIL: Final = "without one, one profile in nine later reads some failed shot as a distance"
"""Why a shot that fails is worth showing: ``tests/benchmarks/bench_learning.py`` prints the share.
"""


_USUAL_SHORTEST_MM: Final = 50.0
"""What is taken where nobody says the shortest distance of a meter, mm; common practice, no source.
"""

_USUAL_LONGEST_MM: Final = 90_000.0
"""A failed shot that reads more is an error number, as 99.999 m is, mm; common practice, no source.
"""


class MeterLimits(msgspec.Struct, frozen=True):
    """What the meter's leaflet says: its shortest and longest distance, and its error numbers.

    A number that the meter sends when it cannot measure is given as the length that it would be.
    """

    shortest_mm: float | None = None
    longest_mm: float | None = None
    fault_values_mm: tuple[float, ...] = ()

    def check(self, known_mm: Sequence[float]) -> None:
        """Refuse limits by which a distance that was shown would be none.

        Raises:
            BadInput: saying which.
        """
        for mm in known_mm:
            if mm < (self.shortest_mm or 0):
                raise BadInput(
                    f"shortest {self.shortest_mm:g} mm: you showed {mm:g} mm, which is less"
                )
            if self.longest_mm is not None and mm > self.longest_mm:
                raise BadInput(
                    f"longest {self.longest_mm:g} mm: you showed {mm:g} mm, which is more"
                )
            if mm in self.fault_values_mm:
                raise BadInput(f"error number {mm:g} mm: you showed that as a distance")

    def shuts_out(self, mm: float) -> bool:
        """Return whether a number cannot be a distance of this meter."""
        shortest_mm = _USUAL_SHORTEST_MM if self.shortest_mm is None else self.shortest_mm
        longest_mm = _USUAL_LONGEST_MM if self.longest_mm is None else self.longest_mm
        is_told = any(abs(mm - value) <= SAME_MM for value in self.fault_values_mm)
        return is_told or not shortest_mm <= mm <= longest_mm


class Lesson(msgspec.Struct, frozen=True):
    """What has been shown so far, and what that teaches.

    ``failed`` is what came of shots by which the meter could not measure; those that read a number
    which cannot be a distance have that number in ``limits`` instead. ``learnt`` is None until
    enough was shown to say anything.
    """

    samples: tuple[Sample, ...] = ()
    failed: tuple[RawFrame, ...] = ()
    learnt: Learnt | OneMore | Refused | None = None
    limits: MeterLimits = MeterLimits()

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
        if not isinstance(lesson.learnt, Refused) or isinstance(self.learnt, Refused):
            return lesson
        numbers = self._numbers_mm(frames)
        if numbers and all(self.limits.shuts_out(mm) for mm in numbers):
            told = tuple(sorted({*self.limits.fault_values_mm, *numbers}))
            limits = msgspec.structs.replace(self.limits, fault_values_mm=told)
            return msgspec.structs.replace(self, limits=limits)
        read = f" ({numbers[0]:g} mm)" if numbers else ""
        raise BadInput(
            f"that shot looks just like a good one{read}, so it is left out; did it fail?"
        )

    def with_limits(self, limits: MeterLimits) -> Lesson:
        """Return the lesson with what is known of the meter; error numbers that it has stay."""
        told = tuple(sorted({*self.limits.fault_values_mm, *limits.fault_values_mm}))
        limits = msgspec.structs.replace(limits, fault_values_mm=told)
        return msgspec.structs.replace(self, limits=limits)

    @property
    def has_failed(self) -> bool:
        """Whether a shot was shown that failed and taught something."""
        return bool(self.failed or self.limits.fault_values_mm)

    @property
    def profile(self) -> Learnt | None:
        """What may be kept: the one decoding that explains every shot, as far as it is sure."""
        if isinstance(self.learnt, OneMore):
            return self.learnt.otherwise
        return self.learnt if isinstance(self.learnt, Learnt) else None

    def reads(self, frames: Sequence[RawFrame]) -> list[float]:
        """Return the distances, mm, that what may be kept so far reads out of a further shot."""
        return [mm for mm in self._numbers_mm(frames) if not self.limits.shuts_out(mm)]

    def _numbers_mm(self, frames: Sequence[RawFrame]) -> list[float]:
        """Return the same with numbers that cannot be a distance of this meter."""
        learnt = self.profile
        if learnt is None:
            return []
        return distances_mm(learnt.profile, learnt.channel, frames)


def with_step(meter: Meter, step_mm: float) -> Meter:
    """Return a meter's errors with the learnt step of its display; 0: nothing is known of it."""
    if step_mm <= 0 or not METER_ERROR.admits(step_mm):
        return meter
    return msgspec.structs.replace(meter, resolution_mm=round(step_mm, 4))


def _taught(lesson: Lesson) -> Lesson:
    """Return the lesson with what it teaches, as soon as it can teach anything."""
    if len(lesson.samples) < LEAST_KNOWN:
        return lesson
    learnt: Learnt | OneMore | Refused
    try:
        learnt = learn(lesson.samples, lesson.failed)
    except BadInput as error:
        learnt = Refused(str(error))
    return msgspec.structs.replace(lesson, learnt=learnt)


def finished(
    lesson: Lesson,
    learnt: Learnt,
    transport: Serial | Bluetooth,
    at: datetime,
) -> Profile:
    """Return the profile of what was ``learnt`` with its transport, limits, display step and time.

    ``transport`` is the table that the driver gives for the channel learnt from.

    Raises:
        BadInput: when a limit shuts out a distance that was shown.
    """
    count = len(lesson.samples)
    limits = lesson.limits
    limits.check([sample.known_mm for sample in lesson.samples])
    usual_mm = min(_USUAL_SHORTEST_MM, *(sample.known_mm for sample in lesson.samples))
    about = f"Learnt on {at:%Y-%m-%d} from {count} known distances"
    step_mm = round(learnt.step_mm, 4)
    step = DisplayStep.read(step_mm) if step_mm >= DisplayStep.least else None
    profile = msgspec.structs.replace(learnt.profile, about=about, step=step).limited(
        shortest_mm=usual_mm if limits.shortest_mm is None else limits.shortest_mm,
        longest_mm=limits.longest_mm,
        fault_values_mm=limits.fault_values_mm,
    )
    if isinstance(transport, Serial):
        return msgspec.structs.replace(profile, serial=transport)
    return msgspec.structs.replace(profile, bluetooth=transport)


def told_error(frames: Sequence[RawFrame]) -> str | None:
    """Return the meter's own error line, where that is all that it sent."""
    lines = b"".join(frame.data for frame in frames).splitlines()
    told = [error_words(decoded(line)) for line in lines if line.strip()]
    return told[0] if told and all(told) else None
