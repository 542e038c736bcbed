"""One page as SVG, at its true size.

Letters are whatever a viewer has; each text is held to the width that it was laid out for.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

from witnessmark.report.letters import extent
from witnessmark.report.page import Page, PageText, Polyline
from witnessmark.sentences import visible


def svg(page: Page) -> str:
    """Return one SVG element, as large as the page; a unit of its own is a millimetre."""
    size = f"{_number(page.width_mm)} {_number(page.height_mm)}"
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page.width_mm}mm" '
        f'height="{page.height_mm}mm" viewBox="0 0 {size}" font-family="sans-serif" '
        'fill="none" stroke-linejoin="round"><rect width="100%" height="100%" fill="white"/>'
    )
    items = (_text(item) if isinstance(item, PageText) else _line(item) for item in page.items)
    return "\n".join((head, *items, "</svg>\n"))


def _text(text: PageText) -> str:
    box, (x, y) = extent(text), text.at
    width = box.right - box.left
    weight = ' font-weight="bold"' if text.bold else ""
    fitted = f' textLength="{_number(width)}" lengthAdjust="spacingAndGlyphs"' if width else ""
    words = (
        f'<text x="{_number(x)}" y="{_number(y)}" font-size="{_number(text.size_mm)}"{weight} '
        f'text-anchor="{text.align}" fill="black"{fitted}>{escape(visible(text.text))}</text>'
    )
    if not text.patch:
        return words
    return (
        f'<rect x="{_number(box.left)}" y="{_number(box.top)}" width="{_number(width)}" '
        f'height="{_number(box.bottom - box.top)}" fill="white"/>{words}'
    )


def _line(line: Polyline) -> str:
    points = " ".join(f"{_number(x)},{_number(y)}" for x, y in line.points)
    dashes = " ".join(map(_number, line.dashes_mm))
    pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
    width = _number(line.width_mm)
    return f'<polyline points="{points}" stroke="black" stroke-width="{width}"{pattern}/>'


def _number(value: float) -> str:
    """Write a number to a thousandth of a millimetre."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
