"""Strips of floor along a side wall: the lanes, and what a cabinet takes up across the room."""

from __future__ import annotations

import msgspec

from witnessmark.layout.mirror import MirrorLine
from witnessmark.layout.practice import Practice
from witnessmark.model import Pair


class Band(msgspec.Struct, frozen=True):
    """A strip of floor, mm from the cabinet's own side wall: where it begins and where it ends."""

    outer_mm: float
    inner_mm: float

    @property
    def middle_mm(self) -> float:
        """Distance of its middle line from the side wall."""
        return (self.outer_mm + self.inner_mm) / 2

    @property
    def breadth_mm(self) -> float:
        """From edge to edge."""
        return self.inner_mm - self.outer_mm


def lane_pair(line: MirrorLine, practice: Practice) -> Pair[Band]:
    """The lane of each cabinet, mirror images of each other.

    About the room's centre line they are the band between the two fractions of the room's width;
    about the line through a seat to one side they are moved with it.
    """
    width, off_centre = line.room.width_mm, line.off_centre_mm

    def lane(shift: float) -> Band:
        return Band(practice.lane_from * width + shift, practice.lane_to * width + shift)

    return Pair(lane(off_centre), lane(-off_centre))
