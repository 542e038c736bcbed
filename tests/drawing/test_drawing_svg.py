"""The drawing as SVG: the same strokes to scale, told apart without colour, fit to be embedded."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box, Drawing, Ink, Label, LinePattern, Stroke
from witnessmark.drawing.svg import svg
from witnessmark.model import PlanPoint, Setup

NAMESPACE = "{http://www.w3.org/2000/svg}"
points = st.tuples(st.floats(-9000, 9000), st.floats(-9000, 9000))


def elements(text: str, name: str) -> list[ET.Element]:
    return ET.fromstring(text).findall(f"{NAMESPACE}{name}")


def shown(text: str) -> Box:
    left, top, width, height = map(float, ET.fromstring(text).attrib["viewBox"].split())
    return Box(left, top, left + width, top + height)


@given(st.lists(points, min_size=2, max_size=6), st.sampled_from(Ink))
def test_points_are_plan_millimetres_to_a_tenth(line: list[PlanPoint], ink: Ink) -> None:
    (found,) = elements(svg(Drawing((Stroke(tuple(line), ink),))), "polyline")
    written = [tuple(map(float, pair.split(","))) for pair in found.attrib["points"].split()]
    assert written == [pytest.approx(point, abs=0.0501) for point in line]
    assert found.attrib["class"] == ink


def test_lines_are_told_apart_by_their_patterns() -> None:
    line = ((0.0, 0.0), (1000.0, 0.0))
    drawing = Drawing(tuple(Stroke(line, ink) for ink in Ink))
    dashes = {
        ink: el.get("stroke-dasharray")
        for ink, el in zip(Ink, elements(svg(drawing), "polyline"), strict=True)
    }
    for ink in Ink:
        assert (dashes[ink] is None) == (ink.pattern is LinePattern.SOLID)
    assert dashes[Ink.TARGET] != dashes[Ink.TARGET_AIM]


def test_the_part_asked_for_is_shown_with_a_margin_for_its_labels(setup: Setup) -> None:
    drawing = plan_drawing(setup.room, seat=setup.seat)
    part = shown(svg(drawing, Box(0, 0, 5360, 3000), letters_mm=150))
    assert (part.left, part.top, part.right, part.bottom) == (-150, -150, 5510, 3150)
    whole = shown(svg(drawing, letters_mm=150))
    assert (whole.right, whole.bottom) == (5510, 7390)


def test_letters_are_as_high_as_asked_and_stand_at_their_place() -> None:
    drawing = Drawing(labels=(Label(" front wall ", (2680.0, 0.0), Ink.WALL),))
    (found,) = elements(svg(drawing, Box(0, 0, 5360, 7240), letters_mm=120), "text")
    assert found.text == "front wall"
    assert found.attrib["font-size"] == "120"
    assert (found.attrib["x"], found.attrib["y"]) == ("2680", "0")
    assert found.attrib["text-anchor"] == "middle"


@given(st.text(alphabet=st.characters(exclude_categories=("C",)), min_size=1))
def test_any_name_of_a_point_stays_text(name: str) -> None:
    drawing = Drawing(labels=(Label(f"<script>{name}</script>", (0.0, 0.0), Ink.SEAT),))
    (found,) = elements(svg(drawing), "text")
    assert found.text == f"<script>{name}</script>"
    assert "<script" not in svg(drawing)


def test_it_needs_no_style_of_its_own(setup: Setup) -> None:
    """A strict content security policy refuses style attributes; presentation attributes pass."""
    text = svg(plan_drawing(setup.room, seat=setup.seat, cabinets=setup.cabinets))
    assert "style" not in text


def test_nothing_at_all_is_still_a_picture() -> None:
    box = shown(svg(Drawing()))
    assert box.right > box.left
    assert box.bottom > box.top
