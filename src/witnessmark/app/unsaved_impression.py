"""What was said of a position and is not kept yet."""

from __future__ import annotations

from typing import NamedTuple

from witnessmark.model import Impression, Pair, Placement


class UnsavedImpression(NamedTuple):
    """Said in a room, of the position that the pair was to stand at."""

    room: str
    targets: Pair[Placement | None]
    heard: Impression
