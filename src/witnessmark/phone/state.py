"""All that the page shows, as one record: distances and what to do with them, nothing else.

The page has no words of its own; those that it needs when nothing reaches it are sent beforehand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import msgspec

from witnessmark.drawing.levels import DRAWN_LETTERS, skyline
from witnessmark.drawing.marking import over
from witnessmark.drawing.shot import asked_marks, asked_picture, letters_mm
from witnessmark.drawing.standing import standing_plan
from witnessmark.drawing.svg import svg
from witnessmark.errors import BadInput
from witnessmark.lengths import format_length
from witnessmark.model import Act, Onward, Setup, Side
from witnessmark.phone.meter import MeterSeen
from witnessmark.placing.figures import MARKS, FigureTable, tables
from witnessmark.placing.guidance import Guidance
from witnessmark.sentences import sentence
from witnessmark.words.live import Said, say
from witnessmark.words.next_shot import MISSING, NextShotWords, next_shot_words
from witnessmark.words.phone import PageWords
from witnessmark.words.spoken import Spoken, spoken

_DECISIONS = (Act.SKIP, Act.BACK, Act.UNDO, Act.HOLD)
_ANSWERS = (Act.KEEP, Act.THERE, Act.DROP, Act.ENOUGH)
ACTS = (*_DECISIONS, *_ANSWERS, *Onward)
"""All that can be decided from a phone."""
_ARROWS = "←→↑↓↔↺↻"


class ActWords(NamedTuple):
    """How a decision is called, and what it does in a sentence."""

    label: str
    explained: str


class Button(msgspec.Struct, frozen=True):
    """A decision; ``offered`` when it makes sense now, ``on`` while what it began goes on."""

    act: str
    """One of ``ACTS``."""
    label: str
    explained: str
    offered: bool
    on: bool = False


class MeterWords(msgspec.Struct, frozen=True):
    """The state of the meter and its last reading, as the phone shows them."""

    link: str
    last: str


class WatchSeen(msgspec.Struct, frozen=True):
    """How far a point has come that is watched: what it read at first, reads now, and when to stop.

    ``made`` is the part of the way that is made: 0 at the start, 1 at the stop, more past it.
    """

    start: str
    now: str
    stop: str
    made: float


class PhoneState(msgspec.Struct, frozen=True):
    """What a phone shows."""

    cabinet: str
    """Which cabinet it is about, or both."""
    side: Side | None
    """The same, None when it is about both."""
    arrow: str
    """The direction of the nudge or shot, where there is one."""
    figure: str
    """The few large characters, without cabinet and arrow."""
    sentence: str
    picture: str
    """The shot that is asked for, as an SVG element; empty when all is done."""
    shot: NextShotWords | None
    """The shot to take next, or the one to keep shooting; None when there is nothing left to do."""
    spoken: Spoken
    """What is said aloud, once that is allowed."""
    details: tuple[str, ...]
    tables: tuple[FigureTable, ...]
    unit: str
    """What the bare figures of lengths are in; none for feet and inches, which have marks."""
    plan: str
    """An SVG element."""
    walk: str
    """The walk foreseen, as an SVG element; empty where it cannot be, or is not worked out yet."""
    watch: WatchSeen | None
    """None while nothing is watched."""
    meter: MeterWords
    decisions: tuple[Button, ...]
    """Those that are always there."""
    answers: tuple[Button, ...]
    """Those to a questioned reading, that a cabinet is good enough, and what to do at the end."""
    marks: dict[str, str]
    """The sign of each verdict."""
    words: PageWords

    @property
    def offered(self) -> frozenset[str]:
        """What may be decided now, of ``ACTS``."""
        return frozenset(one.act for one in (*self.decisions, *self.answers) if one.offered)


def phone_state(
    guidance: Guidance, meter: MeterSeen, acts: Mapping[Act | Onward, ActWords], walk: str = ""
) -> PhoneState:
    """Return what a phone shows of the guidance, in the setup's units.

    ``acts`` names ``ACTS``; ``walk`` is what ``walk_picture`` returned of this setup.
    """
    setup, said = guidance.setup, say(guidance, meter.missing)
    side, arrow, figure = _parts(said.headline.figure)
    if meter.missing is not None:  # what is worked on stays what it was
        side, *_ = _parts(say(guidance).headline.figure)
    decisions = tuple(_button(guidance, act, acts[act]) for act in _DECISIONS)
    answers = tuple(_button(guidance, act, acts[act]) for act in (*_ANSWERS, *Onward))
    return PhoneState(
        cabinet=f"{side} cabinet" if side else "both cabinets",
        side=side,
        arrow=arrow,
        figure=figure,
        sentence=said.headline.words,
        picture=_picture(guidance),
        shot=next_shot_words(guidance),
        spoken=_aloud(guidance, meter),
        details=tuple(_details(guidance, said)),
        tables=tables(guidance),
        unit="mm" if setup.units.is_metric else "",
        plan=_plan(guidance),
        walk=walk,
        watch=_watch_seen(guidance),
        meter=_meter_words(setup, meter),
        decisions=decisions,
        answers=tuple(answer for answer in answers if answer.offered),
        marks={str(verdict): mark for verdict, mark in MARKS.items()},
        words=PageWords(),
    )


def walk_picture(setup: Setup) -> str:
    """Return the walk foreseen as an SVG element; empty where it cannot be foreseen."""
    # numpy, which a page without a walk does not need
    from witnessmark.acoustics.foresight import (  # noqa: PLC0415
        FREQUENCIES_HZ,
        Furnishing,
        absorptions,
    )
    from witnessmark.listening.foreseen import ForeseenWalk  # noqa: PLC0415

    try:
        walk = ForeseenWalk(setup, absorptions(Furnishing.FURNISHED))
    except BadInput:
        return ""
    row = walk.spreads[len(walk.spreads) // 2]
    labels = [
        f"{place}: {format_length(one.setback_mm, setup.units)}"
        for place, one in enumerate(row.positions, 1)
    ]
    levels = [one.levels.pair.tolist() for one in row.positions]
    return svg(*skyline(labels, FREQUENCIES_HZ.tolist(), levels), letters_mm=DRAWN_LETTERS)


def _details(guidance: Guidance, said: Said) -> Iterator[str]:
    """Yield what stands below the sentence: a caution first, but for how to answer a question."""
    if guidance.question is not None:
        yield from said.details
    if said.caution:
        yield said.caution
    if guidance.question is None:
        yield from said.details


def _aloud(guidance: Guidance, meter: MeterSeen) -> Spoken:
    """Return what is said: of a meter in trouble first, as nothing else helps then."""
    if meter.missing is not None:
        return Spoken.of(sentence(MISSING))
    said = spoken(guidance)
    return Spoken.of(f"{sentence(meter.trouble)} {said.words}") if meter.trouble else said


def _parts(figure: str) -> tuple[Side | None, str, str]:
    """Return which cabinet a headline's figure is about, its arrow, and the rest; None for both."""
    first, _, others = figure.partition(" ")
    side = next((side for side in Side if first in (side[0].upper(), side.upper())), None)
    rest = others if len(first) == 1 else figure
    arrow = next((sign for sign in rest if sign in _ARROWS), "")
    return side, arrow, rest.strip(f"{arrow} ")


