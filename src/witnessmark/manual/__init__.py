"""The manual: a page of Markdown for each topic, in plain English, and their order.

In a page bold stands for a key alone, with the word that the key bar has for it, and what is typed
in a shell stands as code; ``tests/cli/test_manual.py`` compares both with the program.
"""

from __future__ import annotations

from importlib.resources import files
from typing import NamedTuple

from witnessmark.errors import BadInput

TOPICS = (
    "evening",
    "care",
    "room",
    "awkward",
    "cabinets",
    "layout",
    "meter",
    "teaching",
    "live",
    "verdicts",
    "symmetry",
    "sound",
    "foresight",
    "listening",
    "marks",
    "phone",
    "paper",
    "history",
    "files",
)
"""The pages by name, in the order in which a newcomer reads them."""


class ManualPage(NamedTuple):
    """One page: its name, its heading, and its Markdown, which begins with the heading."""

    topic: str
    heading: str
    text: str


def manual_page(topic: str) -> ManualPage:
    """Return the page on a topic.

    Raises:
        BadInput: when there is none, naming those there are.
    """
    if topic not in TOPICS:
        raise BadInput(f'no page "{topic}" in the manual; there are: {", ".join(TOPICS)}')
    text = (files(__name__) / f"{topic}.md").read_text("utf-8")
    return ManualPage(topic, text.partition("\n")[0].removeprefix("# "), text)


def manual_pages() -> list[ManualPage]:
    """Return all pages in their order."""
    return [manual_page(topic) for topic in TOPICS]
