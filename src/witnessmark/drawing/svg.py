"""A drawing as SVG, to scale, for a page on a screen or for paper.

Each element has its ink as its class, so that a page may colour it. What it is without that is fit
for paper: lines in the colour of the text around, in patterns that tell the inks apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape

from witnessmark.drawing.strokes import Box, Drawing

_LINE_PX = 1.5
_LETTER_SHARE = 0.045
"""Height of the letters, as a part of the wider side of what is shown."""


def svg(drawing: Drawing, view: Box | None = None, *, letters_mm: float | None = None) -> str:
    """Return one SVG element, whose unit is a millimetre in plan; lines are as wide at any size.

    Args:
        drawing: what is drawn.
        view: the part of the plan that is shown, with a margin as wide as the letters are high;
            the whole when None.
        letters_mm: how high letters are, in plan; by the size of the view when None.
    """
    box = view or drawing.box
    width, height = box.right - box.left, box.bottom - box.top
    letters = letters_mm or _LETTER_SHARE * max(width, height, 1.0)
    shown = (box.left - letters, box.top - letters, width + 2 * letters, height + 2 * letters)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{" ".join(map(_number, shown))}" '
        f'fill="none" stroke="currentColor" stroke-width="{_LINE_PX}" stroke-linejoin="round">'
    )
    return "".join((head, *_strokes(drawing), *_labels(drawing, letters), "</svg>"))


def _strokes(drawing: Drawing) -> Iterator[str]:
    for stroke in drawing.strokes:
        dashes = " ".join(f"{_LINE_PX * part:g}" for part in stroke.ink.pattern.dashes)
        pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
        points = " ".join(f"{_number(x)},{_number(y)}" for x, y in stroke.points)
        yield (
            f'<polyline class="{stroke.ink}" points="{points}"{pattern} '
            'vector-effect="non-scaling-stroke"/>'
        )


def _labels(drawing: Drawing, letters_mm: float) -> Iterator[str]:
    """Letters on a halo of the ground, so that lines do not run through them."""
    size, halo = _number(letters_mm), _number(letters_mm / 2)
    for label in drawing.labels:
        x, y = map(_number, label.at)
        yield (
            f'<text class="{label.ink}" x="{x}" y="{y}" dy=".35em" font-size="{size}" '
            f'text-anchor="{label.align}" fill="currentColor" stroke="white" stroke-width="{halo}" '
            f'paint-order="stroke">{escape(label.text.strip())}</text>'
        )


def _number(value: float) -> str:
    """To a tenth of a millimetre, which no screen and no printer shows."""
    return f"{value:.1f}".removesuffix(".0")
