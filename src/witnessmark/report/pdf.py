"""Pages as PDF (ISO 32000), to be printed at full size."""

from __future__ import annotations

import io
from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import chain
from typing import NamedTuple

import pydyf

from witnessmark.report.faces import EmbeddedFace, StandardFace
from witnessmark.report.letters import extent, runs
from witnessmark.report.page import Page, PageText, PaperPoint, Polyline
from witnessmark.sentences import visible

_POINT_MM = 25.4 / 72
_TO_UNICODE = """\
/CIDInit /ProcSet findresource begin 12 dict begin begincmap
/CMapName /Letters def /CMapType 2 def
1 begincodespacerange <0000> <ffff> endcodespacerange
{} endcmap end end"""
"""What text a glyph stands for, so that it can be searched for and copied."""
_TAG, _SYMBOLIC = "LETTER", 4
"""A part of a font is named by six capitals; its signs are not those of Latin alone."""
_ROUND = 1
"""The number of the round line join."""
_AT_ONCE = 100
"""Most lines that a block of the table of characters may have."""


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """Return a PDF file of these pages; the same pages give the same bytes.

    It asks whoever prints it not to fit them to the printer's paper. Letters are embedded, unless
    they are of a face that every viewer has.
    """
    file = pydyf.PDF()
    fonts = _fonts(file, pages)
    font_references = {name: font.reference for name, font in fonts.items()}
    resources = pydyf.Dictionary({"Font": pydyf.Dictionary(font_references)})
    shared = _added(file, resources)
    for page in pages:
        size = _points(page.width_mm), _points(page.height_mm)
        file.add_page(
            pydyf.Dictionary(
                {
                    "Type": "/Page",
                    "Parent": file.pages.reference,
                    "MediaBox": pydyf.Array([0, 0, *size]),
                    "Contents": _added(file, _drawing(page, fonts)),
                    "Resources": shared,
                }
            )
        )
    file.catalog["Lang"] = pydyf.String("en")
    file.catalog["ViewerPreferences"] = pydyf.Dictionary({"PrintScaling": "/None"})
    about = {
        "Title": visible(title),  # which may hold bytes of a file's name that are no text
        "Author": "witnessmark",
        "Creator": "witnessmark",
        "Subject": "a sheet to print at full size",
    }
    file.info.update({key: pydyf.String(value) for key, value in about.items()})
    whole = io.BytesIO()
    file.write(whole)
    return whole.getvalue()


class _Font(NamedTuple):
    """A font of a file, and its code for each sign, in hexadecimal."""

    reference: bytes
    codes: Mapping[str, str]


def _fonts(file: pydyf.PDF, pages: Sequence[Page]) -> dict[str, _Font]:
    """Add a font for each face, with the signs that are printed in it; by the face's name."""
    faces, signs = {}, defaultdict[str, set[str]](set)
    for text in (item for page in pages for item in page.items if isinstance(item, PageText)):
        for face, part in runs(text.text, bold=text.bold):
            faces[face.name] = face
            signs[face.name].update(part)
    return {
        name: _standard(file, face)
        if isinstance(face, StandardFace)
        else _embedded(file, face, sorted(signs[name]))
        for name, face in sorted(faces.items())
    }


def _standard(file: pydyf.PDF, face: StandardFace) -> _Font:
    font = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/Type1",
            "BaseFont": pydyf.name(face.name),
            "Encoding": "/WinAnsiEncoding",
        }
    )
    codes = {sign: sign.encode("cp1252").hex() for sign in face.widths}
    return _Font(_added(file, font), codes)


