"""A profile at work: bytes go in as they come, readings, faults and noise come out.

A decoder knows no transport. Whoever feeds it says where the stream pauses: on a serial line after
``pause_s`` without a byte, over Bluetooth after each notification. It never raises on what a meter
sends, and what it cannot explain from the first byte to the last is noise.
"""

from __future__ import annotations

import abc
from collections.abc import Callable
from datetime import datetime
from fractions import Fraction
from typing import ClassVar

from msgspec import UNSET

from witnessmark.errors import LengthError
from witnessmark.meters.frame_reading import BurstSplitter, FrameReader, Piece, StreamSplitter
from witnessmark.meters.framing import MOST_BYTES, Line, LineSplitter, Rubbish
from witnessmark.meters.port import Fault, MeterSaysNo, Noise
from witnessmark.meters.profile import Frame, Profile, Text
from witnessmark.meters.text import PatternReader, decoded, report_line
from witnessmark.model import Reading

_NO_UNIT = (
    '"{bare}" has no unit, and the profile names none; teach the meter again, or write the unit '
    'into the profile: [text] unit = "mm", "cm", "m", "in" or "ft"'
)

Outcome = Reading | Fault | Noise
"""What bytes come to."""


class Decoder(abc.ABC):
    """Makes outcomes of a meter's bytes. It keeps what has begun and not ended."""

    pause_s: ClassVar[float] = 0.05
    """How long no byte has to come for the stream to have paused."""

    def __init__(self, meter: str) -> None:
        self._meter = meter

    @abc.abstractmethod
    def feed(self, data: bytes, at: datetime) -> list[Outcome]:
        """Return the outcomes that these bytes, which came at ``at``, complete."""

    @abc.abstractmethod
    def pause(self, at: datetime) -> list[Outcome]:
        """Return the outcomes that a pause, or the end of a packet, completes."""

    def lost(self, at: datetime) -> list[Outcome]:
        """Return the outcomes that a lost link completes; it may have cut something off."""
        return self.pause(at)

    def packet(self, data: bytes, at: datetime) -> list[Outcome]:
        """Return the outcomes of bytes that came as one packet."""
        return self.feed(data, at) + self.pause(at)

    def _outcome(self, read_mm: Callable[[bytes], float], data: bytes, at: datetime) -> Outcome:
        try:
            return Reading(read_mm(data), at, self._meter, data)
        except MeterSaysNo as error:
            return Fault(str(error), at, self._meter, data)
        except LengthError as error:
            return Noise(str(error), at, self._meter, data)


def decoder_for(profile: Profile, meter: str, *, midway: bool = False) -> Decoder:
    """Return the decoder of a profile with ``[text]`` or ``[frame]``.

    Args:
        profile: how the bytes are to be read.
        meter: the meter's address, for the outcomes.
        midway: the stream is joined in the middle of something, whose rest is noise.

    Raises:
        ValueError: for a Modbus profile, whose registers come only when asked for.
    """
    if profile.frame:
        return FrameDecoder(profile.frame, meter, midway=midway)
    if not profile.text:
        raise ValueError("Modbus registers are not a stream of bytes")
    if profile.text.ends:
        return LineDecoder(profile.text, meter, midway=midway)
    return BurstTextDecoder(profile.text, meter, midway=midway)


class FrameDecoder(Decoder):
    """Reads binary frames."""

    def __init__(self, frame: Frame, meter: str, *, midway: bool = False) -> None:
        super().__init__(meter)
        self._reader = FrameReader(frame)
        findable = frame.header and frame.checksum
        self._splitter = StreamSplitter(frame) if findable else BurstSplitter(frame, midway=midway)

    def feed(self, data: bytes, at: datetime) -> list[Outcome]:
        """Return the outcomes of frames that are known to be whole already."""
        return [self._read(piece, at) for piece in self._splitter.feed(data)]

    def pause(self, at: datetime) -> list[Outcome]:
        """Return the outcomes of the frames, or the rubbish, that ended with the pause."""
        return [self._read(piece, at) for piece in self._splitter.pause()]

    def _read(self, piece: Piece, at: datetime) -> Outcome:
        if piece.why:
            return Noise(piece.why, at, self._meter, piece.data)
        return self._outcome(self._reader.distance_mm, piece.data, at)


