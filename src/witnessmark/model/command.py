"""What the person decided in a round, beside the readings that came."""

from __future__ import annotations

import enum
from datetime import datetime

import msgspec

from witnessmark.model.plan import Side
from witnessmark.model.setup import Setup
from witnessmark.model.tilt import TiltReadings


class Act(enum.StrEnum):
    """The decisions that change a round."""

    UNDO = "undo"
    """Take back what the last reading or decision did."""
    SKIP = "skip"
    """Leave the prompted shot out."""
    BACK = "back"
    """Take the shot before once more; its new reading replaces the old one."""
    HOLD = "hold"
    """Stay on the prompted shot, or go on again."""
    SWEEP = "sweep"
    """Take the shortest of several readings for the prompted shot, or of those that there are."""
    KEEP = "keep"
    """Take the questioned reading as it is."""
    DROP = "drop"
    """Throw the questioned reading away."""
    THERE = "there"
    """Take the questioned reading for the other shot that it fits."""
    MOVED = "moved"
    """The cabinet was moved: measure it afresh."""
    ENOUGH = "enough"
    """Leave the cabinet where it stands, though it is not sure to be within the tolerance."""
    OTHER = "other"
    """Go to the other cabinet."""


class Onward(enum.StrEnum):
    """What a person may choose once it is found how the pair stand; it changes the targets."""

    MOVE_LEFT = "move left"
    """Bring the left cabinet to the mirror image of the right one."""
    MOVE_RIGHT = "move right"
    """Bring the right cabinet to the mirror image of the left one."""
    PUT_BACK = "put back"
    """Bring both back to the mark that they were found to have moved from."""


class Decision(msgspec.Struct, frozen=True):
    """One decision and when it was taken (UTC)."""

    act: Act
    at: datetime


class TiltTaken(msgspec.Struct, frozen=True):
    """The tilt of a cabinet was taken (UTC)."""

    side: Side
    readings: TiltReadings
    at: datetime


class SetupChanged(msgspec.Struct, frozen=True):
    """Room, pair, meter or targets were changed (UTC); the cabinets stand where they stood."""

    setup: Setup
    at: datetime
