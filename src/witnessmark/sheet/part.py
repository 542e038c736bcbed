"""One page of a drawing that is laid together from several."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from witnessmark.drawing.strokes import Drawing, Ink, Label
from witnessmark.sheet.blocks import Piece
from witnessmark.sheet.figure import figure
from witnessmark.sheet.letters import wrapped
from witnessmark.sheet.page import LETTERS_MM, Item, Line, Text, shifted
from witnessmark.sheet.tiling import Tile, Tiling, cross_marks, outline

ABOVE_MM = 15.0
"""How much of a page is above the part of a drawing that it shows."""
_KEY_MM = (30.0, 11.0)
_CROSS_MM = 5.0
_NAME_MM = 3.5
"""How far the name of a cross is from its middle, to the right and down."""


class Part(msgspec.Struct, frozen=True):
    """The part of a drawing that one page shows, where that lies, and the crosses to lay it by."""

    name: str
    drawing: Drawing
    tiling: Tiling
    tile: Tile

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """The one piece, as high as the page."""
        tile, tiling = self.tile, self.tiling
        words = (
            f"{self.name}: {tile.name}, column {tile.column + 1} from the left, row {tile.row + 1}"
        )
        beside = width_mm - _KEY_MM[0] - 4.0
        lines = wrapped(f"{words}. Crosses of one name lie on each other.", beside)
        items: list[Item] = [
            Text(line, (0.0, LETTERS_MM * (1 + 1.4 * row))) for row, line in enumerate(lines[:3])
        ]
        items += shifted(self._key(), width_mm - _KEY_MM[0], 0.0)
        items += shifted(self._shown(), 0.0, ABOVE_MM)
        yield Piece(ABOVE_MM + tiling.height_mm, tuple(items))

    def _shown(self) -> Iterator[Item]:
        """What is drawn, with the crosses and the edge of what the page shows."""
        tiling, window = self.tiling, self.tile.window
        names = (
            Label(name, (x + _NAME_MM * tiling.scale, y + _NAME_MM * tiling.scale), Ink.GUESSED)
            for name, (x, y) in tiling.crosses.items()
        )
        drawing = Drawing(
            (*self.drawing.strokes, *cross_marks(tiling, _CROSS_MM), outline(window)),
            (*names, *self.drawing.labels),
        )
        yield from figure(drawing, window, tiling.scale)

    def _key(self) -> Iterator[Item]:
        """All pages as they lie, this one with a cross through it."""
        tiling = self.tiling
        side = min(_KEY_MM[0] / tiling.columns, _KEY_MM[1] / tiling.rows)
        for tile in tiling.tiles:
            left, top = tile.column * side, tile.row * side
            right, bottom = left + side, top + side
            yield Line(((left, top), (right, top), (right, bottom), (left, bottom), (left, top)))
            if tile == self.tile:
                yield Line(((left, top), (right, bottom)), 0.35)
                yield Line(((left, bottom), (right, top)), 0.35)
