"""Blocks that several sheets have in common: the tape marks of a cabinet, and the cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from witnessmark.cautions import LASER, LOCAL_RULES, MOVING
from witnessmark.drawing.marking import mark_names
from witnessmark.layout.footprint import FloorPoint
from witnessmark.model import Setup, Side, Wall
from witnessmark.report.blocks import Block, Heading, Paragraph, Table

Say = Callable[[float], str]

FROM_THE_WALL = (
    "Each distance is square to the bare wall, or to the line in its place: measure past a "
    "skirting board or radiator, not to it."
)


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
