"""What a driver gives to learning: a meter's bytes as they come, not decoded at all."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from datetime import datetime
from typing import Protocol, runtime_checkable

import msgspec

from witnessmark.meters.port import Link
from witnessmark.meters.profile import Bluetooth, Request, Serial
from witnessmark.meters.profile_values import Uuid


class RawFrame(msgspec.Struct, frozen=True):
    """Bytes that came together, and when the last of them did (UTC).

    On a serial line they are what came between two pauses of at least 50 ms, and ``channel`` is
    empty; a meter that never pauses brings pieces of 256 bytes or a fifth of a second. Over
    Bluetooth they are one notification, and ``channel`` is the UUID of its characteristic in the
    long form, lower case.
    """

    data: bytes
    at: datetime
    channel: str = ""


class Question(msgspec.Struct, frozen=True):
    """By what a meter is made to measure that waits to be asked, and where that is written."""

    request: Request
    characteristic: Uuid | None = None
    """Over Bluetooth, what takes the request; None: the one characteristic that can be written."""


@runtime_checkable
class OffersRawFrames(Protocol):
    """A driver from whose meters one can learn. It has these beside ``reports``."""

    def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        """Connect, yield ``Link(LinkState.OPEN)``, then frames from all channels as they come.

        Raises:
            MeterUnreachable: when it cannot be opened.
            MeterLost: when it was open and is gone.
        """

    def ask(self, question: Question) -> None:
        """Have the open meter measure; its answer comes among the frames.

        Raises:
            BadInput: when the question cannot be put to this meter, saying what would be right.
        """

    def transport(self, channel: str, question: Question | None = None) -> Serial | Bluetooth:
        """Return the table of a profile that says how frames of this channel are received.

        Raises:
            BadInput: when the question cannot be put to this meter, saying what would be right.
        """
