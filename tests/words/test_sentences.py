"""Cautions, keys and the live screen in order of an evening: a page to read, and rules for each.

``WITNESSMARK_PAGES=write`` writes ``evening.txt`` anew: then read it aloud.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from exact_shots import SETUP, finished, off, shoot, walk_round, world_of
from stored import check

from witnessmark.app.commands import COMMANDS
from witnessmark.model import Meter, Setup
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.words import cautions
from witnessmark.words.live import say

EVENING = Path(__file__).parent / "evening.txt"
ARCHAIC = re.compile(
    r"\b(taken up|askew|thrice|twice alike|whereof|told of|tells? of|afresh|lets? it go|"
    r"looking after|has it|so long|afar|anew)\b"
)


def _cautions() -> Iterator[str]:
    yield from (text for name, text in vars(cautions).items() if name.isupper())


def _keys() -> Iterator[str]:
    yield from (command.explained for command in COMMANDS)


def _said(state: Round) -> Iterator[str]:
    said = say(guide(state))
    yield from filter(None, (said.caution, said.headline.words, *said.details))


def _walk() -> Iterator[str]:
    """The first walk round both cabinets, a nudge of each, and the end."""
    state = Round.begin(SETUP)
    standing = world_of(left=off(12.0, -30.0, 1.5), right=off(-8.0, 14.0, 0.0))
    for _ in range(4):
        yield from _said(state)
        state = shoot(state, standing)
    state = walk_round(Round.begin(SETUP), standing)
    yield from _said(state)
    yield from _said(shoot(state, standing))
    yield from _said(finished(SETUP))


def _question() -> Iterator[str]:
    """A reading that fits no shot."""
    yield from _said(shoot(Round.begin(SETUP), world_of(), [900.0]))


def _doubt() -> Iterator[str]:
    """A meter that is too coarse for the tolerance."""
    coarse: Setup = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.5))
    yield from _said(finished(coarse))


PARTS = {
    "Before anything": _cautions,
    "Keys": _keys,
    "The walk": _walk,
    "A question": _question,
    "In doubt": _doubt,
}


def _page() -> dict[str, list[str]]:
    return {heading: list(dict.fromkeys(part())) for heading, part in PARTS.items()}


def test_the_sentences_of_an_evening_are_those_that_were_read() -> None:
    blocks = ("\n".join([heading, "", *lines]) for heading, lines in _page().items())
    check(EVENING, "\n\n".join(blocks) + "\n")


@pytest.mark.parametrize("heading", PARTS)
def test_each_is_a_whole_sentence_in_plain_words(heading: str) -> None:
    for sentence in _page()[heading]:
        assert sentence[0].isupper() or sentence[0].isdigit(), sentence
        assert sentence.endswith((".", "?", "!")), sentence
        assert "  " not in sentence, sentence
        assert not sentence.endswith(".."), sentence
        assert ARCHAIC.search(sentence.lower()) is None, sentence
