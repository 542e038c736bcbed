"""Where to begin: lanes, seat and stations, the triangle, and what stands in their way."""

from witnessmark.layout.footprint import Band, FloorPoint, lane_pair, overlap
from witnessmark.layout.plan import Layout, TapeView, lay_out
from witnessmark.layout.practice import FOOT_MM, Practice
from witnessmark.layout.start import (
    Free,
    InLane,
    Start,
    Station,
    Triangle,
    default_seat,
    facing_deg,
    stations,
)

__all__ = [
    "FOOT_MM",
    "Band",
    "FloorPoint",
    "Free",
    "InLane",
    "Layout",
    "Practice",
    "Start",
    "Station",
    "TapeView",
    "Triangle",
    "default_seat",
    "facing_deg",
    "lane_pair",
    "lay_out",
    "overlap",
    "stations",
]
