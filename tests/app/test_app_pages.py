"""A few whole screens as text; WITNESSMARK_PAGES=write writes them anew: then read them."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import pytest
from sitting import Sitting

from witnessmark.app.opening import Opening

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
PAGES = Path(__file__).parent / "pages"


def check(name: str, text: str) -> None:
    page = PAGES / f"{name}.txt"
    if os.environ.get("WITNESSMARK_PAGES") == "write":
        page.parent.mkdir(exist_ok=True)
        page.write_text(f"{text}\n", encoding="utf-8")
    assert f"{text}\n" == page.read_text(encoding="utf-8")


async def test_the_first_screen_of_a_newcomer(sit_down: SitDown) -> None:
    async with sit_down(size=(80, 24)) as sitting:
        check("room-80x24", sitting.text)


@pytest.mark.parametrize(
    ("name", "key", "size"),
    [
        ("cabinets-80x24", "c", (80, 24)),
        ("layout-80x24", "l", (80, 24)),
        ("layout-140x45", "l", (140, 45)),
        ("meter-80x24", "m", (80, 24)),
    ],
)
async def test_the_screens_of_a_whole_setup(
    sit_down: SitDown, opening: Opening, name: str, key: str, size: tuple[int, int]
) -> None:
    async with sit_down(opening, size=size) as sitting:
        await sitting.press(key)
        check(name, sitting.text)
