"""Distances as numbers in lines of text: every number in a line is tried, in every unit."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from fractions import Fraction
from typing import Final

import msgspec

from witnessmark.lengths import UNIT_MM
from witnessmark.meters.decoding import LineDecoder
from witnessmark.meters.framing import Line
from witnessmark.meters.learning.fields import (
    TextField,
    Tokens,
    line_pattern,
    number_fields,
    tokens_of,
)
from witnessmark.meters.learning.fitting import (
    FRACTION_UNITS,
    WHOLE_NUMBER_UNITS,
    Candidate,
    Fit,
    Known,
)
from witnessmark.meters.learning.samples import Sample, bursts, channels
from witnessmark.meters.profile import Profile, Text
from witnessmark.meters.profile_values import LineEnds, Pattern, Scale, Unit
from witnessmark.meters.text import decoded, report_line
from witnessmark.model import Reading

_LINE_ENDS: Final = "\r\n"
_NO_END = re.compile(rb"[0-9A-Za-z.,+ -]|[^\0-\x7f]")
_PLAIN_UNITS = (None, "m", "cm", "mm", "in", "ft")
_NO_TIME = datetime(2000, 1, 1, tzinfo=UTC)


class _ChannelLines(msgspec.Struct, frozen=True):
    """The lines on one channel, by the known distance at which they came."""

    channel: str
    ends: str
    groups: tuple[tuple[bytes, ...], ...]


def line_candidates(samples: Sequence[Sample], known: Known) -> list[Candidate]:
    """Return the decodings of text that explain every reading.

    A line that is read without any pattern is left at that; a comma is tried as a decimal mark
    where no dot is one.
    """
    heard = [lines for channel in channels(samples) for lines in _lines(samples, channel)]
    ways: tuple[Callable[[_ChannelLines, Known], Iterator[Candidate]], ...] = (
        _plain,
        functools.partial(_by_field, mark="."),
        functools.partial(_by_field, mark=","),
    )
    for way in ways:
        if found := [candidate for lines in heard for candidate in way(lines, known)]:
            return found
    return []


def _lines(samples: Sequence[Sample], channel: str) -> Iterator[_ChannelLines]:
    groups = [sample.on(channel) for sample in samples]
    ends = _ends([frame for group in groups for frame in group])
    if ends:
        cut = re.compile(b"[" + re.escape(ends.encode()) + b"]")
        parts = [
            [line for burst in _bursts(sample, channel) for line in cut.split(burst)[:-1]]
            for sample in samples
        ]
    else:
        parts = groups
    lines = tuple(tuple(one for one in group if one.strip()) for group in parts)
    if all(lines) and all(_is_text(one) for group in lines for one in group):
        yield _ChannelLines(channel, ends, lines)


def _bursts(sample: Sample, channel: str) -> list[bytes]:
    """What came between pauses over which no line goes on."""
    frames = [frame for frame in sample.frames if frame.channel == channel]
    return [b"".join(one.data for one in burst) for burst in bursts(frames, LineDecoder.pause_s)]


def _ends(frames: Sequence[bytes]) -> str:
    """The signs that end lines; none where frames simply end."""
    if any(sign in frame for frame in frames for sign in _LINE_ENDS.encode()):
        return _LINE_ENDS
    last = {frame[-1:] for frame in frames}
    (only,) = last if len(last) == 1 else (b"",)
    return only.decode() if only and not _NO_END.fullmatch(only) else ""


def _is_text(line: bytes) -> bool:
    """Whether all signs are printable, save perhaps one before the line that begins it."""
    text = decoded(line)
    return text[1:].replace("\t", " ").isprintable() and (text[0] < " " or text[0].isprintable())


def _plain(lines: _ChannelLines, known: Known) -> Iterator[Candidate]:
    """Lines that are read without a pattern."""
    if lines.ends != _LINE_ENDS:
        return
    for unit in _PLAIN_UNITS:
        groups = [[_plain_mm(line, unit) for line in group] for group in lines.groups]
        numbers = [[mm for mm in group if mm is not None] for group in groups]
        if all(numbers):
            for fit in known.fits(numbers, [("mm", 1.0)], 0):
                text = Text(unit=None if unit is None else Unit(unit))
                yield _candidate(lines, "a plain line", frozenset({0}), 0, fit, text)
                return


def _plain_mm(line: bytes, unit: str | None) -> Fraction | None:
    outcome = report_line(Line(line), at=_NO_TIME, meter="", unit=unit)
    return Fraction(outcome.distance_mm) if isinstance(outcome, Reading) else None


def _by_field(lines: _ChannelLines, known: Known, mark: str) -> Iterator[Candidate]:
    """Lines of one build, one of whose numbers is the distance."""
    cut = [[tokens_of(decoded(line), mark) for line in group] for group in lines.groups]
    builds = set.intersection(*({one.build for one in group} for group in cut))
    for build in sorted(builds):
        alike = [[one for one in group if one.build == build] for group in cut]
        for field in number_fields(alike, mark):
            yield from _fitting(lines, alike, field, known)


def _fitting(
    lines: _ChannelLines, alike: Sequence[Sequence[Tokens]], field: TextField, known: Known
) -> Iterator[Candidate]:
    has_decimals = field.decimals[1] > 0
    units = FRACTION_UNITS if has_decimals else WHOLE_NUMBER_UNITS
    said = field.unit
    if said is not None:
        units = tuple(one for one in units if UNIT_MM[one[0]] == UNIT_MM[said] and one[1] == 1)
    step = 10.0 ** -field.decimals[1]
    for fit in known.fits(field.numbers, units, step):
        text = Text(
            pattern=Pattern(line_pattern([one for group in alike for one in group], field)),
            unit=Unit(fit.unit),
            scale=Scale(fit.scale),
            ends=LineEnds(lines.ends),
        )
        yield _candidate(lines, f"{alike[0][0].build}", frozenset({field.index}), step, fit, text)


def _candidate(
    lines: _ChannelLines, shape: str, place: frozenset[int], step: float, fit: Fit, text: Text
) -> Candidate:
    return Candidate(
        channel=lines.channel,
        shape=shape,
        place=place,
        step_mm=step * fit.step_mm,
        found_mm=fit.found_mm,
        misfit_mm=fit.misfit_mm,
        profile=lambda _failed: Profile(text=text),
    )
