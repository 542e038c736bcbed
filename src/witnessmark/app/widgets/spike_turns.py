"""A field for how many turns each spike of a cabinet is out."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from witnessmark.app.mark_words import turns_words
from witnessmark.app.widgets.field import Field
from witnessmark.errors import BadInput
from witnessmark.survey.names import listed

_ONE = re.compile(r"(?P<foot>.+?)[\s:=]+(?P<turns>[-+]?[\d.]+)")
MOST_TURNS = 200
"""More than any spike has thread."""


class SpikeTurnsInput(Field[dict[str, float]]):
    """Feet with their turns, such as ``front 3, rear 2.5``."""

    def __init__(self, label: str, feet: Sequence[str], *, id: str) -> None:  # noqa: A002
        """``feet`` are those that the cabinet has, by name."""
        self.feet = feet
        hint = f"Turns out of each, such as {feet[0]} 3. Feet: {', '.join(feet)}."
        super().__init__(label, hint=hint, optional=True, id=id)

    def read(self, text: str) -> tuple[dict[str, float], str | None]:
        """The turns by foot."""
        return read_turns(text, self.feet), None

    def write(self, value: dict[str, float]) -> str:
        """The turns as they are typed."""
        return turns_words(value)


def read_turns(text: str, feet: Sequence[str]) -> dict[str, float]:
    """How many turns each spike is out, by the names of the cabinet's feet.

    Raises:
        BadInput: when a part is no foot with a number, there is no such foot, or one stands twice.
    """
    turns: dict[str, float] = {}
    for part in filter(None, (each.strip() for each in text.split(","))):
        foot, count = _one(part)
        if foot not in feet:
            raise BadInput(f'there is no foot "{foot}"; there are {listed(feet)}')
        if foot in turns:
            raise BadInput(f'"{foot}" stands there twice; tell each foot once')
        turns[foot] = count
    return turns


def _one(part: str) -> tuple[str, float]:
    match = _ONE.fullmatch(part)
    try:
        count = float(match["turns"]) if match else math.nan
    except ValueError:
        count = math.nan
    if match is None or not 0 <= count <= MOST_TURNS:
        raise BadInput(f'"{part}" is no foot with its turns; write it as front 2.5')
    return match["foot"], count
