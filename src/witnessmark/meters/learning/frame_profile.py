"""The profile of frames in which the distance has been found."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.errors import LengthError
from witnessmark.meters.learning.checks import checksum_of, header_and_fixed, status_of, watched
from witnessmark.meters.learning.fitting import Failed, Fit
from witnessmark.meters.learning.number_field import NumberField
from witnessmark.meters.number import NumberType, Order
from witnessmark.meters.profile import Frame, FrameChecksum, FrameDistance, Profile
from witnessmark.meters.profile_values import FrameLength, Longest, Offset, Scale, Unit

_WIDER = {3: NumberType.UINT24, 4: NumberType.UINT32}


def frame_profile(field: NumberField, fit: Fit, failed: Failed) -> Profile:
    """What is checked in such a frame, and where the distance is.

    ``failed`` are frames by which the meter said that it could not measure, if there are any.
    """
    shape, frames = field.shape, field.shape.all_frames
    distance = _distance(field, fit)
    checksum = checksum_of(frames, _places(distance))
    explained = _places(distance) | _checksum_places(checksum, shape.length)
    kept = watched(frames, explained, field.order, in_packets=bool(shape.channel))
    alike = [frame for frame in failed if len(frame) == shape.length]
    needed = _any_distance(distance, alike)
    status = status_of(frames, alike, explained, kept, needed=needed)
    kept = [at for at in kept if status is None or at != status.at]
    header, fixed = header_and_fixed(frames[0], kept)
    return Profile(
        frame=Frame(
            length=FrameLength(shape.length),
            header=header,
            distance=distance,
            fixed=fixed,
            status=status,
            checksum=checksum,
        )
    )


def _distance(field: NumberField, fit: Fit) -> FrameDistance:
    """The number, with the zeros above it, which have to stay zero by its limit."""
    zeros = field.zeros_above()
    return FrameDistance(
        at=Offset(field.at - zeros if field.order is Order.BIG else field.at),
        order=field.order,
        type=_WIDER[field.kind.size + zeros] if zeros else field.kind,
        unit=Unit(fit.unit),
        scale=Scale(fit.scale),
        longest=Longest(field.longest_mm(fit.step_mm)),
    )


def _places(distance: FrameDistance) -> set[int]:
    return set(range(distance.at, distance.at + distance.type.size))


def _checksum_places(checksum: FrameChecksum | None, length: int) -> set[int]:
    if checksum is None:
        return set()
    size = checksum.kind.size
    at = length - size if checksum.at is None else checksum.at
    return set(range(at, at + size))


def _any_distance(distance: FrameDistance, frames: Sequence[bytes]) -> bool:
    """Whether one of these frames would be taken for a distance by its number alone."""
    for frame in frames:
        try:
            distance.in_frame(frame)
        except LengthError:
            continue
        return True
    return False
