"""A position that was listened to: where the pair stood, and what was heard there.

The scale is the five-grade quality scale of Rec. ITU-R BS.1284 (from memory): 5 excellent, 4 good,
3 fair, 2 poor, 1 bad. What is graded follows the main parameters of EBU Tech 3286 (from memory),
without the one about noise and distortions, on which where a pair stands has no bearing.
"""

from __future__ import annotations

import enum
from datetime import datetime

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.cabinet import Placement
from witnessmark.model.pair import Pair, Poses

GRADES = {5: "excellent", 4: "good", 3: "fair", 2: "poor", 1: "bad"}
"""The five grades and their words."""


class Attribute(enum.StrEnum):
    """What is listened for; the former ones are read where they were graded, never asked for."""

    SPATIAL = "spatial"
    """Spatial impression."""
    STEREO = "stereo"
    """Stereo impression."""
    CLARITY = "clarity"
    """Transparency."""
    BALANCE = "balance"
    """Sound balance."""
    TIMBRE = "timbre"
    OVERALL = "overall"
    """Main impression."""

    # Graded before the list above was followed. None means exactly what one of today's does.
    SOURCES = "sources"
    WIDTH = "width"
    DEPTH = "depth"
    BASS = "bass"
    VOICES = "voices"
    TREBLE = "treble"


GRADED = tuple(Attribute)[:6]
"""The attributes that are graded today, in the order in which they are asked for."""


class Varied(enum.StrEnum):
    """What was changed since the trial before: one thing at a time."""

    STATION = "station"
    SPREAD = "spread"
    TOE_IN = "toe-in"
    TILT = "tilt"
    PLACE = "place"
    """Several at once: the person's own position, or a mark that was put back."""
    NOTHING = "nothing"
    """The same position once more."""


class Impression(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What was heard: grades of some or all attributes, free words, the track and the level.

    ``best`` flags the best so far; ``blind`` says that earlier grades were out of sight.

    Raises:
        BadInput: when a grade is not one of the five.
    """

    grades: dict[Attribute, int] = {}
    words: str = ""
    best: bool = False
    track: str = ""
    level: str = ""
    blind: bool = False

    def __post_init__(self) -> None:
        for attribute, grade in self.grades.items():
            if grade not in GRADES:
                raise BadInput(
                    f"{attribute}: {grade} is not a grade; give 5 (excellent) to 1 (bad)"
                )

    @property
    def current_grades(self) -> dict[Attribute, int]:
        """The grades of what is graded today; former ones are not comparable with these."""
        return {one: grade for one, grade in self.grades.items() if one in GRADED}

    @property
    def mean_grade(self) -> float | None:
        """The mean of the grades of what is graded today; None where there is none."""
        current = self.current_grades.values()
        return sum(current) / len(current) if current else None

    @property
    def grade_words(self) -> str:
        """The grades by what they were given for; empty where there is none."""
        return ", ".join(f"{attribute} {grade}" for attribute, grade in self.grades.items())

    @property
    def heard_words(self) -> str:
        """The person's own words, what was played and how, and whether it was the best so far."""
        parts = (
            self.words,
            f"track {self.track}" if self.track else "",
            f"level {self.level}" if self.level else "",
            "the best so far" if self.best else "",
            "earlier grades out of sight" if self.blind else "",
        )
        return "; ".join(filter(None, parts))


class Trial(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A position that was listened to (UTC).

    ``targets`` are where the pair was to stand, ``measured`` where it was found; None where nobody
    measured. ``repeats`` is the key of an earlier trial of the same position.
    """

    at: datetime
    varied: Varied
    targets: Pair[Placement]
    impression: Impression
    tilt_targets_deg: Pair[float | None] = Pair[float | None](None, None)
    measured: Poses | None = None
    repeats: str | None = None

    @property
    def standing(self) -> Pair[Placement]:
        """Where the pair stood, as well as it is known."""
        return self.targets if self.measured is None else self.measured.placements


class Struck(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A trial, by its key, was struck out (UTC): it stays, is shown as struck, and never counts.

    ``back`` says that it counts again.
    """

    at: datetime
    trial: str
    back: bool = False


class Preference(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Two trials that were compared by ear (UTC), by their keys.

    ``better`` is the key of the one that was preferred, None where neither was.

    Raises:
        BadInput: when a trial is compared with itself, or the better one is neither.
    """

    at: datetime
    one: str
    other: str
    better: str | None

    def __post_init__(self) -> None:
        if self.one == self.other:
            raise BadInput("preference: a trial cannot be compared with itself")
        if self.better not in (self.one, self.other, None):
            raise BadInput("preference: the better one must be one of the two")
