"""The plan to scale, on a canvas of dots."""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from rich.cells import cell_len
from rich.segment import Segment
from textual import getters
from textual.strip import Strip
from textual.widget import Widget

from witnessmark.app.app import WitnessmarkApp
from witnessmark.drawing.canvas import BrailleCanvas, Canvas, Dot, Placed, spread
from witnessmark.drawing.strokes import Box, Drawing, Ink, Label

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.style import Style

    from witnessmark.model import PlanPoint

_LEAST_ROWS = 4
"""In fewer rows nothing of a plan can be told apart, and none is drawn."""
_SMALL_COLUMNS = 36
"""A picture that takes fewer columns leaves out what is spare."""
Cell = tuple[str, str]
"""A character and the ink it is painted in."""


class Projection(NamedTuple):
    """Plan millimetres to dots: one scale for both axes, the box in the middle of the canvas."""

    dots_per_mm: float
    left: float
    top: float

    @classmethod
    def fitting(cls, box: Box, width: int, height: int) -> Projection:
        """The largest scale at which ``box`` lies within ``width`` by ``height`` dots."""
        across, down = max(box.right - box.left, 1.0), max(box.bottom - box.top, 1.0)
        scale = min((width - 1) / across, (height - 1) / down)
        return cls(
            scale,
            (width - 1 - scale * across) / 2 - scale * box.left,
            (height - 1 - scale * down) / 2 - scale * box.top,
        )

    def dot(self, point: PlanPoint) -> Dot:
        """Where a point in plan lies on the canvas."""
        return self.left + self.dots_per_mm * point[0], self.top + self.dots_per_mm * point[1]


def plan_cells(
    drawing: Drawing, view: Box, columns: int, rows: int, kind: type[Canvas] = BrailleCanvas
) -> list[list[Cell]]:
    """The part ``view`` of a drawing as rows of cells, labels over strokes."""
    canvas = kind(columns, rows)
    projection = Projection.fitting(view, canvas.width, canvas.height)
    taken = projection.dots_per_mm * (view.right - view.left) / canvas.across
    small = taken < _SMALL_COLUMNS
    for stroke in drawing.strokes:
        if not (stroke.is_spare and small):
            dots = [projection.dot(point) for point in stroke.points]
            canvas.line(dots, stroke.ink, stroke.ink.pattern)
    cells = [canvas.row(row) for row in range(rows)]
    shown = [
        label
        for label in drawing.labels
        if not label.is_spare and _is_seen(projection.dot(label.at), canvas)
    ]
    wanted = [_placed(label, projection, canvas) for label in shown]
    for label, place in zip(shown, spread(wanted, columns, rows), strict=True):
        for column, character in enumerate(place.text, place.column):
            cells[place.row][column] = (character, label.ink)
    for label in drawing.labels:
        if label.is_spare and not small and _is_seen(projection.dot(label.at), canvas):
            _put_where_free(cells, _placed(label, projection, canvas), label.ink)
    return cells


def _put_where_free(cells: list[list[Cell]], place: Placed, ink: Ink) -> None:
    """Write a label where there is nothing yet, with a blank to each side."""
    row, first, last = cells[place.row], place.column, place.column + len(place.text)
    around = row[max(first - 1, 0) : last + 1]
    if first >= 0 and last <= len(row) and all(sign == " " for sign, _ in around):
        row[first:last] = [(sign, ink) for sign in place.text]


def _is_seen(dot: Dot, canvas: Canvas) -> bool:
    # half a dot more, for a label right at the edge must not depend on rounding
    x, y = dot
    return -0.5 <= x < canvas.width and -0.5 <= y < canvas.height


def _placed(label: Label, projection: Projection, canvas: Canvas) -> Placed:
    """A label with its middle over its point."""
    x, y = projection.dot(label.at)
    text = _in_cells(label.text)
    return Placed(text, int(y // canvas.down), round(x / canvas.across - len(text) / 2))


def _in_cells(text: str) -> tuple[str, ...]:
    """The signs of a text by the cells that they take; a broad one leaves its second cell empty."""
    cells: list[str] = []
    for sign in text:
        broad = cell_len(sign)
        if broad == 0 and cells:
            cells[-1] += sign
        else:
            cells += [sign, *[""] * (broad - 1)]
    return tuple(cells)


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
    }
    """

    app = getters.app(WitnessmarkApp)

    def __init__(self, drawing: Drawing = Drawing(), *, id: str | None = None) -> None:  # noqa: A002, B008
        """``drawing`` is shown whole at first."""
        super().__init__(id=id)
        self.drawing = drawing
        self.view: Box | None = None
        self._strips: list[Strip] = []
        self._drawn: tuple[object, ...] = ()

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
        styles = {
            ink: background + self.get_component_rich_style(f"plan--{ink or Ink.WALL}")
            for ink in ("", *Ink)
        }
        return [_strip(row, styles) for row in self._cells()]


def _strip(row: list[Cell], styles: Mapping[str, Style]) -> Strip:
    runs = groupby(row, itemgetter(1))
    return Strip([Segment("".join(sign for sign, _ in run), styles[ink]) for ink, run in runs])
