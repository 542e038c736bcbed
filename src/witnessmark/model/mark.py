"""A witness mark: a position that is kept, with all that is needed to put it back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import ClassVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import PROBABILITY, TURNS, Limit
from witnessmark.model.pair import Pair, Poses
from witnessmark.model.plan import Side
from witnessmark.model.setup import Setup
from witnessmark.model.shot import Shot


class Mark(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Both cabinets' poses as they were measured (UTC), under a name that the person chose.

    ``setup`` is the room, seat, cabinets, meter and tolerance of then, ``shots`` all that were
    taken. ``spike_turns`` is how many turns each spike is out, by foot, where that was counted.
    ``supersedes`` is the key of the mark whose place this one takes; nothing is overwritten.
    ``called_enough`` has the cabinets that were called good enough, each with the probability that
    it was within the tolerance; unset in a mark of two of which neither was.

    Raises:
        BadInput: when it has no name, or a name of several lines.
    """

    at: datetime
    name: str
    setup: Setup
    poses: Poses
    shots: tuple[Shot, ...]
    spike_turns: Pair[dict[str, float]] = Pair[dict[str, float]]({}, {})
    notes: str = ""
    supersedes: str | None = None
    called_enough: dict[Side, float] | msgspec.UnsetType = msgspec.UNSET

    LIMITS: ClassVar[Mapping[str, Limit]] = {"spike_turns": TURNS, "called_enough": PROBABILITY}

    @property
    def enough(self) -> dict[Side, float]:
        """The cabinets that were called good enough, which are not ``in``."""
        return {} if self.called_enough is msgspec.UNSET else self.called_enough

    def __post_init__(self) -> None:
        if not self.name.strip() or not self.name.isprintable():
            raise BadInput('mark: it needs a name of one line, such as "before the cleaning"')
        if len(self.name) > 80:
            raise BadInput("mark: its name must not be longer than 80 letters")
