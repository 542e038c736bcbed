"""The pictures that the README shows are there, and fetch nothing from elsewhere."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
SHOWN = re.findall(r"\]\((tests/pictures/[^)]+)\)", (ROOT / "README.md").read_text("utf-8"))


def test_the_readme_shows_every_picture_that_there_is() -> None:
    there = {
        path for path in (ROOT / "tests/pictures").iterdir() if path.suffix in {".svg", ".png"}
    }
    assert {ROOT / path for path in SHOWN} == there


def test_a_picture_names_no_type_face_and_no_window() -> None:
    for path in (ROOT / "tests/pictures").glob("*.svg"):
        text = path.read_text("utf-8")
        faces = {face.strip() for face in re.findall(r"font-family[:=][\s\"]*([^;\"}]*)", text)}
        assert faces <= {"monospace", "sans-serif"}
        assert "<circle" not in text


def test_a_picture_fetches_nothing_from_elsewhere() -> None:
    for path in (ROOT / "tests/pictures").glob("*.svg"):
        text = path.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http" not in text
        assert "@font-face" not in text
