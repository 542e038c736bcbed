"""History on the screen: by room, by kind, page by page."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sitting import Sitting

from witnessmark.app.steps import Aside, Step
from witnessmark.model import (
    Act,
    Decision,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Preference,
    Reading,
    Setup,
    Trial,
    Varied,
)
from witnessmark.session.workspace import Workspace
from witnessmark.store.history import PAGE_ITEMS
from witnessmark.store.store import Store

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)
PLACED = Pair(Placement(1450.4, 1899.7, 8.04), Placement(1449.8, 1901.0, 7.9))
POSES = Poses(PLACED, ((0.0,) * 6,) * 6)


@pytest.fixture
def past(store_file: Path, setup: Setup) -> None:
    """Two rooms: one with readings of three pages and a bit of everything, one with a mark."""
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", setup, AT), AT)
        for second in range(2 * PAGE_ITEMS):
            at = AT + timedelta(seconds=second)
            store.append(round_id, Reading(1000.0 + second, at, "typed:"))
        after = AT + timedelta(hours=1)
        store.append(round_id, Decision(Act.UNDO, after))
        keys = [
            store.keep("Attic", round_id, Trial(after, Varied.STATION, PLACED, Impression())).key
            for _ in range(2)
        ]
        store.keep("Attic", None, Preference(after, keys[0], keys[1], better=keys[1]))
        store.keep("Attic", round_id, Mark(after, "home [b]", setup, POSES, ()))
        store.keep("Barn", None, Mark(after, "elsewhere", setup, POSES, ()))


async def test_the_newest_page_comes_first_and_shows_its_end(
    sit_down: SitDown, opening: Workspace, past: None
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("y")
        assert sitting.is_at(Aside.HISTORY)
        assert sitting.told.startswith("Page 3 of 3; 20")
        assert "n Newer" not in sitting.text
        await sitting.press("ctrl+p")
        assert sitting.told.startswith("Page 2 of 3")
        await sitting.press("ctrl+p", "ctrl+p")
        assert sitting.told.startswith("Page 1 of 3")
        assert "o Older" not in sitting.text
        assert "reading 1097.0 mm" in sitting.text
        await sitting.press(*["pageup"] * 9)
        assert "2026-05-17 09:30:00Z setup   saved" in sitting.text
        assert "Attic, round 1" in sitting.text
        await sitting.press("ctrl+n")
        assert sitting.told.startswith("Page 2 of 3")
        await sitting.press("escape")
        assert sitting.is_at(Step.LIVE)


@pytest.mark.parametrize(
    ("kind", "shown", "not_shown"),
    [
        ("readings", "reading 1199.0 mm", "mark"),
        ("trials", "preference trial 2 was preferred to trial 1", "reading "),
        ("marks", 'mark "home [b]": left side 1450.4', "trial"),
        ("rounds", "command the last reading or decision was undone", "reading "),
    ],
)
async def test_one_kind_alone_is_shown(
    sit_down: SitDown, opening: Workspace, past: None, kind: str, shown: str, not_shown: str
) -> None:
    async with sit_down(opening, size=(140, 45)) as sitting:
        await sitting.press("y")
        await sitting.choose("kinds", kind)
        items = [line for line in sitting.text.splitlines() if line.startswith(" 2026-")]
        assert any(shown in " ".join(line.split()) for line in items)
        assert not any(f"Z {not_shown}" in " ".join(line.split()) for line in items)


async def test_all_rooms_are_shown_or_this_one(
    sit_down: SitDown, opening: Workspace, past: None
) -> None:
    async with sit_down(opening, size=(140, 45)) as sitting:
        await sitting.press("y")
        await sitting.choose("kinds", "marks")
        assert "elsewhere" not in sitting.text
        assert sitting.told == "Page 1 of 1; 1 in all."
        await sitting.choose("rooms", "all rooms")
        assert "Barn" in sitting.text
        assert '"elsewhere"' in sitting.text
        assert sitting.told == "Page 1 of 1; 2 in all."


async def test_where_nothing_of_a_kind_happened_that_is_said(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("y")
        await sitting.choose("kinds", "trials")
        assert sitting.told == "Nothing of that kind yet."