def _plan(guidance: Guidance) -> str:
    drawing, view = standing_plan(guidance.setup, guidance.cabinets)
    return svg(over(drawing, asked_marks(guidance)), view)


def _picture(guidance: Guidance) -> str:
    picture = asked_picture(guidance)
    return svg(*picture, letters_mm=letters_mm(guidance.work.cabinet)) if picture else ""


def _watch_seen(guidance: Guidance) -> WatchSeen | None:
    watch, held = guidance.watch, guidance.held
    if watch is None or held is None:
        return None
    lengths = (watch.start_mm, held.reading_mm, watch.stop_mm)
    start, now, stop = (format_length(length, guidance.setup.units) for length in lengths)
    return WatchSeen(start, now, stop, round(watch.made(held.reading_mm), 3))


def _button(guidance: Guidance, act: Act | Onward, words: ActWords) -> Button:
    on = act is Act.HOLD and guidance.hold
    is_offered = act in guidance.offered or act in guidance.onward
    return Button(act, words.label, words.explained, is_offered, on)


def _meter_words(setup: Setup, meter: MeterSeen) -> MeterWords:
    if meter.trouble or meter.last_mm is None:
        return MeterWords(meter.link_words, meter.trouble)
    return MeterWords(meter.link_words, format_length(meter.last_mm, setup.units.finer))
