"""Pages as PDF (ISO 32000), to be printed at full size."""

from __future__ import annotations

import zlib
from codecs import BOM_UTF16_BE
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from witnessmark.sheet.faces import EmbeddedFace, StandardFace
from witnessmark.sheet.letters import extent, runs
from witnessmark.sheet.page import Line, Page, PaperPoint, Text

_POINT_MM = 25.4 / 72
_TO_UNICODE = """\
/CIDInit /ProcSet findresource begin 12 dict begin begincmap
/CMapName /Letters def /CMapType 2 def
1 begincodespacerange <0000> <ffff> endcodespacerange
{} endcmap end end"""
"""What text a glyph stands for, so that it can be searched for and copied."""
_TAG, _SYMBOLIC = "LETTER", 4
"""A part of a font is named by six capitals; its signs are not those of Latin alone."""
_AT_ONCE = 100
"""So many lines of a table of characters may stand together."""


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """A PDF file of these pages; the same pages give the same bytes.

    It asks whoever prints it not to fit them to the printer's paper. Letters are embedded, unless
    they are of a face that every viewer has.
    """
    file = _File()
    fonts = _fonts(file, pages)
    resources = " ".join(f"/{name} {font.reference}" for name, font in fonts.items())
    tree = file.reserve()
    kids = []
    for page in pages:
        content = "\n".join(("1 j", *_drawn(page, fonts)))
        size = f"{_number(page.width_mm / _POINT_MM)} {_number(page.height_mm / _POINT_MM)}"
        kids.append(
            file.add(
                f"<< /Type /Page /Parent {tree} /MediaBox [0 0 {size}] "
                f"/Contents {file.add_stream(content.encode('ascii'))} "
                f"/Resources << /Font << {resources} >> >> >>"
            )
        )
    file.fill(tree, f"<< /Type /Pages /Count {len(kids)} /Kids [{' '.join(kids)}] >>")
    root = file.add(
        f"<< /Type /Catalog /Pages {tree} /Lang (en) "
        "/ViewerPreferences << /PrintScaling /None >> >>"
    )
    about = {
        "Title": title,
        "Author": "witnessmark",
        "Creator": "witnessmark",
        "Subject": "a sheet to print at full size",
    }
    entries = " ".join(f"/{key} {_text_string(value)}" for key, value in about.items())
    return file.content(root, file.add(f"<< {entries} >>"))


class _Font(NamedTuple):
    """A font of a file, and its code for each sign, in hexadecimal."""

    reference: str
    codes: Mapping[str, str]


def _fonts(file: _File, pages: Sequence[Page]) -> dict[str, _Font]:
    """Add a font for each face, with the signs that are printed in it; by the face's name."""
    faces, signs = {}, defaultdict[str, set[str]](set)
    for text in (item for page in pages for item in page.items if isinstance(item, Text)):
        for face, part in runs(text.text, bold=text.bold):
            faces[face.name] = face
            signs[face.name].update(part)
    return {
        name: _standard(file, face)
        if isinstance(face, StandardFace)
        else _embedded(file, face, sorted(signs[name]))
        for name, face in sorted(faces.items())
    }


def _standard(file: _File, face: StandardFace) -> _Font:
    reference = file.add(
        f"<< /Type /Font /Subtype /Type1 /BaseFont /{face.name} /Encoding /WinAnsiEncoding >>"
    )
    return _Font(reference, {sign: sign.encode("cp1252").hex() for sign in face.widths})


def _embedded(file: _File, face: EmbeddedFace, signs: Sequence[str]) -> _Font:
    """Add a font whose codes are the numbers of its shapes."""
    glyphs, about = face.glyphs(signs), face.file
    name = f"{_TAG}+{face.name}"
    data = face.cut(signs)
    box = " ".join(_number(one) for one in about.bbox)
    descriptor = file.add(
        f"<< /Type /FontDescriptor /FontName /{name} /Flags {_SYMBOLIC} /FontBBox [{box}] "
        f"/ItalicAngle 0 /Ascent {_number(about.ascent)} /Descent {_number(about.descent)} "
        f"/CapHeight {_number(about.capHeight)} /StemV {_number(about.stemV)} "
        f"/FontFile2 {file.add_stream(data, f'/Length1 {len(data)}')} >>"
    )
    widths = " ".join(f"{glyphs[sign]} [{_number(face.widths[sign])}]" for sign in signs)
    shapes = file.add(
        f"<< /Type /Font /Subtype /CIDFontType2 /BaseFont /{name} /CIDToGIDMap /Identity "
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> "
        f"/FontDescriptor {descriptor} /W [{widths}] >>"
    )
    codes = {sign: f"{glyph:04x}" for sign, glyph in glyphs.items()}
    lines = [f"<{codes[sign]}> <{sign.encode('utf-16-be').hex()}>" for sign in signs]
    table = "".join(
        "{} beginbfchar\n{}\nendbfchar\n".format(len(some), "\n".join(some))
        for some in (lines[at : at + _AT_ONCE] for at in range(0, len(lines), _AT_ONCE))
    )
    reference = file.add(
        f"<< /Type /Font /Subtype /Type0 /BaseFont /{name} /Encoding /Identity-H "
        f"/DescendantFonts [{shapes}] "
        f"/ToUnicode {file.add_stream(_TO_UNICODE.format(table).encode('ascii'))} >>"
    )
    return _Font(reference, codes)


