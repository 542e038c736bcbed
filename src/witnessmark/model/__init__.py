"""The frozen records that everything else passes around: millimetres, degrees, UTC."""

from witnessmark.model.cabinet import (
    BOX_POINTS,
    Cabinet,
    Placement,
    TouchPoint,
)
from witnessmark.model.command import Act, Command, Revised
from witnessmark.model.meter import Meter, Reading
from witnessmark.model.room import PlanPoint, Room, Seat, Side, Wall
from witnessmark.model.setup import Pair, Setup, Tolerance
from witnessmark.model.shot import AimedAt, Held, Shot, ShotKind

__all__ = [
    "BOX_POINTS",
    "Act",
    "AimedAt",
    "Cabinet",
    "Command",
    "Held",
    "Meter",
    "Pair",
    "Placement",
    "PlanPoint",
    "Reading",
    "Revised",
    "Room",
    "Seat",
    "Setup",
    "Shot",
    "ShotKind",
    "Side",
    "Tolerance",
    "TouchPoint",
    "Wall",
]
