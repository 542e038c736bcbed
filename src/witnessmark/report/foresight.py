"""A foreseen walk as a document: its picture, a table of positions, one of them in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.acoustics.box import Floats
from witnessmark.acoustics.foresight import FREQUENCIES_HZ, third_octaves
from witnessmark.lengths import Units, format_length
from witnessmark.listening.foreseen import AtOtherSeat, ForeseenPosition, ForeseenWalk, SpreadWalk
from witnessmark.model import Side
from witnessmark.report.blocks import (
    Block,
    Heading,
    LevelCurves,
    LevelPicture,
    Paragraph,
    Table,
)
from witnessmark.report.flow import SheetFrame, flow
from witnessmark.report.page import Page, Paper
from witnessmark.words.foresight import (
    cause_words,
    change_words,
    dip_sentences,
    limits_sentences,
    neighbour_words,
    place_words,
    seat_sentences,
    station_sentences,
)

WIDTH = 80
_RELATIVE = (
    "Level of the pair at the ears from 20 to 300 Hz, against the same cabinets in the open. The "
    "positions go from abreast of the seat forward."
)


def curve(level: Floats, *, in_bands: bool) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return frequencies, Hz, and levels, dB: every line, or bands of a third of an octave."""
    frequencies, levels = third_octaves(level) if in_bands else (FREQUENCIES_HZ, level)
    return tuple(map(float, frequencies)), tuple(map(float, levels))


def labels(row: SpreadWalk, units: Units) -> tuple[str, ...]:
    """Return what stands before each row of a picture: its number and its setback."""
    return tuple(
        f"{place} {format_length(one.setback_mm, units)}"
        for place, one in enumerate(row.positions, 1)
    )


def picture(row: SpreadWalk, units: Units, *, in_bands: bool) -> LevelPicture:
    """Return the picture of one spread of a walk."""
    drawn = [curve(one.levels.pair, in_bands=in_bands) for one in row.positions]
    return LevelPicture(labels(row, units), drawn[0][0], tuple(level for _, level in drawn))


def foresight_blocks(
    walk: ForeseenWalk,
    spread: int,
    *,
    place: int | None = None,
    present: ForeseenPosition | None = None,
    seats: tuple[AtOtherSeat, ...] = (),
    in_bands: bool = False,
) -> Iterator[Block]:
    """Tell a walk.

    Args:
        walk: what was foreseen.
        spread: the place of the spread that is drawn.
        place: a position of it to be told in sentences, beside the table of all.
        present: where the pair stands, to compare with.
        seats: what other seats get of the present position, or of that at ``place``.
        in_bands: bands of a third of an octave in place of every line.
    """
    units, row = walk.setup.units, walk.spreads[spread]
    yield Heading(f"The walk foreseen, {format_length(row.spread_mm, units)} from baffle to baffle")
    yield Paragraph(_RELATIVE)
    yield picture(row, units, in_bands=in_bands)
    yield from _table(walk, row, units)
    yield Paragraph(neighbour_words(row))
    if place is not None:
        yield from _one(walk, spread, place, present, in_bands=in_bands)
    if present is not None:
        yield Heading("Where the pair stands")
        yield Paragraph(place_words(present, units), indent=2)
        yield from (Paragraph(words, indent=2) for words in dip_sentences(walk, present))
    here = present if present is not None else None if place is None else row.positions[place]
    if seats and here is not None:
        yield Heading("At the other seats")
        for number, found in enumerate(seats, 1):
            yield from (Paragraph(words, indent=2) for words in seat_sentences(number, found, here))
    yield Heading("What this leaves out")
    yield from (Paragraph(words, indent=2) for words in limits_sentences(walk, units))


def _one(
    walk: ForeseenWalk,
    spread: int,
    place: int,
    present: ForeseenPosition | None,
    *,
    in_bands: bool,
) -> Iterator[Block]:
    position = walk.spreads[spread].positions[place]
    yield Heading(position.name.capitalize())
    for words in station_sentences(walk, spread, place, walk.setup.units):
        yield Paragraph(words, indent=2)
    frequencies, one = curve(position.levels.pair, in_bands=in_bands)
    other = None if present is None else curve(present.levels.pair, in_bands=in_bands)[1]
    if present is not None:
        yield Paragraph(f"From where the pair stands: {change_words(present, position)}", indent=2)
    yield LevelCurves(frequencies, one, other)


def _table(walk: ForeseenWalk, row: SpreadWalk, units: Units) -> Iterator[Block]:
    steps = [f"{step:.1f} dB" for step in row.steps_db]
    rows = tuple(
        (str(place), format_length(one.setback_mm, units), *_deepest(walk, one), step)
        for place, (one, step) in enumerate(zip(row.positions, [*steps, ""], strict=True), 1)
    )
    heads = ("", "setback", "deepest dip", "of", "mostly because of", "to the next")
    yield Table(heads, rows)


def _deepest(walk: ForeseenWalk, one: ForeseenPosition) -> tuple[str, str, str]:
    sides = (Side.LEFT,) if one.is_alike else tuple(Side)
    found = [(dip, side) for side in sides for dip in walk.dips(one, side)[:1]]
    if not found:
        return "none", "", ""
    dip, side = min(found, key=lambda each: each[0].level_db)
    who = "each" if one.is_alike else side.value
    cause = "no single surface" if dip.cause is None else cause_words(dip.cause, side)
    return f"{dip.level_db:.0f} dB at {dip.frequency_hz:.0f} Hz", who, cause


def foresight_sheet(
    title: str,
    walk: ForeseenWalk,
    spread: int,
    paper: Paper,
    *,
    place: int | None,
    present: ForeseenPosition | None,
) -> tuple[Page, ...]:
    """Return the pages of a walk."""
    blocks = foresight_blocks(walk, spread, place=place, present=present)
    return flow(title, blocks, SheetFrame(paper))
