"""Text that comes in notifications: lines, or whole values without a line end.

What notifications bring is whole and in order, because the link sees to it; but a meter may cut a
line over several of them wherever it likes. So a text without a line end counts only when it ends
in a unit, and only once nothing, or something else, has followed it.
"""

from __future__ import annotations

import re
from datetime import datetime

from witnessmark.meters.framing import Line, LineSplitter, Rubbish
from witnessmark.meters.port import Fault, Noise
from witnessmark.meters.text import LineReader
from witnessmark.model import Reading

_LINE_END = re.compile(rb"[\r\n]")
_DIGIT_LAST = re.compile(rb"[0-9]\s*\Z")
_NOT_TEXT = "these bytes are not text; a profile may know them: ?profile=NAME"


class TextDecoder:
    """Makes reports of what one characteristic notifies over one link."""

    def __init__(self, meter: str, unit: str | None) -> None:
        self._meter = meter
        self._reader = LineReader(meter, unit)
        self._splitter = LineSplitter()
        self._begun_at: datetime | None = None
        self._ends_lines = False
        self._sends_values = False

    @property
    def waits(self) -> bool:
        """True while a text that has begun may still go on."""
        return bool(self._splitter.begun)

    def feed(self, data: bytes, at: datetime) -> list[Reading | Fault | Noise]:
        """Return what a notification completes; one that is not text all through means nothing."""
        if data.endswith(b"\0"):
            data = data.rstrip(b"\0") + b"\n"
        if not _is_text(data):
            broken = self.break_off("the text broke off", at)
            return [*broken, Noise(_NOT_TEXT, at, self._meter, data)]
        before = [] if _LINE_END.match(data) else self._value()
        self._ends_lines |= _LINE_END.search(data) is not None
        reports = [self._report(piece, at) for piece in self._splitter.feed(data)]
        self._begun_at = at
        return before + reports + (self._value() if self._sends_values else [])

    def break_off(self, why: str, at: datetime) -> list[Reading | Fault | Noise]:
        """Return the text that had begun, as nothing more came for a while or the link is gone."""
        return self._value() or [self._report(piece, at) for piece in self._splitter.break_off(why)]

    def _value(self) -> list[Reading | Fault | Noise]:
        """Take out the text that has begun as a reading, if it is one by itself."""
        data, at = self._splitter.begun, self._begun_at
        if at is None or self._ends_lines or _DIGIT_LAST.search(data):
            return []
        report = self._report(Line(data), at)
        if not isinstance(report, Reading):
            return []
        self._splitter, self._sends_values = LineSplitter(), True
        return [report]

    def _report(self, piece: Line | Rubbish, at: datetime) -> Reading | Fault | Noise:
        return self._reader.report(piece, at)


def _is_text(data: bytes) -> bool:
    try:
        text = data.decode()
    except UnicodeDecodeError:
        return False
    return all(sign.isprintable() or sign in "\r\n\t" for sign in text)