def _drawn(page: Page, fonts: Mapping[str, _Font]) -> Iterator[str]:
    """The operators that draw a page."""
    for item in page.items:
        if isinstance(item, Text):
            yield from _text(page, item, fonts)
        else:
            yield from _line(page, item)


def _text(page: Page, text: Text, fonts: Mapping[str, _Font]) -> Iterator[str]:
    box = extent(text)
    if text.patch:
        corner = _point(page, (box.left, box.bottom))
        size = (box.right - box.left) / _POINT_MM, (box.bottom - box.top) / _POINT_MM
        yield f"1 g {corner} {_number(size[0])} {_number(size[1])} re f 0 g"
    yield f"BT {_point(page, (box.left, text.at[1]))} Td"
    for face, part in runs(text.text, bold=text.bold):
        codes = "".join(map(fonts[face.name].codes.__getitem__, part))
        yield f"/{face.name} {_number(text.size_mm / _POINT_MM)} Tf <{codes}> Tj"
    yield "ET"


def _line(page: Page, line: Line) -> Iterator[str]:
    dashes = " ".join(_number(part / _POINT_MM) for part in line.dashes_mm)
    yield f"{_number(line.width_mm / _POINT_MM)} w [{dashes}] 0 d"
    for place, point in enumerate(line.points):
        yield f"{_point(page, point)} {'l' if place else 'm'}"
    yield "S"


def _point(page: Page, at: PaperPoint) -> str:
    """A point as PDF counts it, from the lower left corner."""
    return f"{_number(at[0] / _POINT_MM)} {_number((page.height_mm - at[1]) / _POINT_MM)}"


def _number(value: float) -> str:
    """To a ten-thousandth of a point."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _text_string(text: str) -> str:
    return f"<{(BOM_UTF16_BE + text.encode('utf-16-be', 'replace')).hex()}>"


class _File:
    """The numbered objects of a file."""

    def __init__(self) -> None:
        self._objects: list[bytes] = []

    def reserve(self) -> str:
        """Have a place for an object that is filled in later; return what refers to it."""
        return self.add("null")

    def fill(self, reference: str, content: str) -> None:
        """Put an object in the place that was reserved for it."""
        self._objects[int(reference.split(maxsplit=1)[0]) - 1] = content.encode("ascii")

    def add(self, content: str | bytes) -> str:
        """Add an object; return what refers to it."""
        self._objects.append(content.encode("ascii") if isinstance(content, str) else content)
        return f"{len(self._objects)} 0 R"

    def add_stream(self, data: bytes, more: str = "") -> str:
        """Add data, compressed."""
        packed = zlib.compress(data, 9)
        head = f"<< /Length {len(packed)} /Filter /FlateDecode {more} >>\nstream\n"
        return self.add(b"%b%b\nendstream" % (head.encode("ascii"), packed))

    def content(self, root: str, info: str) -> bytes:
        """Return the whole file."""
        whole = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
        table = [b"0000000000 65535 f \n"]
        for number, content in enumerate(self._objects, 1):
            table.append(b"%010d 00000 n \n" % len(whole))
            whole += b"%d 0 obj\n%b\nendobj\n" % (number, content)
        start, count = len(whole), len(table)
        whole += b"xref\n0 %d\n%b" % (count, b"".join(table))
        whole += f"trailer\n<< /Size {count} /Root {root} /Info {info} >>\n".encode("ascii")
        return bytes(whole) + b"startxref\n%d\n%%%%EOF\n" % start
