"""A mark as a document: the list of a room's marks, and one whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from witnessmark.layout.footprint import FloorPoint, pair_tape_points
from witnessmark.lengths import format_expanded, format_length
from witnessmark.model import OF_CABINET, Mark, Quantity, Shot, Side, Wall
from witnessmark.report.blocks import EXPANDED, Block, Heading, Paragraph, Say, Space, Table
from witnessmark.sentences import sentence
from witnessmark.store.records import K, Kept
from witnessmark.words.history import enough_words, measured_words, moment_words
from witnessmark.words.holding import held_words

INDENT = 5
"""Columns before the text of a record, which is indented below its number."""


def title(kept: Kept[K], words: str) -> Paragraph:
    """Return the line above a record: its number, when it was kept, and in which round."""
    of = "" if kept.round_id is None else f", round {kept.round_id}"
    when = f"{moment_words(kept.record.at)}{of}"
    return Paragraph(f"{when}: {words}", f"{kept.id:>3}  ", hang=INDENT)


class Stood(NamedTuple):
    """A quantity of a cabinet at a mark: what was measured, its expanded ± and its target."""

    quantity: Quantity
    value: float
    expanded: float
    target: float | None


def standing(mark: Mark, side: Side) -> Iterator[Stood]:
    """Return how a cabinet stood: side, setback, toe-in, and its tilt where that was taken."""
    measured, expanded = mark.poses.placements[side], mark.poses.expanded(side)
    target, tilt = mark.setup.targets[side], mark.poses.tilts[side]
    for quantity in OF_CABINET:
        aim = None if target is None else quantity.of(target)
        yield Stood(quantity, quantity.of(measured), quantity.of(expanded), aim)
    if tilt is not None:
        aim = mark.setup.tilt_targets_deg[side]
        yield Stood(Quantity.TILT, tilt.tilt_deg, tilt.expanded_deg, aim)


def mark_list(marks: Sequence[Kept[Mark]], room: str) -> Iterator[Block]:
    """List the marks of a room, each with where both cabinets were found."""
    if not marks:
        yield Paragraph(f"No mark was saved in {room} yet.")
        return
    yield Heading("Marks in", f" {room}")
    replaced = {mark.record.supersedes for mark in marks}
    for mark in marks:
        gone = "; replaced" if mark.key in replaced else ""
        yield title(mark, f"{mark.record.name}{gone}")
        for side in Side:
            words = measured_words(mark.record.poses, side, mark.record.setup.units.finer)
            yield Paragraph(words, f"{side:<5}  ", INDENT, INDENT)
        for words in enough_words(mark.record):
            yield Paragraph(sentence(words), indent=INDENT, hang=INDENT)


def whole_mark(kept: Kept[Mark]) -> Iterator[Block]:
    """Tell a mark: where both cabinets stood and were to stand, their corners, the shots."""
    mark = kept.record
    say = partial(format_length, units=mark.setup.units.finer)
    yield title(kept, mark.name)
    if mark.notes:
        yield Paragraph(mark.notes, indent=INDENT, hang=INDENT)
    for words in enough_words(mark):
        yield Paragraph(sentence(words), indent=INDENT, hang=INDENT)
    for side, points in pair_tape_points(mark.setup, mark.poses.placements).items():
        yield Heading(f"{side} cabinet".capitalize())
        yield _measured_table(mark, side)
        yield from spikes(mark, side)
        yield from _corners(mark, side, points, say)
    if mark.shots:
        yield Heading("Shots")
    else:
        yield Space()
        yield Paragraph("No shots were saved with it.")
    for shot in mark.shots:
        yield Paragraph(_shot_words(shot, say), indent=2)
    yield EXPANDED


def _measured_table(mark: Mark, side: Side) -> Table:
    """Make a table of what was measured, to what its ± supports, beside the targets."""
    rows = []
    for stood in standing(mark, side):
        if stood.quantity.is_length:
            units = mark.setup.units.finer.known_to(stood.expanded)
            words: Say = partial(format_length, units=units)
            known = format_expanded(stood.expanded, units)
        else:
            words, known = degrees, degrees(stood.expanded)
        target = "" if stood.target is None else f"target {words(stood.target)}"
        rows.append((stood.quantity.label, words(stood.value), f"±{known}", target))
    return Table(("",) * 4, tuple(rows), "  {:8} {:>15}  {:13}  {}")


def spikes(mark: Mark, side: Side) -> Iterator[Block]:
    """Tell how far each spike of a cabinet was turned out."""
    for foot, turns in mark.spike_turns[side].items():
        yield Paragraph(f"{foot} spike: {turns:g} turns out", indent=2)


def _corners(mark: Mark, side: Side, points: Mapping[str, FloorPoint], say: Say) -> Iterator[Block]:
    own, front = (mark.setup.room.side_name(wall) for wall in (Wall.beside(side), Wall.FRONT))
    for name, point in points.items():
        words = f"{say(point.side_mm)} from the {own}, {say(point.setback_mm)} from the {front}"
        yield Paragraph(words, f"{name}: ", indent=2)


def _shot_words(shot: Shot, say: Say) -> str:
    kind = shot.kind
    line = f"{kind.cabinet} {kind.words}: {say(shot.reading_mm)}, {held_words(kind.held)}"
    if kind.height_mm is not None:
        line += f", {say(kind.height_mm)} above the floor"
    return line


def degrees(angle_deg: float) -> str:
    """Write an angle to the hundredth of a degree."""
    return f"{angle_deg:.2f}°"
