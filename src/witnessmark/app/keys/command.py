"""A thing that a key does."""

from __future__ import annotations

from typing import NamedTuple

from witnessmark.app.steps import EVERYWHERE, Place


class Command(NamedTuple):
    """A thing that a key does: ``keys`` separated by commas, ``places`` where it can be done.

    ``label`` is the word in the key bar, ``explained`` the sentence on the help screen. ``typing``
    commands work while the cursor is in a field too.
    """

    id: str
    keys: str
    label: str
    explained: str
    action: str
    places: frozenset[Place] = EVERYWHERE
    typing: bool = False
