"""The frozen records that everything else passes around: millimetres, degrees, UTC."""

from witnessmark.model.cabinet import (
    BOX_POINTS,
    STRAIGHTEDGE_POINTS,
    Cabinet,
    Placement,
    TouchPoint,
)
from witnessmark.model.command import Act, Command, Leaned, Revised
from witnessmark.model.fittings import KeepClear, WallOffset
from witnessmark.model.meter import BY_TAPE, Edge, Meter, Reading
from witnessmark.model.plan import Corner, Mirror, PlanPoint, Side, Wall
from witnessmark.model.room import Room, Seat
from witnessmark.model.setup import Pair, Setup, Tolerance
from witnessmark.model.shot import AimedAt, Held, Shot, ShotKind
from witnessmark.model.survey import DatumLine, FloorMark, Flush, Measure, Shortest, Straight
from witnessmark.model.thread import pitch_mm
from witnessmark.model.tilt import AngleReading, Inclinometer, PlumbReadings, TiltReadings

__all__ = [
    "BOX_POINTS",
    "BY_TAPE",
    "STRAIGHTEDGE_POINTS",
    "Act",
    "AimedAt",
    "AngleReading",
    "Cabinet",
    "Command",
    "Corner",
    "DatumLine",
    "Edge",
    "FloorMark",
    "Flush",
    "Held",
    "Inclinometer",
    "KeepClear",
    "Leaned",
    "Measure",
    "Meter",
    "Mirror",
    "Pair",
    "Placement",
    "PlanPoint",
    "PlumbReadings",
    "Reading",
    "Revised",
    "Room",
    "Seat",
    "Setup",
    "Shortest",
    "Shot",
    "ShotKind",
    "Side",
    "Straight",
    "TiltReadings",
    "Tolerance",
    "TouchPoint",
    "Wall",
    "WallOffset",
    "pitch_mm",
]
