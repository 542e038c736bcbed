"""The frozen records that everything else passes around: millimetres, degrees, UTC."""

from witnessmark.model.cabinet import (
    BOX_POINTS,
    STRAIGHTEDGE_POINTS,
    Cabinet,
    Placement,
    TouchPoint,
)
from witnessmark.model.command import Act, Decision, Onward, SetupChanged, TiltTaken
from witnessmark.model.fittings import KeepClear, WallOffset
from witnessmark.model.mark import Mark
from witnessmark.model.meter import BY_TAPE, Edge, Meter, Reading
from witnessmark.model.pair import COVERAGE_FACTOR, Pair, Poses, Tilt
from witnessmark.model.plan import Corner, Mirror, PlanPoint, Side, Wall
from witnessmark.model.quantity import OF_CABINET, OF_PAIR, Quantity
from witnessmark.model.room import Room, RoomItem, RoomKnown, Seat
from witnessmark.model.setup import OneCabinet, Restoring, Setup, StationOrder, Tolerance
from witnessmark.model.shot import AimedAt, Held, Shot, ShotKind
from witnessmark.model.survey import DatumLine, FloorMark, Flush, Measure, Shortest, Straight
from witnessmark.model.thread import pitch_mm
from witnessmark.model.tilt import AngleReading, Inclinometer, PlumbReadings, TiltReadings
from witnessmark.model.trial import (
    GRADED,
    GRADES,
    Attribute,
    Impression,
    Preference,
    Struck,
    Trial,
    Varied,
)

__all__ = [
    "BOX_POINTS",
    "BY_TAPE",
    "COVERAGE_FACTOR",
    "GRADED",
    "GRADES",
    "OF_CABINET",
    "OF_PAIR",
    "STRAIGHTEDGE_POINTS",
    "Act",
    "AimedAt",
    "AngleReading",
    "Attribute",
    "Cabinet",
    "Corner",
    "DatumLine",
    "Decision",
    "Edge",
    "FloorMark",
    "Flush",
    "Held",
    "Impression",
    "Inclinometer",
    "KeepClear",
    "Mark",
    "Measure",
    "Meter",
    "Mirror",
    "OneCabinet",
    "Onward",
    "Pair",
    "Placement",
    "PlanPoint",
    "PlumbReadings",
    "Poses",
    "Preference",
    "Quantity",
    "Reading",
    "Restoring",
    "Room",
    "RoomItem",
    "RoomKnown",
    "Seat",
    "Setup",
    "SetupChanged",
    "Shortest",
    "Shot",
    "ShotKind",
    "Side",
    "StationOrder",
    "Straight",
    "Struck",
    "Tilt",
    "TiltReadings",
    "TiltTaken",
    "Tolerance",
    "TouchPoint",
    "Trial",
    "Varied",
    "Wall",
    "WallOffset",
    "pitch_mm",
]
