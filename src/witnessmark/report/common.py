"""Blocks that several documents have in common: the title of a record, tape marks, cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from witnessmark.cautions import LASER, LOCAL_RULES, MOVING
from witnessmark.drawing.marking import mark_names
from witnessmark.layout.footprint import FloorPoint
from witnessmark.model import Setup, Side, Wall
from witnessmark.report.blocks import Block, Heading, Paragraph, Table
from witnessmark.store.history_words import moment_words
from witnessmark.store.records import K, Kept

Say = Callable[[float], str]

FROM_THE_WALL = (
    "Each distance is square to the bare wall, or to the line in its place: measure past a "
    "skirting board or radiator, not to it."
)


INDENT = 5
"""Columns before what is told of a record, which hangs from its number."""


def title(kept: Kept[K], words: str) -> Paragraph:
    """The line above a record: its number, when it was kept, and in which round."""
    of = "" if kept.round_id is None else f", round {kept.round_id}"
    when = f"{moment_words(kept.record.at)}{of}"
    return Paragraph(f"{when}: {words}", f"{kept.id:>3}  ", hang=INDENT)


def marks_table(setup: Setup, side: Side, points: Mapping[str, FloorPoint], say: Say) -> Table:
    """How far each point of a cabinet is from its side wall and the front wall."""
    names = mark_names(setup.cabinets[side], side)
    own, front = (setup.room.side_name(wall) for wall in (Wall.beside(side), Wall.FRONT))
    return Table(
        ("", "point", f"from {own}", f"from {front}"),
        tuple(
            (names[name], name, say(point.side_mm), say(point.setback_mm))
            for name, point in points.items()
        ),
    )


def cautions(*, laser: bool = True) -> Iterator[Block]:
    """What can hurt somebody at this work; ``laser`` where a meter may be at hand."""
    yield Heading("Take care")
    yield Paragraph(f"Cabinets. {MOVING} Keep fingers and feet clear of spikes.")
    if laser:
        yield Paragraph(f"Laser. {LASER}")
    yield Paragraph(LOCAL_RULES)


def degrees(angle_deg: float) -> str:
    """An angle to the hundredth of a degree."""
    return f"{angle_deg:.2f}°"
