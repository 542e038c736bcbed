"""Names in whatever writing, and what is printed where a sign has no face."""

from __future__ import annotations

import msgspec
import pytest
from effort import examples
from hypothesis import example, given
from hypothesis import strategies as st
from paper import read_back, words
from sheet_cases import MARK

from witnessmark.report.floor_sheets import put_back_card
from witnessmark.report.letters import LACKING, cut, printable, width_mm, wrapped
from witnessmark.report.page import Paper
from witnessmark.report.pdf import pdf
from witnessmark.report.svg import svg


@pytest.mark.parametrize(
    "name",
    ["Łódź, półka", "Подвал дома", "Κάτω όροφος", "屋根裏のへや", "客厅", "거실", "Phòng khách"],
)
def test_a_name_outside_latin_1_is_printed_and_read_back(name: str) -> None:
    mark = msgspec.structs.replace(MARK, name=name)
    read = words(read_back(pdf(put_back_card(mark, name, Paper.A4), name)))
    assert f"Put back: {name}" in read
    assert f"{name}, kept 2026-05-17 20:30Z." in read
    assert LACKING not in read


def test_signs_that_steer_a_terminal_are_written_out_on_paper_and_in_its_title() -> None:
    name = "a\x1b[2J\x07\u202eb"
    pages = put_back_card(MARK, name, Paper.A4)
    reader = read_back(pdf(pages, name))
    told = r"a\x1b[2J\x07\u202eb"
    assert told in words(reader)
    assert reader.metadata.title == told
    drawn = "".join(map(svg, pages))
    assert told in drawn
    assert not set(name) & set(drawn) - set(told)


def test_typographic_signs_that_a_face_has_stay_as_they_are() -> None:
    assert printable("5′ 3″ −2 mm") == ("5′ 3″ −2 mm", frozenset())


def test_a_sign_without_a_face_is_a_box_and_the_foot_names_it() -> None:
    read = words(read_back(pdf(put_back_card(MARK, "Attic 😀 שלום", Paper.A4), "")))
    assert f"Attic {LACKING} {LACKING * 4}, kept" in read
    assert f"{LACKING}: a character that cannot be printed here (hebrew letter" in read


@given(st.text(max_size=60))
def test_whatever_is_written_can_be_printed(text: str) -> None:
    line, lacking = printable(text)
    assert printable(line) == (line, frozenset())
    assert width_mm(text) == width_mm(line) >= 0
    assert not lacking & set(line)


@examples(25, 100)
@example("\x1b0", 8.0)
@given(st.text(st.characters(max_codepoint=0x24F), max_size=200), st.floats(8, 100))
def test_no_line_is_wider_than_it_may_be_and_no_word_is_lost(text: str, most_mm: float) -> None:
    lines = wrapped(text, most_mm)
    assert all(width_mm(line) <= most_mm + 0.01 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert width_mm(cut(text, most_mm)) <= max(most_mm, width_mm("…")) + 0.01
