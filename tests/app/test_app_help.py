"""Help: the keys of a screen, its page of the manual, and the way to all other pages."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager

from effort import cases
from sitting import Sitting
from textual.containers import VerticalScroll
from textual.widgets import Markdown

from witnessmark.app.screens.help import HelpScreen
from witnessmark.app.steps import Step
from witnessmark.manual import TOPICS, manual_page
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


def page(sitting: Sitting) -> str:
    return sitting.app.screen.query_one(Markdown).source


def column(sitting: Sitting) -> list[str]:
    """What is shown beside the contents, a line each."""
    return [line.partition("│")[2].strip() for line in sitting.text.splitlines()]


async def test_the_page_of_the_screen_follows_its_keys(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening, size=(80, 24)) as sitting:
        await sitting.press("r", "escape", "question_mark")
        assert page(sitting) == manual_page("room").text
        assert "Keys: Room" in sitting.text
        assert "Go to the next step." in sitting.text
        seen = sitting.text
        for _ in range(4):
            await sitting.press("pagedown")
            seen += sitting.text
        assert "Never look into the beam" in seen
        assert "Type two lengths: the width along the front wall" in seen
        await sitting.press("question_mark")
        assert sitting.is_at(Step.ROOM)


async def test_the_contents_lead_to_every_page_and_back_to_the_keys(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening, size=(80, 24)) as sitting:
        await sitting.press("question_mark")
        assert column(sitting)[0] == "Keys: Live"
        contents = [line.partition("│")[0].strip(" ◂") for line in sitting.text.splitlines()]
        assert "Shoot and nudge ◂" in sitting.text  # the page of this screen
        await sitting.press("tab")
        every = cases(4, 1)  # the pages between are leafed past: to lay one out takes long
        for place, topic in enumerate(TOPICS, 1):
            assert manual_page(topic).heading in contents
            if place % every:
                sitting.app.simulate_key("down")
                continue
            await sitting.press("down")
            assert page(sitting) == manual_page(topic).text
            assert column(sitting)[0] == manual_page(topic).heading
        await sitting.press(*["up"] * len(TOPICS))
        assert column(sitting)[0] == "Keys: Live"


async def test_a_page_is_read_after_enter_and_its_links_turn_to_others(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening, size=(80, 24)) as sitting:
        await sitting.press("question_mark", "tab", "down", "down", "down", "enter")
        page_column = sitting.app.screen.query_one("#page", VerticalScroll)
        assert page_column.has_focus
        await sitting.press("down", "down")
        assert page_column.scroll_y == 2
        document = sitting.app.screen.query_one(Markdown)
        document.post_message(Markdown.LinkClicked(document, "phone.md"))
        await sitting.settle()
        assert page(sitting) == manual_page("phone").text
        assert page_column.scroll_y == 0
        await sitting.press("tab")
        assert "▸ Phone" in sitting.text


async def test_help_is_not_opened_over_itself(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("f1", "f1")
        assert not isinstance(sitting.app.screen, HelpScreen)


def test_the_viewer_of_pages_is_imported_when_help_is_opened_and_not_before() -> None:
    code = "import sys, witnessmark.app.app, witnessmark.app.screens.live; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "textual.app" in loaded
    assert not loaded & {"textual.widgets._markdown", "markdown_it", "witnessmark.manual"}
