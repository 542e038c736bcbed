"""One binary frame checked and read by a profile, and a stream of bytes cut into such frames."""

from __future__ import annotations

from typing import Final, NamedTuple

from witnessmark.errors import LengthError
from witnessmark.meters.port import MeterSaysNo
from witnessmark.meters.profile import Frame

MOST_PENDING: Final = 4096
"""Bytes without a pause, more than any burst of a meter has."""


class FrameReader:
    """Checks and reads frames."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame

    def is_whole(self, data: bytes) -> bool:
        """Return whether these bytes are a frame by their length, header and checksum."""
        return (
            len(data) == self._frame.length
            and data.startswith(self._frame.header)
            and self._checksum_fits(data)
        )

    def distance_mm(self, data: bytes) -> float:
        """Return the distance that a whole frame holds, mm.

        Raises:
            MeterSaysNo: when its status says that the meter could not measure.
            LengthError: when it holds no distance for another reason.
        """
        for fixed in self._frame.fixed:
            found = data[fixed.at : fixed.at + len(fixed.bytes)]
            if found != fixed.bytes:
                raise LengthError(
                    f"{found.hex(' ')} from byte {fixed.at} on, where this profile knows only "
                    f"{fixed.bytes.hex(' ')}"
                )
        self._check_status(data)
        return self._frame.distance.in_frame(data)

    def _checksum_fits(self, data: bytes) -> bool:
        checksum, at = self._frame.checksum, self._frame.checksum_at
        if checksum is None:
            return True
        expected = checksum.kind.of(data[checksum.covers_from : at])
        return data[at : at + len(expected)] == expected

    def _check_status(self, data: bytes) -> None:
        status = self._frame.status
        if status is None or data[status.at : status.at + 1] in status.ok:
            return
        code = f"{data[status.at]:02x}"
        raise MeterSaysNo(status.faults.get(code) or f"the meter's status is {code}")


class Piece(NamedTuple):
    """Bytes, and why they are no frame; nothing where they are one."""

    data: bytes
    why: str = ""


class BurstSplitter:
    """Believes what comes between two pauses when it is nothing but whole frames."""

    def __init__(self, frame: Frame, *, midway: bool = False) -> None:
        self._length = frame.length
        self._reader = FrameReader(frame)
        self._pending = b""
        self._spoiled = "it began before the meter was opened" if midway else ""

    def feed(self, data: bytes) -> list[Piece]:
        """Return what can be said before the burst has ended: that it is too long."""
        self._pending += data
        if len(self._pending) <= MOST_PENDING:
            return []
        self._spoiled = "bytes come without a pause, so that no frame's beginning can be found"
        rubbish, self._pending = self._pending, b""
        return [Piece(rubbish, self._spoiled)]

    def pause(self) -> list[Piece]:
        """Return the frames of the burst, or all of it as rubbish."""
        burst, spoiled = self._pending, self._spoiled
        self._pending, self._spoiled = b"", ""
        if not burst:
            return []
        starts = range(0, len(burst), self._length)
        frames = [burst[start : start + self._length] for start in starts]
        if not spoiled and all(self._reader.is_whole(frame) for frame in frames):
            return [Piece(frame) for frame in frames]
        return [Piece(burst, spoiled or "not whole frames as the profile has them")]


class StreamSplitter:
    """Finds frames by header and checksum in any stream.

    A frame counts once a pause or the next header has followed it: then the end of one frame and
    the beginning of another, joined by lost bytes, do not pass even where a short checksum happens
    to fit.
    """

    def __init__(self, frame: Frame) -> None:
        self._length = frame.length
        self._header = frame.header
        self._reader = FrameReader(frame)
        self._pending = b""
        self._skipped = b""

    def feed(self, data: bytes) -> list[Piece]:
        """Return the frames that are followed by another, and the rubbish before each."""
        self._pending += data
        return self._cut(self._length + len(self._header))

    def pause(self) -> list[Piece]:
        """Return the last frame, and the rubbish that is left."""
        pieces = self._cut(self._length)
        rubbish, self._pending, self._skipped = self._skipped + self._pending, b"", b""
        return pieces + ([Piece(rubbish, "not a whole frame")] if rubbish else [])

    def _cut(self, enough: int) -> list[Piece]:
        pieces: list[Piece] = []
        while len(self._pending) >= enough:
            if self._begins_with_frame():
                pieces += self._rubbish()
                pieces.append(Piece(self._pending[: self._length]))
                self._pending = self._pending[self._length :]
            else:
                self._skip()
                pieces += self._rubbish() if len(self._skipped) >= MOST_PENDING else []
        return pieces

    def _begins_with_frame(self) -> bool:
        rest = self._pending[self._length :]
        follows = rest[: len(self._header)] == self._header[: len(rest)]
        return follows and self._reader.is_whole(self._pending[: self._length])

    def _skip(self) -> None:
        """Skip to the next byte that may begin a header."""
        at = self._pending.find(self._header[:1], 1)
        at = len(self._pending) if at < 0 else at
        self._skipped += self._pending[:at]
        self._pending = self._pending[at:]

    def _rubbish(self) -> list[Piece]:
        rubbish, self._skipped = self._skipped, b""
        return [Piece(rubbish, "not a whole frame")] if rubbish else []
