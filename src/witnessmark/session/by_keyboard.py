"""What comes by the keyboard: who pressed the keys, and what that is as records.

A meter may type its digits and Enter like a keyboard. Its keys follow each other faster than
fingers can. A key on its own is a person's, but that is known only when no other follows at once,
so every key waits for ``FAST_S`` before it counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final, NamedTuple

from witnessmark.meters.address import Address
from witnessmark.meters.framing import Line
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import BY_TAPE, Reading

FAST_S: Final = 0.040
"""Time between two keys, seconds, below which fingers did not press them one by one."""
LEFT_ALONE_S: Final = 1.0
"""Pause, seconds, after which keys are no late rest of what was typed before."""
ENTER: Final = "enter"
_NUMERIC: Final = "0123456789."
_KEYBOARD: Final = "typed:"


class Keystroke(NamedTuple):
    """A key, the character it stands for if any, and when it was pressed, seconds."""

    key: str
    character: str | None
    at_s: float

    @property
    def begins_distance(self) -> bool:
        """Whether a person who presses it begins to type a distance."""
        return bool(self.character) and str(self.character) in _NUMERIC


class FromPerson(NamedTuple):
    """Keys that count as they are: text for an entry, or commands."""

    strokes: tuple[Keystroke, ...]


class FromMeter(NamedTuple):
    """A line, without its Enter."""

    text: str


class Garbled(NamedTuple):
    """Keys too fast for fingers that are no line: they mean nothing, and command nothing."""

    text: str


Typed = FromPerson | FromMeter | Garbled


def who_typed(run: Sequence[Keystroke], pause_s: float | None = None) -> Typed:
    """Return who pressed keys that came fast one upon another.

    A meter's line has two characters or more and an Enter. Keys that begin no number and are no
    such line are garbled, save for one key that is held down, which counts once.

    Args:
        run: the keys, each less than ``FAST_S`` after the one before; at least one.
        pause_s: how long before the first of them a person was typing a distance that is not
            finished; None where none has been begun.
    """
    text = "".join(stroke.character or "" for stroke in run if stroke.key != ENTER)
    if pause_s is not None and pause_s < LEFT_ALONE_S:
        return FromPerson(tuple(run))
    if run[-1].key == ENTER and len(text) > 1:
        return FromMeter(text)
    if len(run) == 1 or pause_s is not None or run[0].begins_distance:
        return FromPerson(tuple(run))
    if len({stroke.key for stroke in run}) == 1:
        return FromPerson((run[0],))
    return Garbled(text)


class Keystrokes:
    """Sorts keys into runs that came fast one upon another. It has no clock but their times.

    ``typing`` says throughout whether a person has begun to type a distance and not finished it.
    """

    def __init__(self) -> None:
        self._run: list[Keystroke] = []
        self._typed_at_s = 0.0

    @property
    def wait(self) -> bool:
        """Whether keys have come that do not count yet."""
        return bool(self._run)

    def waits_after(self, stroke: Keystroke) -> bool:
        """Return whether a key does not count yet, and is the latest."""
        return bool(self._run) and self._run[-1] is stroke

    def press(self, stroke: Keystroke, *, typing: bool) -> list[Typed]:
        """Take a key and return what it settles."""
        is_fast = not self._run or stroke.at_s - self._run[-1].at_s < FAST_S
        settled = [] if is_fast else self.pause(typing=typing)
        self._run.append(stroke)
        return settled + (self.pause(typing=typing) if stroke.key == ENTER else [])

    def pause(self, *, typing: bool) -> list[Typed]:
        """Return what is settled because nothing more belongs to the keys that wait."""
        run, self._run = self._run, []
        if not run:
            return []
        typed = who_typed(run, run[0].at_s - self._typed_at_s if typing else None)
        if isinstance(typed, FromPerson):
            self._typed_at_s = run[-1].at_s
        return [typed]


def is_keyboard(address: str) -> bool:
    """Return whether the meter of an address is the keyboard itself."""
    return address.startswith(_KEYBOARD)


def keyboard_unit(address: str) -> str | None:
    """Return the unit of bare numbers as chosen in a meter's address; None: nobody chose one.

    What a person types without a unit is in mm then; what a meter types is no distance.
    """
    return Address.parse(address).options.get("unit")


def line_report(text: str, at: datetime, address: str, *, whole: bool) -> Reading | Fault | Noise:
    """Return what a meter typed. ``address`` is that of the meter that is chosen.

    Without its Enter (``whole`` false) it is never a distance.
    """
    raw = text.encode(errors="replace")
    meter = address if is_keyboard(address) else _KEYBOARD
    if not whole:
        return Noise("keys came faster than typing, without an Enter", at, meter, raw)
    from witnessmark.meters.text import report_line  # noqa: PLC0415 - few meters type

    return report_line(Line(raw), at=at, meter=meter, unit=keyboard_unit(address))


def typed_reading(distance_mm: float, text: str, at: datetime, address: str) -> Reading:
    """Return what a person typed as a reading, of a tape where another meter is chosen."""
    return Reading(distance_mm, at, address if is_keyboard(address) else BY_TAPE, text.encode())
