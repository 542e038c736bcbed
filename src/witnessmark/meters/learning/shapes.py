"""Frames that look alike: by their length, their first byte, or their checksum in a stream."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import msgspec

from witnessmark.meters.learning.checks import checksum_of
from witnessmark.meters.learning.samples import Sample, channels

_LEAST, _MOST = 2, 64
_LONGEST_IN_STREAM = 40
_MOST_FRAMES = 12
_MOST_COMBINATIONS = 64


class Shape(msgspec.Struct, frozen=True):
    """Frames of one length on one channel, by the known distance at which they came."""

    channel: str
    frames: tuple[tuple[bytes, ...], ...]

    @property
    def length(self) -> int:
        """The number of bytes of each frame."""
        return len(self.frames[0][0])

    @property
    def all_frames(self) -> list[bytes]:
        """The frames from all distances."""
        return [frame for group in self.frames for frame in group]


def shapes(samples: Sequence[Sample]) -> Iterator[list[Shape]]:
    """Yield ways of telling frames apart, the plainest first; each gives all its shapes."""
    for way in (_by_length, _cut_bursts, _by_first_byte, _in_streams):
        yield [shape for channel in channels(samples) for shape in way(samples, channel)]


def _by_length(samples: Sequence[Sample], channel: str) -> Iterator[Shape]:
    groups = [sample.on(channel) for sample in samples]
    lengths = set.intersection(*({len(frame) for frame in group} for group in groups))
    for length in sorted(lengths):
        yield from _shape(
            channel, [[one for one in group if len(one) == length] for group in groups]
        )


def _cut_bursts(samples: Sequence[Sample], channel: str) -> Iterator[Shape]:
    """Yield the frames of a serial line on which several may come without a pause between."""
    groups = [sample.on(channel) for sample in samples]
    length = math.gcd(*(len(burst) for group in groups for burst in group))
    if channel or length < _LEAST:
        return
    cut = [[frame for burst in group for frame in _cut(burst, length)] for group in groups]
    if len({frame[0] for group in cut for frame in group}) == 1:
        yield from _shape(channel, cut)


def _by_first_byte(samples: Sequence[Sample], channel: str) -> Iterator[Shape]:
    for shape in _by_length(samples, channel):
        firsts = set.intersection(*({frame[0] for frame in group} for group in shape.frames))
        for first in sorted(firsts):
            groups = [[one for one in group if one[0] == first] for group in shape.frames]
            if groups != [list(group) for group in shape.frames]:
                yield from _shape(channel, groups)


def _in_streams(samples: Sequence[Sample], channel: str) -> Iterator[Shape]:
    """Yield frames of a line without pauses: where a first byte recurs and a checksum fits."""
    streams = [b"".join(sample.on(channel)) for sample in samples]
    if channel:
        return
    for length in range(4, min(_LONGEST_IN_STREAM, min(map(len, streams)) // 3) + 1):
        phases = [_phases(stream, length) for stream in streams]
        for first in sorted(set.intersection(*(set(one) for one in phases))):
            choices = itertools.product(*(one[first] for one in phases))
            for starts in itertools.islice(choices, _MOST_COMBINATIONS):
                cut = [
                    _cut(stream[at : at + _MOST_FRAMES * length], length)
                    for stream, at in zip(streams, starts, strict=True)
                ]
                if checksum_of([frame for group in cut for frame in group], set()):
                    yield from _shape(channel, cut)


def _phases(stream: bytes, length: int) -> dict[int, list[int]]:
    """Return by byte the places from which on it recurs every ``length`` places."""
    found: dict[int, list[int]] = {}
    for start in range(length):
        column = set(stream[start::length])
        if len(column) == 1:
            found.setdefault(column.pop(), []).append(start)
    return found


def _cut(data: bytes, length: int) -> list[bytes]:
    return [data[at : at + length] for at in range(0, len(data) - length + 1, length)]


def _shape(channel: str, groups: Sequence[Sequence[bytes]]) -> Iterator[Shape]:
    if all(groups) and _LEAST <= len(groups[0][0]) <= _MOST:
        yield Shape(channel, tuple(tuple(group[:_MOST_FRAMES]) for group in groups))
