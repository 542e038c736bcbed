"""What is said of a room beside its size."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.model import Room
from witnessmark.sentences import listed

GIVEN_UP = "Other corners are typed here than were surveyed: the survey's distances are not kept."


def room_words(room: Room | None, surveyed: int) -> str:
    """Return how far the room is out of square, and what else is known of it."""
    return "" if room is None else " ".join(_sentences(room, surveyed))


def _sentences(room: Room, surveyed: int) -> Iterator[str]:
    if not room.is_rectangle:
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