def _embedded(file: pydyf.PDF, face: EmbeddedFace, signs: Sequence[str]) -> _Font:
    """Add a font whose codes are the numbers of its shapes."""
    glyphs, about = face.glyphs(signs), face.file
    name = pydyf.name(f"{_TAG}+{face.name}")
    data = face.cut(signs)
    font_file = pydyf.Stream([data], {"Length1": len(data)}, compress=True)
    descriptor = pydyf.Dictionary(
        {
            "Type": "/FontDescriptor",
            "FontName": name,
            "Flags": _SYMBOLIC,
            "FontBBox": pydyf.Array(map(_rounded, about.bbox)),
            "ItalicAngle": 0,
            "Ascent": _rounded(about.ascent),
            "Descent": _rounded(about.descent),
            "CapHeight": _rounded(about.capHeight),
            "StemV": _rounded(about.stemV),
            "FontFile2": _added(file, font_file),
        }
    )
    widths = [(glyphs[sign], pydyf.Array([_rounded(face.widths[sign])])) for sign in signs]
    shapes = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/CIDFontType2",
            "BaseFont": name,
            "CIDToGIDMap": "/Identity",
            "CIDSystemInfo": pydyf.Dictionary(
                {
                    "Registry": pydyf.String("Adobe"),
                    "Ordering": pydyf.String("Identity"),
                    "Supplement": 0,
                }
            ),
            "FontDescriptor": _added(file, descriptor),
            "W": pydyf.Array(chain.from_iterable(widths)),
        }
    )
    codes = {sign: f"{glyph:04x}" for sign, glyph in glyphs.items()}
    font = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/Type0",
            "BaseFont": name,
            "Encoding": "/Identity-H",
            "DescendantFonts": pydyf.Array([_added(file, shapes)]),
            "ToUnicode": _added(file, _to_unicode(codes, signs)),
        }
    )
    return _Font(_added(file, font), codes)


def _to_unicode(codes: Mapping[str, str], signs: Sequence[str]) -> pydyf.Stream:
    """Return the table of the sign that each code stands for."""
    lines = [f"<{codes[sign]}> <{sign.encode('utf-16-be').hex()}>" for sign in signs]
    table = "".join(
        "{} beginbfchar\n{}\nendbfchar\n".format(len(some), "\n".join(some))
        for some in (lines[at : at + _AT_ONCE] for at in range(0, len(lines), _AT_ONCE))
    )
    return pydyf.Stream([_TO_UNICODE.format(table)], compress=True)


def _drawing(page: Page, fonts: Mapping[str, _Font]) -> pydyf.Stream:
    """Return the operators that draw a page."""
    drawing = pydyf.Stream(compress=True)
    drawing.set_line_join(_ROUND)
    for item in page.items:
        if isinstance(item, PageText):
            _draw_text(drawing, page, item, fonts)
        else:
            _draw_line(drawing, page, item)
    return drawing


def _draw_text(
    drawing: pydyf.Stream, page: Page, text: PageText, fonts: Mapping[str, _Font]
) -> None:
    box = extent(text)
    if text.patch:
        drawing.set_color_rgb(1, 1, 1)
        drawing.rectangle(
            *_point(page, (box.left, box.bottom)),
            _points(box.right - box.left),
            _points(box.bottom - box.top),
        )
        drawing.fill()
        drawing.set_color_rgb(0, 0, 0)
    drawing.begin_text()
    drawing.move_text_to(*_point(page, (box.left, text.at[1])))
    for face, part in runs(text.text, bold=text.bold):
        codes = "".join(map(fonts[face.name].codes.__getitem__, part))
        drawing.set_font_size(face.name, _points(text.size_mm))
        drawing.show_text(f"<{codes}>")
    drawing.end_text()


def _draw_line(drawing: pydyf.Stream, page: Page, line: Polyline) -> None:
    drawing.set_line_width(_points(line.width_mm))
    drawing.set_dash(map(_points, line.dashes_mm), 0)
    for place, point in enumerate(line.points):
        (drawing.line_to if place else drawing.move_to)(*_point(page, point))
    drawing.stroke()


def _point(page: Page, at: PaperPoint) -> tuple[float, float]:
    """Return a point as PDF counts it, from the lower left corner."""
    return _points(at[0]), _points(page.height_mm - at[1])


def _points(mm: float) -> float:
    return _rounded(mm / _POINT_MM)


def _rounded(value: float) -> float:
    """Return a number to the ten-thousandth, far finer than any printer."""
    return round(value, 4)


def _added(file: pydyf.PDF, item: pydyf.Object) -> bytes:
    """Add an object to the file; return what refers to it."""
    file.add_object(item)
    return bytes(item.reference)
