"""What the room does to a pair, as a page of text or as one object."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import Any

import msgspec

from witnessmark.acoustics.figures import room_sound
from witnessmark.acoustics.scene import Scene
from witnessmark.acoustics.words import Passage, sound_words
from witnessmark.lengths import Units
from witnessmark.locate.symmetry import Symmetry

WIDTH = 78


def sound_page(scene: Scene, units: Units, symmetry: Symmetry | None = None) -> str:
    """The sentences under their headings, lengths in ``units``.

    Raises:
        BadInput: when a cabinet stands where the seat is.
    """
    passages = sound_words(scene, room_sound(scene, symmetry), units)
    return "\n\n".join("\n".join(_lines(passage)) for passage in passages if passage.sentences)


def sound_object(scene: Scene, symmetry: Symmetry | None = None) -> dict[str, Any]:
    """The figures as plain dicts and lists, every unit in its name.

    Raises:
        BadInput: when a cabinet stands where the seat is.
    """
    told: dict[str, Any] = msgspec.to_builtins(room_sound(scene, symmetry))
    return told


def _lines(passage: Passage) -> Iterator[str]:
    yield passage.heading.upper()
    for sentence in passage.sentences:
        yield fill(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")
