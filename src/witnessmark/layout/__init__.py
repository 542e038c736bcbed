"""Where to begin: lanes, seat and stations, the triangle, and what stands in their way."""

from witnessmark.layout.band import Band, lane_pair
from witnessmark.layout.footprint import FloorPoint, overlap
from witnessmark.layout.plan import Layout, TapeView, lay_out
from witnessmark.layout.practice import FOOT_MM, Practice
from witnessmark.layout.start import Free, InLane, Start, Triangle, facing_deg
from witnessmark.layout.stations import Station, default_seat, stations

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
