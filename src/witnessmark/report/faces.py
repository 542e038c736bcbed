"""The faces that letters are printed in: those of every PDF viewer, and embedded ones.

Every PDF viewer has Helvetica, or a face of the same widths, for the writings of western Europe.
The extra ``letters`` brings faces for most other writings (``weblate-fonts``, under the SIL Open
Font License 1.1, which allows letters to be embedded) and reportlab, which reads and cuts them. The
first of them has Latin, Greek, Cyrillic and many more; four have the signs of China, Taiwan, Japan
and Korea, which share numbers in Unicode but not shapes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from importlib.util import find_spec
from typing import NamedTuple

EXTRA = 'pip install "witnessmark[letters]"'
"""The command that brings the faces for other writings."""
_STANDARD, _MOST, _JAPANESE, _KOREAN = (
    "Helvetica", "KurintoSans", "KurintoSansJP", "KurintoSansKR",
)  # fmt: skip
_CHINESE = ("KurintoSansSC", "KurintoSansTC")
_REGULAR = {
    191: "'", 222: "ijl‚‘’", 260: "|¦", 278: " \xa0!,./:;I[\\]ft·ÌÍÎÏìíîï",
    333: "()-`r„ˆ‹“”˜›¡¨¯²³´¸¹", 334: "{}", 350: "•", 355: '"', 365: "º", 370: "ª", 389: "*",
    400: "°", 469: "^", 500: "Jcksvxyzšžçýÿ", 537: "¶",
    556: "#$0123456789?L_abdeghnopqu€ƒ†‡–¢£¤¥§«µ»àáâãäåèéêëðñòóôõöùúûüþ", 584: "+<=>~¬±×÷",
    611: "FTZŽ¿ßø", 667: "&ABEKPSVXYŠŸÀÁÂÃÄÅÈÉÊËÝÞ", 722: "CDHNRUwÇÐÑÙÚÛÜ", 737: "©®",
    778: "GOQÒÓÔÕÖØ", 833: "Mm", 834: "¼½¾", 889: "%æ", 944: "Wœ", 1000: "™…‰Œ—Æ", 1015: "@",
}  # fmt: skip
"""The signs of Windows-1252 by their widths in Helvetica, thousandths of the size: Adobe's."""
_BOLD = {
    238: "'", 278: " \xa0,./I\\ijl‚‘’·ÌÍÎÏìíîï", 280: "|¦", 333: "!()-:;[]`ftˆ‹˜›¡¨¯²³´¸¹",
    350: "•", 365: "º", 370: "ª", 389: "*r{}", 400: "°", 474: '"', 500: "z„“”ž",
    556: "#$0123456789J_aceksvxy€ƒ†‡–š¢£¤¥§«¶»àáâãäåçèéêëýÿ", 584: "+<=>^~¬±×÷",
    611: "?FLTZbdghnopquŽµ¿ßðñòóôõöøùúûüþ", 667: "EPSVXYŠŸÈÉÊËÝÞ",
    722: "&ABCDHKNRUÀÁÂÃÄÅÇÐÑÙÚÛÜ", 737: "©®", 778: "GOQwÒÓÔÕÖØ", 833: "M", 834: "¼½¾",
    889: "%mæ", 944: "Wœ", 975: "@", 1000: "™…‰Œ—Æ",
}  # fmt: skip


class StandardFace(NamedTuple):
    """A face that every PDF viewer has."""

    name: str
    widths: Mapping[str, float]
    """How wide each of its signs is, thousandths of the size."""


class EmbeddedFace:
    """A face in a file, of which a PDF gets the letters that it needs."""

    def __init__(self, name: str) -> None:
        from reportlab.pdfbase.ttfonts import TTFontFile  # noqa: PLC0415

        self.name = name
        folder = files("weblate_fonts") / "static" / "weblate_fonts" / "kurinto" / "ttf"
        self.file = TTFontFile(str(folder / f"{name}.ttf"))
        self.widths: Mapping[str, float] = {
            chr(code): self.file.charWidths.get(code, self.file.defaultWidth)
            for code in self.file.charToGlyph
        }

    def glyphs(self, signs: Iterable[str]) -> dict[str, int]:
        """Return the number of each sign's shape in what ``cut`` makes of the same signs."""
        shapes = {sign: self.file.charToGlyph[ord(sign)] for sign in signs}
        numbers = {shape: number for number, shape in enumerate(dict.fromkeys(shapes.values()), 1)}
        return {sign: numbers[shape] for sign, shape in shapes.items()}

    def cut(self, signs: Iterable[str]) -> bytes:
        """Return a font file that has these signs alone."""
        return bytes(self.file.makeSubset([ord(sign) for sign in signs]))


Typeface = StandardFace | EmbeddedFace


@lru_cache
def has_extra() -> bool:
    """Return whether the faces for other writings are installed."""
    return all(find_spec(package) is not None for package in ("weblate_fonts", "reportlab"))


def families(text: str) -> Sequence[str]:
    """Return every family of faces, those first whose shapes the text is likely to want."""
    if not has_extra():
        return (_STANDARD,)
    has_kana = any("\u3040" <= sign <= "\u30ff" for sign in text)
    first = (_JAPANESE, *_CHINESE) if has_kana else (*_CHINESE, _JAPANESE)
    return (_MOST, *first, _KOREAN)


@lru_cache
def face_of(family: str, *, bold: bool = False) -> Typeface:
    """Return the face of a family, read from its file where it has one."""
    if family != _STANDARD:
        return EmbeddedFace(f"{family}-{'Bd' if bold else 'Rg'}")
    widths = _BOLD if bold else _REGULAR
    return StandardFace(
        "Helvetica-Bold" if bold else "Helvetica",
        {sign: float(width) for width, signs in widths.items() for sign in signs},
    )
