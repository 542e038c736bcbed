"""A page as SVG: the same texts and lines at their true size."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import msgspec
from sheet_cases import MARK

from witnessmark.report.floor_sheets import put_back_card
from witnessmark.report.page import PageText, Paper, Polyline
from witnessmark.report.svg import svg

SPACE = "{http://www.w3.org/2000/svg}"


def test_a_page_of_svg_is_as_large_as_its_paper_in_millimetres() -> None:
    (page,) = put_back_card(MARK, "Attic", Paper.LETTER)
    root = ET.fromstring(svg(page))
    assert (root.get("width"), root.get("height")) == ("215.9mm", "279.4mm")
    assert root.get("viewBox") == "0 0 215.9 279.4"


def test_a_page_of_svg_has_every_text_and_line_where_it_belongs() -> None:
    mark = msgspec.structs.replace(MARK, name="<Łódź> & 屋根裏", notes='a "b" \\ c')
    (page,) = put_back_card(mark, "Attic", Paper.A4)
    root = ET.fromstring(svg(page))
    texts = [item for item in page.items if isinstance(item, PageText)]
    shown = root.findall(f"{SPACE}text")
    assert [one.text or "" for one in shown] == [text.text for text in texts]
    assert [float(one.get("y", "")) for one in shown] == [round(text.at[1], 3) for text in texts]
    lines = [item for item in page.items if isinstance(item, Polyline)]
    drawn = root.findall(f"{SPACE}polyline")
    assert len(drawn) == len(lines)
    for one, line in zip(drawn, lines, strict=True):
        first, *_ = one.get("points", "").split()
        assert first == ",".join(f"{value:.3f}".rstrip("0").rstrip(".") for value in line.points[0])
