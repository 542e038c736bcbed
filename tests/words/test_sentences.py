"""What is said in order of an evening: a page to read, and rules for each sentence.

``WITNESSMARK_PAGES=write`` writes ``evening.txt`` anew: then read it aloud.
"""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest
from exact_shots import SETUP, TARGET, finished, off, shoot, walk_round, world_of
from stored import check

from witnessmark import words
from witnessmark.acoustics.figures import room_sound
from witnessmark.acoustics.scene import Scene
from witnessmark.app.commands import COMMANDS
from witnessmark.listening.evening import Evening
from witnessmark.locate.compare import compare
from witnessmark.locate.tilt import tilt_symmetry
from witnessmark.model import (
    Attribute,
    Impression,
    Meter,
    Pair,
    Placement,
    Poses,
    Preference,
    Setup,
    Tilt,
    Trial,
)
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.sentences import sentence
from witnessmark.words import cautions
from witnessmark.words.listening import said_words, trial_words, walk_words
from witnessmark.words.live import say
from witnessmark.words.marks import comparison_words
from witnessmark.words.sound import sound_words
from witnessmark.words.tilt import tilt_symmetry_words
from witnessmark_simulators.scenario import DEMO_SETUP

EVENING = Path(__file__).parent / "evening.txt"
ARCHAIC = re.compile(
    r"\b(taken up|askew|thrice|twice alike|whereof|told of|tells? of|afresh|lets? it go|"
    r"looking after|has it|so long|afar|anew|found by itself|may stay empty|"
    r"more than th\w+ \w+ can tell)\b"
)


def _cautions() -> Iterator[str]:
    yield from (text for name, text in vars(cautions).items() if name.isupper())


def _keys() -> Iterator[str]:
    yield from (command.explained for command in COMMANDS)


def _said(state: Round) -> Iterator[str]:
    said = say(guide(state))
    yield from filter(None, (said.caution, said.headline.words, said.next_shot, *said.details))


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
    yield from _said(shoot(Round.begin(SETUP), world_of(), [0.0, 900.0]))


def _doubt() -> Iterator[str]:
    """A meter that is too coarse for the tolerance."""
    coarse: Setup = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.5))
    yield from _said(finished(coarse))


def _listening() -> Iterator[str]:
    """Stations in turn, two graded, one of them preferred; what they say, and what is next."""
    stations = Evening(DEMO_SETUP).walk.proposals[:2]
    at = datetime(2026, 5, 17, 20, 0, tzinfo=UTC)
    trials = {
        f"t{number}": Trial(
            at + timedelta(minutes=number),
            station.varied,
            station.targets,
            Impression({Attribute.TIMBRE: 3 + number}, best=number == 1),
        )
        for number, station in enumerate(stations)
    }
    evening = Evening(DEMO_SETUP, trials, (Preference(at, "t0", "t1", "t1"),))
    fragments = (*walk_words(evening.walk), *trial_words(evening, "t0"), *said_words(evening))
    yield from map(sentence, fragments)


def _moved() -> Iterator[str]:
    """The left cabinet was pushed and turned since a mark was made, the right one was not."""
    exact = tuple(tuple(0.25 * (row == column) for column in range(6)) for row in range(6))
    then = Poses(Pair(TARGET, TARGET), exact, Pair[Tilt | None](None, None))  # type: ignore[arg-type]
    pushed = Placement(TARGET.side_mm + 23.0, TARGET.setback_mm - 41.0, TARGET.toe_in_deg + 5.0)
    now = msgspec.structs.replace(then, placements=Pair(pushed, TARGET))
    yield from map(sentence, comparison_words(SETUP, compare(SETUP, then, now)))
    yield from map(sentence, comparison_words(SETUP, compare(SETUP, then, then)))


def _sound() -> Iterator[str]:
    """What the room does to the pair of the demo."""
    scene = Scene.of(DEMO_SETUP, Pair[Placement | None](None, None))
    for passage in sound_words(scene, room_sound(scene), DEMO_SETUP.units):
        yield from passage.sentences


def _fixed() -> Iterator[str]:
    """All sentences that are the same whatever was measured, with those that are asked for."""
    for found in pkgutil.iter_modules(words.__path__, words.__name__ + "."):
        module = importlib.import_module(found.name)
        for name, value in vars(module).items():
            if name.isupper() and name not in vars(cautions) and module is not cautions:
                yield from map(sentence, filter(_is_said_alone, _texts(value)))


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        yield from (text for each in value.values() for text in _texts(each))
    elif isinstance(value, tuple):
        yield from (text for each in value for text in _texts(each))


def _is_said_alone(text: str) -> bool:
    """Return whether it is more than a word or two, and no pattern to be filled in."""
    return text.count(" ") > 2 and "{" not in text


def _tilts() -> Iterator[str]:
    for tilt_deg, expanded_deg in ((0.02, 0.05), (0.27, 0.26), (-0.6, 0.1)):
        now = Tilt(2.0 + tilt_deg, expanded_deg / 2.0), Tilt(2.0, 0.001)
        yield sentence(tilt_symmetry_words(tilt_symmetry(*now, 0.2)))


PARTS = {
    "Before anything": _cautions,
    "The same for everyone": _fixed,
    "Tilts": _tilts,
    "Keys": _keys,
    "The walk": _walk,
    "A question": _question,
    "In doubt": _doubt,
    "What was heard": _listening,
    "What moved": _moved,
    "What the room does": _sound,
}


def _page() -> dict[str, list[str]]:
    return {heading: list(dict.fromkeys(part())) for heading, part in PARTS.items()}


def test_the_sentences_of_an_evening_are_those_that_were_read() -> None:
    blocks = ("\n".join([heading, "", *lines]) for heading, lines in _page().items())
    check(EVENING, "\n\n".join(blocks) + "\n")


@pytest.mark.parametrize("heading", PARTS)
def test_each_is_a_whole_sentence_in_plain_words(heading: str) -> None:
    for said in _page()[heading]:
        assert said[0].isupper() or said[0].isdigit(), said
        assert said.endswith((".", "?", "!")), said
        assert "  " not in said, said
        assert not said.endswith(".."), said
        assert ARCHAIC.search(said.lower()) is None, said
