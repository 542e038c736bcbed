"""The report of an evening: what was tried and heard, the grades drawn, and what was kept."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from witnessmark.acoustics.foresight import Foresight, Furnishing, absorptions
from witnessmark.errors import BadInput
from witnessmark.lengths import format_known
from witnessmark.listening.association import associations
from witnessmark.listening.chart import Against, grade_chart
from witnessmark.listening.judging import judged, struck_keys
from witnessmark.listening.names import trial_names
from witnessmark.listening.ranking import best_so_far, rank
from witnessmark.locate.symmetry import Symmetry, symmetry
from witnessmark.model import OF_CABINET, Mark, Preference, Quantity, Setup, Side, Struck, Trial
from witnessmark.report.blocks import Block, GradeCharts, Heading, Paragraph, Table
from witnessmark.report.flow import SheetFrame, flow
from witnessmark.report.mark import degrees, standing
from witnessmark.report.page import Page, Paper
from witnessmark.sentences import sentence
from witnessmark.store.records import K, Kept
from witnessmark.words.alike import other_side_words, symmetry_words
from witnessmark.words.foresight import association_sentences
from witnessmark.words.history import enough_words, stood_words
from witnessmark.words.listening import best_words, judged_words, ranking_words
from witnessmark.words.tilt import tilt_symmetry_words

_APART = timedelta(hours=6)
"""Time between one evening and the next, at least."""


_QUANTITIES = (*OF_CABINET, Quantity.TILT)


KeptOfEvening = Kept[Trial] | Kept[Preference] | Kept[Mark]


class KeptEvening(NamedTuple):
    """What was kept of a room within some time."""

    room: str
    setup: Setup
    trials: Sequence[Kept[Trial]]
    preferences: Sequence[Kept[Preference]]
    marks: Sequence[Kept[Mark]]
    strikes: Sequence[Kept[Struck]] = ()
    """Of whatever time: what is struck out later does not count either."""

    @property
    def struck(self) -> frozenset[str]:
        """The keys of the trials that are struck out."""
        return struck_keys(kept.record for kept in self.strikes)

    @property
    def counted(self) -> dict[str, Trial]:
        """The trials that are not, by their keys."""
        struck = self.struck
        return {kept.key: kept.record for kept in self.trials if kept.key not in struck}

    @property
    def sequence(self) -> list[KeptOfEvening]:
        """All that was kept, each kind in the order of keeping.

        Between kinds it is by their rounds, whose order no clock can upset, and by time in one.
        """
        kinds: list[Iterable[KeptOfEvening]] = [self.trials, self.preferences, self.marks]
        merged = heapq.merge(*map(_by_round, kinds), key=lambda one: (one[0], one[1].record.at))
        return [kept for _, kept in merged]

    def within(self, since: datetime | None, until: datetime | None) -> KeptEvening:
        """Return the part from a moment on, and before another."""
        return self._replace(
            trials=_within(self.trials, since, until),
            preferences=_within(self.preferences, since, until),
            marks=_within(self.marks, since, until),
        )

    def latest(self) -> KeptEvening:
        """Return the part after the last six hours in which nothing was kept.

        What has quite another time than all that was kept around it, by a wrong clock, is in it
        too, and neither begins nor ends it; nor does a round end within it.
        """
        sequence = self.sequence
        if not sequence:
            return self
        *before, last = sequence
        first, begun, is_alone = len(before), last.record.at, True
        for place, kept in reversed(list(enumerate(before))):
            at = kept.record.at
            if abs(begun - at) <= _APART:
                first, begun, is_alone = place, min(begun, at), False
            elif kept.round_id is not None and kept.round_id == last.round_id:
                first, begun = place, at if is_alone else begun
        chosen = {id(kept) for kept in sequence[first:]}
        return self._replace(
            trials=[kept for kept in self.trials if id(kept) in chosen],
            preferences=[kept for kept in self.preferences if id(kept) in chosen],
            marks=[kept for kept in self.marks if id(kept) in chosen],
        )


def _by_round(kept: Iterable[KeptOfEvening]) -> Iterator[tuple[int, KeptOfEvening]]:
    """Yield what was kept with its round; what is of none comes with the round before it."""
    round_id = 0
    for one in kept:
        round_id = max(round_id, one.round_id or 0)
        yield round_id, one


def _within(
    kept: Iterable[Kept[K]], since: datetime | None, until: datetime | None
) -> list[Kept[K]]:
    return [
        one
        for one in kept
        if (since is None or since <= one.record.at) and (until is None or one.record.at < until)
    ]


def evening_report(evening: KeptEvening, paper: Paper) -> tuple[Page, ...]:
    """Return the pages of a report."""
    return flow(f"Report: {evening.room}", evening_blocks(evening), SheetFrame(paper))


def evening_blocks(evening: KeptEvening) -> Iterator[Block]:
    """Make blocks of what was tried and heard, the grades drawn, and the marks."""
    yield from _when(evening)
    yield from _trials(evening)
    yield from _charts(evening)
    yield from _beside_foreseen(evening)
    yield from _marks(evening)


def _when(evening: KeptEvening) -> Iterator[Block]:
    moments = [kept.record.at for kept in evening.sequence]
    if not moments:
        yield Paragraph("Nothing was saved in this time.")
        return
    yield Paragraph(
        f"From {moments[0]:%Y-%m-%d %H:%M}Z to {moments[-1]:%Y-%m-%d %H:%M}Z: "
        f"{_count(evening.trials, 'trial')}, {_count(evening.preferences, 'comparison')}, "
        f"{_count(evening.marks, 'mark')}."
    )


def _count(kept: Sequence[object], name: str) -> str:
    return f"{len(kept)} {name}{'' if len(kept) == 1 else 's'}"


def _trials(evening: KeptEvening) -> Iterator[Block]:
    if not evening.trials:
        return
    units = evening.setup.units.finer
    names, struck = _names(evening), evening.struck
    one_day = len({kept.record.at.date() for kept in evening.sequence}) == 1
    when = "%H:%M" if one_day else "%m-%d %H:%M"
    yield Heading("What was tried and heard")
    yield Table(
        ("trial", "UTC", "what", "left cabinet", "right cabinet", "grades", "words"),
        tuple(
            (
                str(kept.id),
                f"{kept.record.at:{when}}",
                names[kept.key] + ("; struck out" if kept.key in struck else ""),
                *(stood_words(kept.record, side, units) for side in Side),
                kept.record.impression.grade_words,
                kept.record.impression.heard_words,
            )
            for kept in evening.trials
        ),
    )
    yield Paragraph("Grades: 5 excellent, 4 good, 3 fair, 2 poor, 1 bad.")
    yield from (Paragraph(words) for words in _said(evening, names))


def _names(evening: KeptEvening) -> dict[str, str]:
    return trial_names(evening.setup, {kept.key: kept.record for kept in evening.trials})


def _said(evening: KeptEvening, names: dict[str, str]) -> Iterator[str]:
    """Return what the grades and the choices say, and how far they can be trusted."""
    trials = evening.counted
    ranking = rank(trials, [kept.record for kept in evening.preferences])
    sentences = (
        *(judged_words(one, names) for one in judged(trials)),
        *ranking_words(ranking, names),
        *best_words(best_so_far(trials, ranking), names),
    )
    yield from map(sentence, sentences)


def _charts(evening: KeptEvening) -> Iterator[Block]:
    trials = evening.counted
    numbers = {kept.key: str(kept.id) for kept in evening.trials}
    names = _names(evening)
    charts = [grade_chart(evening.setup, trials, names, against) for against in Against]
    if not any(chart.points for chart in charts):
        return
    yield Heading("Grades against where the pair stood")
    yield GradeCharts(tuple(charts), numbers)


def _beside_foreseen(evening: KeptEvening) -> Iterator[Block]:
    """Which figures of the bare room go along with the grades, where there are grades."""
    if not any(trial.impression.current_grades for trial in evening.counted.values()):
        return
    yield Heading("What was heard, beside what was foreseen")
    try:
        foresight = Foresight.of(evening.setup, absorptions(Furnishing.FURNISHED))
    except BadInput as why:
        yield Paragraph(f"Not compared: {why}.")
        return
    found = associations(foresight, evening.counted)
    yield from (Paragraph(words) for words in association_sentences(found))


def _marks(evening: KeptEvening) -> Iterator[Block]:
    for kept in evening.marks:
        mark = kept.record
        yield Heading(f'Mark "{mark.name}", {mark.at:%Y-%m-%d %H:%M}Z')
        yield Table(
            ("cabinet", *(quantity.label for quantity in _QUANTITIES)),
            tuple(_row(mark, side) for side in Side),
        )
        yield from (Paragraph(sentence(words)) for words in enough_words(mark))
        yield from (Paragraph(sentence(words)) for words in _matching(mark))
        if mark.notes:
            yield Paragraph(f"Notes: {mark.notes}")


def _row(mark: Mark, side: Side) -> tuple[str, ...]:
    units = mark.setup.units.finer
    cells = {
        stood.quantity: format_known(stood.value, stood.expanded, units)
        if stood.quantity.is_length
        else f"{degrees(stood.value)} ±{degrees(stood.expanded)}"
        for stood in standing(mark, side)
    }
    return (side, *(cells.get(quantity, "") for quantity in _QUANTITIES))


def _matching(mark: Mark) -> Iterator[str]:
    """Return how well the two stand as mirror images."""
    try:
        pair = _symmetry(mark)
    except BadInput as why:
        yield f"Not compared: {why}"
        return
    yield symmetry_words(mark.setup, pair)
    yield from other_side_words(mark.setup, pair)
    if pair.tilt is not None:
        yield tilt_symmetry_words(pair.tilt)


def _symmetry(mark: Mark) -> Symmetry:
    pair, tilts = symmetry(mark.setup, mark.poses), mark.poses.tilts
    if tilts.left is None or tilts.right is None:
        return pair
    return pair.with_tilts(tilts.left, tilts.right, mark.setup.tolerance.tilt_deg)
