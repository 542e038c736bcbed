"""The next shot, as every view tells it: in labels, in a sentence and in the large characters."""

from __future__ import annotations

from typing import Final

import msgspec

from witnessmark.lengths import format_length
from witnessmark.meters.port import LinkState
from witnessmark.model import ShotKind, Side
from witnessmark.placing.guidance import Guidance, Task
from witnessmark.words.holding import arrow_of, held_figure

HOLDING: Final = "HOLDING"
"""In large characters: readings of a shot are only shown until it is let go."""
NO_METER: Final = "NO METER"
WHILE_MOVING: Final = "while you move"
MISSING: Final = "the meter is lost. There is nothing to shoot with"
FIND_METER: Final = {
    LinkState.LOST: (
        "switch the meter on, bring it nearer or plug it in. The program then finds it",
        "or type a tape's distance and Enter",
    ),
    LinkState.CLOSED: ("press m to choose a meter, or type a tape's distance and Enter",),
}
"""What to do where there is no meter, by how its link came to its end."""


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
    """Which of the walk's shots it is, or that it is taken once more or while the cabinet moves."""
    shot: str
    should_read: str
    """What it should read when right, or where to stop; empty where that is not known."""


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
        right = format_length(shot.should_read_mm, now.setup.units)
        reads = f"should read {right}" if now.watch is None else f"stop at {right}"
    again = "once more" if shot.again else ""
    place = ", ".join(filter(None, (shot.place, again))) if now.watch is None else WHILE_MOVING
    return NextShotWords(shot.kind.cabinet, place, shot.kind.words, reads)


def point_figure(kind: ShotKind) -> str:
    """Return a shot in the large characters: its corner, and the way to its wall."""
    # spaces are narrower than hyphens, and the whole must be readable from afar
    return f"{kind.point.replace('-', ' ').upper()} {arrow_of(kind)}"


def shot_figure(now: Guidance) -> str:
    """Return the prompted shot in the large characters, with its cabinet."""
    return f"{now.side[0].upper()} {point_figure(now.prompt.kind)}"


def how_figure(now: Guidance) -> str:
    """Return how the meter is held for the prompted shot; of the one just taken, that it is that.

    Without a change in the large characters nobody would see that the reading came.
    """
    kind = now.prompt.kind
    if now.prompt.once_more and now.last is not None and now.last.kind == kind:
        return "ONCE MORE"
    return held_figure(kind, now.setup.meter.edge)


def shot_words(now: Guidance) -> str:
    """Return the prompted shot: which one of which cabinet, and what it should read."""
    prompt = now.prompt
    again = " once more" if prompt.once_more else ""
    which = f"{now.side} cabinet, shot {prompt.number} of {prompt.count}{again}"
    return f"{which}: {_what_and_how_far(now)}"


def following_shot(now: Guidance, *, is_missing: bool) -> str:
    """Return which shot comes next, where the headline is about something else; else nothing.

    Args:
        now: what is asked for now.
        is_missing: whether the headline says that there is no meter.
    """
    if now.hold and not is_missing:
        return ""
    if now.task is Task.NOTHING:
        shot = f"{now.side} {_what_and_how_far(now)}"
        is_told = is_missing or now.settling is not None
        return "" if is_told else f"to check the pair, shoot {shot}"
    if now.task is Task.NUDGE and not is_missing:
        return _while_moving(now)
    if is_missing:
        return f"next: {now.side} {_what_and_how_far(now)}"
    is_announced = now.task is Task.SHOOT and now.arrived is not None
    return f"next: {shot_words(now)}" if is_announced else ""


def _while_moving(now: Guidance) -> str:
    kind, watch = now.prompt.kind, now.watch
    if watch is None:
        return f"then shoot {_what_and_how_far(now)}"
    stop = format_length(watch.stop_mm, now.setup.units)
    return f"shoot {kind.words} {WHILE_MOVING}. Stop at {stop}"


def _what_and_how_far(now: Guidance) -> str:
    kind, wanted_mm = now.prompt.kind, now.prompt.on_target_mm
    if wanted_mm is None:
        return kind.words
    return f"{kind.words} (should read {format_length(wanted_mm, now.setup.units)})"
