"""Everything known before the first shot: room, pair, seat, meter, tolerance, targets."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from typing import ClassVar

import msgspec

from witnessmark.lengths import Units
from witnessmark.model.cabinet import Cabinet, Placement
from witnessmark.model.limits import (
    LEAN,
    POSITION_TOLERANCE,
    TURN_TOLERANCE,
    Limit,
    check_fields,
)
from witnessmark.model.meter import Meter
from witnessmark.model.pair import Pair, Poses
from witnessmark.model.plan import Mirror, Side
from witnessmark.model.room import Room, RoomKnown, Seat
from witnessmark.model.shot import Held, ShotKind
from witnessmark.model.survey import Measure
from witnessmark.model.tilt import Inclinometer


class Restoring(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What of a mark counts while the cabinets are brought back to it.

    ``shots`` are those to take of each cabinet, so that the same places are measured as then.
    ``is_check`` says that it is only looked whether both still stand there: nothing is to be moved.
    """

    name: str
    poses: Poses
    shots: Pair[tuple[ShotKind, ...]]
    is_check: bool = False


class Tolerance(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How far from its target a cabinet may stand and still count as on it."""

    position_mm: float = 3.0
    toe_in_deg: float = 0.5
    tilt_deg: float = 0.25

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "position_mm": POSITION_TOLERANCE,
        "toe_in_deg": TURN_TOLERANCE,
        "tilt_deg": TURN_TOLERANCE,
    }

    def __post_init__(self) -> None:
        check_fields("tolerance", self, self.LIMITS)


class StationOrder(enum.StrEnum):
    """The order in which the stations of a walk are tried."""

    FORWARD = "forward"
    """From abreast of the seat forward, every one."""
    HALVING = "halving"
    """Those that lie farthest apart first, then between the best ones."""


class SetupOptions(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What a setup has beside room, cabinets and seat: each field has a usual value.

    A whole setup and a draft of one share these, so that a new field is added here alone.
    """

    meter: Meter = Meter()
    tolerance: Tolerance = Tolerance()
    targets: Pair[Placement | None] = Pair[Placement | None](None, None)
    temperature_c: float = 20.0
    """Of the air; it sets the speed of sound."""
    held: Held = Held.CABINET
    """How the shots to walls are taken: the meter flush on the cabinet, or square to the wall."""
    units: Units = Units.MM
    """The unit in which lengths are written."""
    tilt_targets_deg: Pair[float | None] = Pair[float | None](None, None)
    """Positive when the baffle leans back."""
    mirror: Mirror = Mirror.ROOM
    """The line about which the pair are to be mirror images."""
    spot_shots: bool = False
    """Whether the dot of a beam along the axis may be measured too."""
    sweeps: bool = False
    """Whether a shot that is held square to a wall is the shortest of several."""
    survey: tuple[Measure, ...] = ()
    """The distances that the room's corners were worked out from, or are to be."""
    inclinometer: Inclinometer = Inclinometer()
    """What tilts are read with where they are not measured as two distances."""
    restoring: Restoring | None = None
    """The mark whose targets these are, while it is put back or checked."""
    room_known: RoomKnown | msgspec.UnsetType = msgspec.UNSET
    """How much of the room was measured: where not all, the rest of it and the seat stand in."""

    station_order: StationOrder | msgspec.UnsetType = msgspec.UNSET
    """The order in which stations are tried; forward where nothing else is said."""

    other_seats: tuple[Seat, ...] | msgspec.UnsetType = msgspec.UNSET
    """Further seats that are looked at beside the one that counts; none where nothing is said."""

    LIMITS: ClassVar[Mapping[str, Limit]] = {"tilt_targets_deg": LEAN}

    @property
    def seats_beside(self) -> tuple[Seat, ...]:
        """The further seats that are looked at."""
        return () if self.other_seats is msgspec.UNSET else self.other_seats

    @property
    def halves_stations(self) -> bool:
        """Whether the stations that lie farthest apart are tried first."""
        return self.station_order is StationOrder.HALVING

    @property
    def known_of_room(self) -> RoomKnown:
        """How much of the room was measured; all of it where nothing else is said."""
        return RoomKnown.WHOLE if self.room_known is msgspec.UNSET else self.room_known

    OF_THE_ROOM: ClassVar[frozenset[str]] = frozenset(
        {
            "targets",
            "temperature_c",
            "tilt_targets_deg",
            "mirror",
            "survey",
            "restoring",
            "room_known",
            "other_seats",
        }
    )
    """The fields that start empty in another room; all others are kept."""


class Setup(SetupOptions, frozen=True, forbid_unknown_fields=True):
    """A room with a seat, a pair of cabinets, and what is measured with, and how, and for what."""

    room: Room
    cabinets: Pair[Cabinet]
    seat: Seat

    @property
    def known_targets(self) -> dict[Side, Placement]:
        """The targets that are chosen, by side."""
        return {side: target for side in Side if (target := self.targets[side]) is not None}


class OneCabinet(msgspec.Struct, frozen=True):
    """The cabinet on one side, with all that is known before its first shot."""

    setup: Setup
    side: Side

    @property
    def body(self) -> Cabinet:
        """Its sizes and touch points."""
        return self.setup.cabinets[self.side]

    @property
    def target(self) -> Placement | None:
        """Where it is to stand; None where that is not chosen."""
        return self.setup.targets[self.side]

    def likely_placement(self, toe_in_deg: float = 0.0) -> Placement:
        """Return its target, or without one the middle of its half of the room before the seat."""
        if self.target is not None:
            return self.target
        room, seat = self.setup.room, self.setup.seat
        return Placement(room.width_mm / 4, seat.from_front_mm / 2, toe_in_deg)
