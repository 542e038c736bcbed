"""Sheets without the extra ``letters``: every viewer's own face, and a refusal beyond it."""

from __future__ import annotations

import html
import sys
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from paper import faces, read_back, words
from pypdf._codecs.core_font_metrics import CORE_FONT_METRICS
from sheet_cases import EVENING, MARK, SETUP

from witnessmark.cli import main
from witnessmark.errors import BadInput
from witnessmark.model import Side
from witnessmark.report.evening import evening_report
from witnessmark.report.faces import StandardFace, face_of, families, has_extra
from witnessmark.report.floor_sheets import foot_template, marking_out, put_back_card
from witnessmark.report.letters import printable, width_mm
from witnessmark.report.page import Page, PageText, Paper
from witnessmark.report.pdf import pdf
from witnessmark.report.svg import svg

ROUND = """
format = "witnessmark round 1"
room = { width = "5.36 m", length = "7.24 m" }
cabinet = { width = "262 mm", depth = "391 mm" }
target.left = { side = "1.45 m", setback = "1.90 m", toe_in = 8.0 }
"""
WINDOWS_1252 = "".join(
    bytes([code]).decode("cp1252", "ignore")
    for code in range(0x20, 0x100)
    if code not in {0x7F, 0xAD}
)


@pytest.fixture(scope="module")
def plain() -> Iterator[None]:
    """Neither of the extra's packages can be imported."""
    with pytest.MonkeyPatch.context() as patch:
        for package in ("weblate_fonts", "reportlab"):
            patch.setitem(sys.modules, package, None)
        for cached in (has_extra, printable):
            cached.cache_clear()
        yield
    for cached in (has_extra, printable):
        cached.cache_clear()


def sheets(paper: Paper) -> dict[str, tuple[Page, ...]]:
    return {
        "layout": marking_out("Grenier, côté été", SETUP, paper),
        "card": put_back_card(MARK, "Süd", paper),
        "template": foot_template("Attic", SETUP, Side.LEFT, paper),
        "report": evening_report(EVENING, paper),
    }


@pytest.mark.usefixtures("plain")
@pytest.mark.parametrize("paper", Paper)
def test_every_sheet_is_printed_in_a_face_that_viewers_have(paper: Paper) -> None:
    for name, pages in sheets(paper).items():
        read = read_back(pdf(pages, name))
        for page, drawn in zip(read.pages, pages, strict=True):
            fonts = faces(page)
            assert {font["/BaseFont"] for font in fonts} == {"/Helvetica", "/Helvetica-Bold"}
            assert {font["/Encoding"] for font in fonts} == {"/WinAnsiEncoding"}
            text = page.extract_text()
            for item in drawn.items:
                if isinstance(item, PageText):
                    assert item.text in text
        assert all("<text" in svg(page) for page in pages)


@pytest.mark.usefixtures("plain")
@given(st.text(WINDOWS_1252, min_size=1, max_size=60))
def test_every_letter_of_western_europe_is_read_back(text: str) -> None:
    line, lacking = printable(text)
    assert not lacking
    page = Page(210, 297, (PageText(line, (10, 20)), PageText(line, (10, 40), bold=True)))
    assert words(read_back(pdf([page], text))) == " ".join(f"{line} {line}".split())


@pytest.mark.usefixtures("plain")
@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_the_face(bold: bool) -> None:
    """Adobe's metrics of the fourteen standard faces, as pypdf ships them."""
    (family,) = families("any")
    face = face_of(family, bold=bold)
    assert isinstance(face, StandardFace)
    published = CORE_FONT_METRICS[face.name].character_widths
    assert set(face.widths) == set(WINDOWS_1252)
    for sign, width in face.widths.items():
        # a space that does not break is as wide as one that does
        assert width == published[sign.replace("\xa0", " ")], sign
    wide = sum(published[sign] for sign in "Wim") / 100
    assert width_mm("Wim", 10, bold=bold) == pytest.approx(wide)


@pytest.mark.usefixtures("plain")
@pytest.mark.parametrize(
    ("name", "signs"),
    [
        ("客厅", '"厅" "客"'),
        ("Łódź, półka", '"Ł" "ł" "ź"'),
        ("".join(map(chr, range(0x430, 0x442))), '"л" and 6 more'),
    ],
)
def test_other_letters_are_named_with_the_extra_that_has_them(name: str, signs: str) -> None:
    with pytest.raises(BadInput) as caught:
        put_back_card(MARK, name, Paper.A4)
    told = str(caught.value)
    assert signs in told
    assert told.endswith('writing systems run pip install "witnessmark[letters]"')
    assert "\n" not in told


@pytest.mark.usefixtures("plain")
def test_typographic_signs_are_printed_as_their_plain_equivalents() -> None:
    name = "5′ 3⁄8″ −2 mm, front\u2011left side\u2010wall"
    plain_name = "5' 3/8\" -2 mm, front-left side-wall"
    pages = put_back_card(msgspec.structs.replace(MARK, name=name), "Attic", Paper.A4)
    assert f"Put back: {plain_name}" in words(read_back(pdf(pages, name)))
    assert f"Put back: {html.escape(plain_name, quote=False)}" in svg(pages[0])
    assert width_mm(name) == width_mm(plain_name)


@pytest.mark.usefixtures("plain")
@pytest.mark.parametrize("file", ["plan.pdf", "plan.svg", "-"])
def test_a_refused_sheet_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, file: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("客厅.toml").write_text(ROUND, "utf-8")
    done = CliRunner().invoke(main, ["sheet", "layout", file, "--from", "客厅.toml"])
    assert (done.exit_code, done.stdout) == (2, "")
    (line,) = done.stderr.splitlines()
    assert '"厅" "客"' in line
    assert "witnessmark[letters]" in line
    assert [path.name for path in tmp_path.iterdir()] == ["客厅.toml"]
    Path("Küche.toml").write_text(ROUND, "utf-8")
    assert (
        CliRunner().invoke(main, ["sheet", "layout", file, "--from", "Küche.toml"]).exit_code == 0
    )
