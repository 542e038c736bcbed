"""What a PDF shows, read back by a general library: texts, lines in mm, fonts."""

from __future__ import annotations

import io
from typing import Any

from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream

POINT_MM = 25.4 / 72
PaperLine = tuple[tuple[float, float], ...]


def read_back(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content), strict=True)


def size_mm(page: PageObject) -> tuple[float, float]:
    return float(page.mediabox.width) * POINT_MM, float(page.mediabox.height) * POINT_MM


def lines_mm(page: PageObject) -> list[PaperLine]:
    """Yield every stroked polyline, mm from the page's upper left corner."""
    _, height = size_mm(page)
    lines: list[PaperLine] = []
    here: list[tuple[float, float]] = []
    content = page.get_contents()
    assert content is not None
    for operands, operator in ContentStream(content, page.pdf).operations:
        if operator == b"cm":
            assert [float(one) for one in operands] == [1, 0, 0, 1, 0, 0]
        elif operator in (b"m", b"l"):
            if operator == b"m":
                here = []
            x, y = (float(one) * POINT_MM for one in operands)
            here.append((x, height - y))
        elif operator == b"S":
            lines.append(tuple(here))
    return lines


def faces(page: PageObject) -> list[Any]:
    """Return the fonts of a page, each as the one that it descends from where it is composite."""
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    return [
        font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        for font in fonts
    ]


def words(reader: PdfReader) -> str:
    """Return all texts, with single spaces."""
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