class TextDecoder(Decoder):
    """Reads lines of text, by the profile's pattern where it has one."""

    def __init__(self, text: Text, meter: str) -> None:
        super().__init__(meter)
        self._text = text
        self._pattern = PatternReader(text, text.pattern) if text.pattern else None

    def _read(self, piece: Line | Rubbish, at: datetime) -> Outcome:
        if isinstance(piece, Rubbish):
            return Noise(piece.why, at, self._meter, piece.data)
        outcome = self._read_line(piece.data, at)
        if piece.after and not isinstance(self._read_line(piece.after + piece.data, at), Noise):
            return Noise("may be the rest of a broken line", at, self._meter, piece.data)
        return outcome

    def _read_line(self, data: bytes, at: datetime) -> Outcome:
        if pattern := self._pattern:
            return self._outcome(lambda line: pattern.distance_mm(line, at), data, at)
        if words := self._text.faults.get(decoded(data).strip()):
            return Fault(words, at, self._meter, data)
        outcome = report_line(Line(data), at=at, meter=self._meter, unit=self._text.unit)
        if isinstance(outcome, Noise) and outcome.bare is not UNSET:
            return Noise(_NO_UNIT.format(bare=outcome.bare), at, self._meter, data)
        if not isinstance(outcome, Reading):
            return outcome
        mm = Fraction(outcome.distance_mm)
        return self._outcome(lambda _data: self._text.believed_mm(mm), data, at)


class LineDecoder(TextDecoder):
    """Reads text whose lines end with a sign."""

    pause_s = 0.5

    def __init__(self, text: Text, meter: str, *, midway: bool = False) -> None:
        super().__init__(text, meter)
        self._splitter = LineSplitter(midway=midway, ends=text.ends.encode())

    def feed(self, data: bytes, at: datetime) -> list[Outcome]:
        """Return the outcomes of the lines that end here."""
        return [self._read(piece, at) for piece in self._splitter.feed(data)]

    def pause(self, at: datetime) -> list[Outcome]:
        """Give up the line that has begun."""
        return [self._read(piece, at) for piece in self._splitter.break_off("the line broke off")]

    def packet(self, data: bytes, at: datetime) -> list[Outcome]:
        """Return the outcomes of the lines that end here: a line may go on in the next packet."""
        return self.feed(data, at)


class BurstTextDecoder(TextDecoder):
    """Reads text without line ends: what comes between two pauses is a line."""

    def __init__(self, text: Text, meter: str, *, midway: bool = False) -> None:
        super().__init__(text, meter)
        self._pending = b""
        self._spoiled = "it began before the meter was opened" if midway else ""

    def feed(self, data: bytes, at: datetime) -> list[Outcome]:
        """Return noise once there is more than any line has."""
        self._pending += data
        if len(self._pending) <= MOST_BYTES:
            return []
        self._spoiled = f"over {MOST_BYTES} bytes without a pause"
        rubbish, self._pending = self._pending, b""
        return [Noise(self._spoiled, at, self._meter, rubbish)]

    def lost(self, at: datetime) -> list[Outcome]:
        """Return noise, because only a pause says that a line is whole."""
        self._spoiled = self._spoiled or "the link was lost before a pause"
        return self.pause(at)

    def pause(self, at: datetime) -> list[Outcome]:
        """Return the outcome of what came since the last pause."""
        data, spoiled = self._pending, self._spoiled
        self._pending, self._spoiled = b"", ""
        if not data:
            return []
        return [self._read(Rubbish(data, spoiled) if spoiled else Line(data), at)]
