"""Bytes as they come, cut into lines.

A line ends with CR, LF or both; empty lines are nothing. A line that breaks off, because the meter
fell silent in the middle or the link was lost, is rubbish and never joins what comes next.
"""

from __future__ import annotations

import re

import msgspec

MOST_BYTES = 200
"""Longest line of a meter, bytes; what is longer is no line."""


class Line(msgspec.Struct, frozen=True):
    """One whole line without its line end.

    ``after`` is what a line that broke off left just before this one. Where a slow sender paused in
    mid-line, this line is the rest of that one, so the two have to be looked at together.
    """

    data: bytes
    after: bytes = b""


class Rubbish(msgspec.Struct, frozen=True):
    """Bytes that are no line, with the reason in words."""

    data: bytes
    why: str


class LineSplitter:
    """Cuts a stream into lines; how the stream is chunked makes no difference.

    With ``midway`` the stream is joined in the middle of a line, whose rest is rubbish. Any of the
    bytes ``ends`` ends a line.
    """

    def __init__(self, *, midway: bool = False, ends: bytes = b"\r\n") -> None:
        self._line_end = re.compile(b"[" + re.escape(ends) + b"]")
        self._pending = b""
        self._after = b""
        self._spoiled = "the line began before the port was opened" if midway else ""

    @property
    def begun(self) -> bytes:
        """The line that has begun and not ended."""
        return self._pending

    def feed(self, data: bytes) -> list[Line | Rubbish]:
        """Return the lines, and the rubbish, that these bytes complete."""
        *whole, rest = self._line_end.split(self._pending + data)
        pieces: list[Line | Rubbish] = []
        for part in whole:
            pieces += self._without_overlong(part)
            pieces += self._ended()
        return pieces + self._without_overlong(rest)

    def break_off(self, why: str) -> list[Rubbish]:
        """Give up the line that has begun: nothing more came for a while, or the link is gone."""
        broken = [Rubbish(self._pending, why)] if self._pending else []
        self._after = (self._after + self._pending)[-MOST_BYTES:]
        self._pending, self._spoiled = b"", ""
        return broken

    def _without_overlong(self, part: bytes) -> list[Line | Rubbish]:
        """Keep what may still become a line as pending; what is over-long goes in equal blocks."""
        blocks: list[Line | Rubbish] = []
        while len(part) > MOST_BYTES:
            self._spoiled = self._spoiled or f"over {MOST_BYTES} bytes without a line end"
            blocks.append(Rubbish(part[:MOST_BYTES], self._spoiled))
            part = part[MOST_BYTES:]
        self._pending = part
        return blocks

    def _ended(self) -> list[Line | Rubbish]:
        """Return what the pending bytes are, now that their line end has come."""
        data, after, spoiled = self._pending, self._after, self._spoiled
        self._pending, self._after, self._spoiled = b"", b"", ""
        if not data:
            return []
        return [Rubbish(data, spoiled) if spoiled else Line(data, after)]
