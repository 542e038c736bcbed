"""Distances as numbers in lines of text: every number in a line is tried, in every unit.

A number may be written in several ways that all explain the bytes (``189,9 cm`` is also 189 with
something behind it), so that all ways are tried and ``readable`` decides between them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from fractions import Fraction
from typing import Final

import msgspec

from witnessmark.lengths import UNIT_MM
from witnessmark.meters.decoding import LineDecoder
from witnessmark.meters.framing import Line
from witnessmark.meters.learning.checks import checked_lines
from witnessmark.meters.learning.fields import (
    TextField,
    Tokens,
    line_pattern,
    number_fields,
    tokens_of,
)
from witnessmark.meters.learning.fitting import (
    COMMON_UNITS,
    FRACTION_UNITS,
    WHOLE_NUMBER_UNITS,
    Candidate,
    Fit,
    Known,
)
from witnessmark.meters.learning.parts import LineCandidate, without_parts
from witnessmark.meters.learning.samples import Sample, bursts, channels
from witnessmark.meters.learning.styles import Style, styles_for
from witnessmark.meters.profile import Profile, Text, TextChecksum
from witnessmark.meters.profile_values import LineEnds, Pattern, Scale, Thousands, Unit
from witnessmark.meters.text import decoded, report_line
from witnessmark.model import Reading
from witnessmark.sentences import visible

_LINE_ENDS: Final = "\r\n"
_NO_END = re.compile(rb"[0-9A-Za-z.,+ -]|[^\0-\x7f]")
_PLAIN_UNITS = (None, "m", "cm", "mm", "in", "ft")
_NO_TIME = datetime(2000, 1, 1, tzinfo=UTC)
_BELOW_THOUSAND_MM: Final = 1000.0


class _ChannelLines(msgspec.Struct, frozen=True):
    """The lines on one channel, by the known distance at which they came."""

    channel: str
    ends: str
    groups: tuple[tuple[bytes, ...], ...]
    checksum: TextChecksum | None = None
    """What their ends were, which are taken off."""
    may_be_chance: bool = False

    @property
    def texts(self) -> list[str]:
        """All lines."""
        return [decoded(line) for group in self.groups for line in group]


def line_candidates(samples: Sequence[Sample], known: Known) -> list[Candidate]:
    """Return the decodings of text that explain every reading.

    A line that is read without any pattern is left at that, save where its comma may also part
    thousands.
    """
    heard = [lines for channel in channels(samples) for lines in _lines(samples, channel)]
    plain = [one for lines in heard for one in _plain(lines, known)]
    if plain and not any(re.search("[0-9][.,'][0-9]", text) for one in plain for text in one.texts):
        return [one.candidate for one in plain]
    by_field = [one for lines in heard for one in _by_field(_checked(lines), known)]
    found = without_parts([*plain, *by_field])
    if any(one in plain for one in found):
        return [one.candidate for one in found if one.is_grouped or one in plain]
    return [one.candidate for one in found]


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
    """Return what came between pauses over which no line goes on."""
    frames = [frame for frame in sample.frames if frame.channel == channel]
    return [b"".join(one.data for one in burst) for burst in bursts(frames, LineDecoder.pause_s)]


def _ends(frames: Sequence[bytes]) -> str:
    """Return the signs that end lines; none where frames simply end."""
    if any(sign in frame for frame in frames for sign in _LINE_ENDS.encode()):
        return _LINE_ENDS
    last = {frame[-1:] for frame in frames}
    (only,) = last if len(last) == 1 else (b"",)
    return only.decode() if only and not _NO_END.fullmatch(only) else ""


def _is_text(line: bytes) -> bool:
    """Return whether all signs are printable, save perhaps one before the line that begins it."""
    text = decoded(line)
    return text[1:].replace("\t", " ").isprintable() and (text[0] < " " or text[0].isprintable())


def _checked(lines: _ChannelLines) -> _ChannelLines:
    """Return the lines without their checksums, where they end with some."""
    checked = checked_lines(lines.groups)
    if checked is None:
        return lines
    return msgspec.structs.replace(
        lines,
        groups=checked.groups,
        checksum=checked.checksum,
        may_be_chance=checked.may_be_chance,
    )


def _plain(lines: _ChannelLines, known: Known) -> Iterator[LineCandidate]:
    """Yield lines that are read without a pattern."""
    if lines.ends != _LINE_ENDS:
        return
    for unit in _PLAIN_UNITS:
        groups = [[_plain_mm(line, unit) for line in group] for group in lines.groups]
        numbers = [[mm for mm in group if mm is not None] for group in groups]
        if all(numbers):
            read = tuple(
                tuple(line for line in group if _plain_mm(line, unit) is not None)
                for group in lines.groups
            )
            readable = msgspec.structs.replace(lines, groups=read)
            for fit in known.fits(numbers, [("mm", 1.0)], 0):
                spans = [_number_span(text) for text in readable.texts]
                text = Text(unit=None if unit is None else Unit(unit))
                step_mm = _plain_step_mm(readable.texts, unit)
                yield _candidate(readable, spans, step_mm, fit, text, fields=0)
                return


def _plain_mm(line: bytes, unit: str | None) -> Fraction | None:
    outcome = report_line(Line(line), at=_NO_TIME, meter="", unit=unit)
    return Fraction(outcome.distance_mm) if isinstance(outcome, Reading) else None


def _number_span(text: str) -> tuple[int, int]:
    match = re.search(r"[0-9].*[0-9]|[0-9]", text)
    return match.span() if match else (0, len(text))


def _plain_step_mm(texts: Sequence[str], unit: str | None) -> float:
    """Return what one in the last place is worth; 0 where lines are not a number and a unit."""
    steps = []
    for text in texts:
        match = re.fullmatch(r"\W*[0-9]+(?:[.,]([0-9]+))?\s*([A-Za-z]*)\W*", text)
        said = UNIT_MM.get((match[2] or unit or "").lower()) if match else None
        if match is None or said is None:
            return 0.0
        steps.append(float(said) * 10.0 ** -len(match[1] or ""))
    return min(steps)


def _by_field(lines: _ChannelLines, known: Known) -> Iterator[LineCandidate]:
    """Yield lines of one build, one of whose numbers is the distance, written in any style."""
    for style in styles_for(lines.texts):
        cut = [[tokens_of(decoded(line), style) for line in group] for group in lines.groups]
        builds = set.intersection(*({one.build for one in group} for group in cut))
        for build in sorted(builds):
            alike = [[one for one in group if one.build == build] for group in cut]
            chosen = _of_build(lines, style, build)
            for field in number_fields(alike, style):
                if style.is_needed(field.every_value):
                    yield from _fitting(chosen, alike, field, known)


def _of_build(lines: _ChannelLines, style: Style, build: tuple[str, ...]) -> _ChannelLines:
    groups = tuple(
        tuple(line for line in group if tokens_of(decoded(line), style).build == build)
        for group in lines.groups
    )
    return msgspec.structs.replace(lines, groups=groups)


def _fitting(
    lines: _ChannelLines, alike: Sequence[Sequence[Tokens]], field: TextField, known: Known
) -> Iterator[LineCandidate]:
    style, values = field.style, field.every_value
    units = FRACTION_UNITS if style.has_decimals(values) else WHOLE_NUMBER_UNITS
    said = field.unit
    if said is not None:
        units = tuple(one for one in units if UNIT_MM[one[0]] == UNIT_MM[said] and one[1] == 1)
    step = float(style.step(values))
    pattern = line_pattern([one for group in alike for one in group], field)
    if lines.checksum:
        pattern += rf"[0-9A-Fa-f]{{{lines.checksum.digits}}}\s*"
    for fit in known.fits(field.numbers, units, step):
        text = Text(
            pattern=Pattern(pattern),
            unit=Unit(fit.unit),
            scale=Scale(fit.scale),
            ends=LineEnds(lines.ends),
            thousands=Thousands(style.thousands),
            hexadecimal=style.hexadecimal,
            checksum=lines.checksum,
        )
        fields = len(alike[0][0].fields)
        yield _candidate(lines, field.spans, step * fit.step_mm, fit, text, fields)


def _candidate(
    lines: _ChannelLines,
    spans: Sequence[tuple[int, int]],
    step_mm: float,
    fit: Fit,
    text: Text,
    fields: int,
) -> LineCandidate:
    texts = lines.texts
    begin, end = spans[0]
    candidate = Candidate(
        channel=lines.channel,
        shape=texts[0],
        place=frozenset(range(begin, end)),
        step_mm=step_mm,
        found_mm=fit.found_mm,
        misfit_mm=fit.misfit_mm,
        profile=lambda _failed: Profile(text=text),
        words=visible(
            f'"{texts[0][begin:end]}" of "{texts[0].strip()}", in {text.unit or "its unit"}'
        ),
        is_rare=lines.may_be_chance or _is_rare(text),
        tells_below_mm=_BELOW_THOUSAND_MM if text.thousands else None,
    )
    return LineCandidate(
        candidate,
        tuple(texts),
        tuple(spans),
        fields,
        is_grouped=bool(text.thousands),
    )


def _is_rare(text: Text) -> bool:
    """Return whether few meters write so, so that two readings may fit by chance."""
    return text.hexadecimal or (
        float(text.scale) != 1.0 and (text.unit, text.scale) not in COMMON_UNITS
    )
