"""The template of a cabinet's foot: what it covers of the floor, at full size."""

from __future__ import annotations

from functools import partial

from witnessmark.drawing.template import template_drawing
from witnessmark.lengths import format_length
from witnessmark.model import Cabinet, Setup, Side
from witnessmark.report.blocks import Paragraph
from witnessmark.report.common import cautions
from witnessmark.report.flow import Frame, flow
from witnessmark.report.page import Page, Paper
from witnessmark.report.scaling import to_scale


def foot_template(name: str, setup: Setup, side: Side, paper: Paper) -> tuple[Page, ...]:
    """The outline and the feet of one cabinet at full size, with how to use it.

    Args:
        name: the room.
        setup: of which the cabinet is taken.
        side: which of the pair.
        paper: the size of the pages.

    Raises:
        BadInput: when it would take too many pages.
    """
    frame, cabinet = Frame(paper, bars=True), setup.cabinets[side]
    say = partial(format_length, units=setup.units)
    how = Paragraph(
        f"The {side} cabinet of {name} from above, {say(cabinet.width_mm)} wide and "
        f"{say(cabinet.depth_mm)} deep, its baffle at the bottom of the page. Lay the sheet on the "
        f"floor so that its corners are on the tape marks, tape it down, and {_then(cabinet)}"
    )
    drawing = template_drawing(cabinet, side)
    blocks = to_scale("Template", drawing, 1.0, frame, (how, *cautions(laser=False)))
    return flow(f"Template: {side} cabinet, {name}", blocks, frame)


def _then(cabinet: Cabinet) -> str:
    if cabinet.feet:
        return "put the cabinet on it; or mark through the crosses where the feet go."
    return "put the cabinet on it. Where its feet are has not been entered, so none is drawn."
