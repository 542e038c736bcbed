"""The plan to scale, on a canvas of dots."""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from textual import getters
from textual.strip import Strip
from textual.widget import Widget

from witnessmark.app.app import WitnessmarkApp
from witnessmark.drawing.canvas import Cell, plan_cells
from witnessmark.drawing.strokes import Box, Drawing, Ink

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.style import Style


_LEAST_ROWS = 4
"""In fewer rows nothing of a plan can be told apart, and none is drawn."""


class PlanView(Widget):
    """Draws a ``Drawing`` as large as fits, or the part of it that is asked for."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"plan--{ink}" for ink in Ink}
    DEFAULT_CSS = """
    PlanView {
        width: 1fr;
        height: 1fr;
        .plan--wall { color: $foreground; }
        .plan--datum { color: $accent; }
        .plan--proud { color: $foreground; }
        .plan--keep-clear { color: $text-error; }
        .plan--lane { color: $secondary; }
        .plan--station { color: $secondary; }
        .plan--seat { color: $foreground; text-style: bold; }
        .plan--target { color: $warning; }
        .plan--target-baffle { color: $warning; }
        .plan--target-aim { color: $warning; }
        .plan--measured { color: $success; text-style: bold; }
        .plan--measured-aim { color: $success; }
        .plan--taken { color: $success; }
        .plan--awaited { color: $warning; text-style: bold; }
        .plan--guessed { color: $secondary; }
        .plan--bounce { color: $secondary; }
        .plan--beam { color: $accent; text-style: bold; }
    }
    """

    app = getters.app(WitnessmarkApp)

    def __init__(self, drawing: Drawing = Drawing(), *, id: str | None = None) -> None:  # noqa: B008
        """``drawing`` is shown whole at first."""
        super().__init__(id=id)
        self.drawing = drawing
        self.view: Box | None = None
        self._strips: list[Strip] = []
        self._drawn: tuple[object, ...] = ()
        self._styles: dict[str, Style] = {}
        self._styles_of: tuple[object, ...] = ()

    def show(self, drawing: Drawing, view: Box | None = None) -> None:
        """Draw another drawing; ``view`` is the part that is wanted, the whole when None."""
        if (drawing, view) != (self.drawing, self.view):
            self.drawing, self.view = drawing, view
            self.refresh()

    @property
    def text(self) -> str:
        """What is painted, without colour."""
        return "\n".join("".join(character for character, _ in row) for row in self._cells())

    def render_line(self, y: int) -> Strip:
        key = (self.drawing, self.view, self.size, self.app.theme)
        if key != self._drawn:
            self._drawn, self._strips = key, self._painted()
        return self._strips[y] if y < len(self._strips) else Strip.blank(self.size.width)

    def _cells(self) -> list[list[Cell]]:
        if self.size.height < _LEAST_ROWS:
            return []
        view = self.view or self.drawing.box
        return plan_cells(self.drawing, view, *self.size, self.app.canvas)

    def _painted(self) -> list[Strip]:
        background = self.rich_style
        if (self.app.theme, background) != self._styles_of:
            self._styles_of = (self.app.theme, background)
            self._styles = {
                ink: background + self.get_component_rich_style(f"plan--{ink or Ink.WALL}")
                for ink in ("", *Ink)
            }
        return [_strip(row, self._styles) for row in self._cells()]


def _strip(row: list[Cell], styles: Mapping[str, Style]) -> Strip:
    runs = groupby(row, itemgetter(1))
    return Strip([Segment("".join(sign for sign, _ in run), styles[ink]) for ink, run in runs])
