"""Pages as PDF, to be printed at full size, with their letters embedded."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from witnessmark.sheet.letters import extent, runs
from witnessmark.sheet.page import Line, Page, Text

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

_POINT_MM = 25.4 / 72


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """A PDF file of these pages; the same pages give the same bytes.

    It asks whoever prints it not to fit them to the printer's paper.
    """
    from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415

    file = io.BytesIO()
    # reportlab names a face of the reader's own on every page unless it is told another
    ((face, _),) = runs("1", bold=False)
    canvas = Canvas(file, invariant=True, lang="en", initialFontName=face.fontName)  # type: ignore[arg-type] # the stubs take it for a number
    canvas.setTitle(title)
    canvas.setAuthor("witnessmark")
    canvas.setCreator("witnessmark")
    canvas.setSubject("a sheet to print at full size")
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize((page.width_mm / _POINT_MM, page.height_mm / _POINT_MM))
        canvas.setLineJoin(1)
        for item in page.items:
            if isinstance(item, Text):
                _draw_text(canvas, page, item)
            else:
                _draw_line(canvas, page, item)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def _draw_text(canvas: Canvas, page: Page, text: Text) -> None:
    left, bottom = extent(text).left, page.height_mm - text.at[1]
    if text.patch:
        _draw_patch(canvas, page, text)
    words = canvas.beginText(left / _POINT_MM, bottom / _POINT_MM)
    for face, part in runs(text.text, bold=text.bold):
        words.setFont(face.fontName, text.size_mm / _POINT_MM)
        words.textOut(part)
    canvas.drawText(words)


def _draw_patch(canvas: Canvas, page: Page, text: Text) -> None:
    box = extent(text)
    canvas.setFillGray(1)
    canvas.rect(
        box.left / _POINT_MM,
        (page.height_mm - box.bottom) / _POINT_MM,
        (box.right - box.left) / _POINT_MM,
        (box.bottom - box.top) / _POINT_MM,
        stroke=0,
        fill=1,
    )
    canvas.setFillGray(0)


def _draw_line(canvas: Canvas, page: Page, line: Line) -> None:
    canvas.setLineWidth(line.width_mm / _POINT_MM)
    canvas.setDash([part / _POINT_MM for part in line.dashes_mm])
    path = canvas.beginPath()
    for place, (x, y) in enumerate(line.points):
        to = path.lineTo if place else path.moveTo
        to(x / _POINT_MM, (page.height_mm - y) / _POINT_MM)
    canvas.drawPath(path)
