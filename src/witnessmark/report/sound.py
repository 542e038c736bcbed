"""What the room does to the sound of a pair, as a document."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.acoustics.figures import room_sound
from witnessmark.acoustics.scene import Scene
from witnessmark.lengths import Units
from witnessmark.locate.symmetry import Symmetry
from witnessmark.report.blocks import Block, Heading, Paragraph
from witnessmark.words.sound import sound_words

WIDTH = 78
"""Columns of it on the terminal."""


def sound_blocks(scene: Scene, units: Units, symmetry: Symmetry | None = None) -> Iterator[Block]:
    """Tell what the room does to the sound, lengths in ``units``.

    Raises:
        BadInput: when a cabinet stands where the seat is.
    """
    for passage in sound_words(scene, room_sound(scene, symmetry), units):
        if passage.sentences:
            yield Heading(passage.heading)
            yield from (Paragraph(sentence, indent=2) for sentence in passage.sentences)
