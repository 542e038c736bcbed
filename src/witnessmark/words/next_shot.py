"""The next shot, as every view tells it: which one, of which cabinet, from where to where."""

from __future__ import annotations

import msgspec

from witnessmark.lengths import format_length
from witnessmark.model import ShotKind, Side
from witnessmark.placing.guidance import Guidance, Task


class NextShot(msgspec.Struct, frozen=True):
    """The shot to take next, or the one that is watched while the cabinet is moved."""

    kind: ShotKind
    should_read_mm: float | None
    """What it reads with the cabinet where it should be; None without a target."""
    place: str
    """Which of the walk's shots it is."""
    again: bool
    """It was taken before since the cabinet was last moved."""


class NextShotWords(msgspec.Struct, frozen=True):
    """The next shot in words: labels, no sentences."""

    side: Side
    place: str
    """Which of the walk's shots it is, or that it is taken once more."""
    shot: str
    should_read: str
    """What it should read when right; empty where that is not known."""


def next_shot(now: Guidance) -> NextShot | None:
    """Return the next shot; None when both cabinets are done."""
    if now.task is Task.NOTHING:
        return None
    prompt, kind = now.prompt, now.prompt.kind
    stop_mm = None if now.watch is None else now.watch.stop_mm
    if now.held is not None and now.held.kind != kind:
        return NextShot(now.held.kind, stop_mm, "", again=True)
    place = f"shot {prompt.number} of {prompt.count}"
    reads_mm = prompt.on_target_mm if stop_mm is None else stop_mm
    return NextShot(kind, reads_mm, place, again=prompt.once_more)


def next_shot_words(now: Guidance) -> NextShotWords | None:
    """Return the next shot in words; None when both cabinets are done."""
    shot = next_shot(now)
    if shot is None:
        return None
    reads = ""
    if shot.should_read_mm is not None:
        reads = f"should read {format_length(shot.should_read_mm, now.setup.units)}"
    again = "once more" if shot.again else ""
    place = ", ".join(filter(None, (shot.place, again)))
    return NextShotWords(shot.kind.cabinet, place, shot.kind.words, reads)
