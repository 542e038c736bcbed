"""What the room screen tells of a room beside its size."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from textwrap import wrap

from witnessmark.errors import BadInput
from witnessmark.model import Room
from witnessmark.session.draft import Draft
from witnessmark.survey.names import listed

_SAME_MM = 0.01
_KEY = re.compile("(room|datum|offsets|keep_clear|mark): ")
GIVEN_UP = "Other corners are typed here than were surveyed: the survey's distances are not kept."


def plainly(error: BadInput) -> str:
    """What is wrong, without the key under which it would stand in a file."""
    return f"✗ {_KEY.sub('', str(error), count=1)}."


def hanging(words: str, columns: int, *, first: str = "", rest: str = "  ") -> str:
    """Words in lines of so many columns that begin with ``first`` and ``rest``: a row of a list."""
    return "\n".join(wrap(words, columns, initial_indent=first, subsequent_indent=rest))


def same_corners(room: Room, other: Room) -> bool:
    """Whether two rooms have the same corners, but for rounding."""
    pairs = zip(room.corners, other.corners, strict=True)
    return all(math.dist(one, another) < _SAME_MM for one, another in pairs)


def has_square_corners(room: Room) -> bool:
    """Whether it is a rectangle, as one is that was typed so."""
    return same_corners(room, Room.rectangular(room.width_mm, room.length_mm))


def state_words(draft: Draft) -> str:
    """How far the room is out of square, and what else is known of it."""
    return "" if draft.room is None else " ".join(_sentences(draft.room, len(draft.survey)))


def _sentences(room: Room, surveyed: int) -> Iterator[str]:
    if not has_square_corners(room):
        from witnessmark.survey.squareness import corner_angles  # noqa: PLC0415 - numpy is slow

        over = max(abs(angle.over_deg) for angle in corner_angles(room).values())
        yield f"Out of square by up to {over:.2f}°."
    for wall in room.datum:
        yield f"On the {wall} a line in place of a wall."
    if room.offsets:
        proud = listed(list(dict.fromkeys(str(offset.wall) for offset in room.offsets)))
        yield f"Not bare: {proud} wall."
    if room.keep_clear:
        yield f"Kept clear: {listed([zone.name for zone in room.keep_clear])}."
    if surveyed:
        yield f"Surveyed distances: {surveyed}."
