"""What is known so far of a setup, while a person is still telling it."""

from __future__ import annotations

import msgspec

from witnessmark.lengths import Units
from witnessmark.model import (
    Cabinet,
    Held,
    Inclinometer,
    Measure,
    Meter,
    Mirror,
    Pair,
    Placement,
    Restoring,
    Room,
    Seat,
    Setup,
    Tolerance,
)


class Draft(msgspec.Struct, frozen=True):
    """A setup with gaps: each part is whole or not there."""

    room: Room | None = None
    seat: Seat | None = None
    cabinets: Pair[Cabinet] | None = None
    targets: Pair[Placement | None] = Pair[Placement | None](None, None)
    meter: Meter = Meter(flush_deg=0.1)
    tolerance: Tolerance = Tolerance()
    temperature_c: float = 20.0
    held: Held = Held.CABINET
    units: Units = Units.MM
    tilt_targets_deg: Pair[float | None] = Pair[float | None](None, None)
    mirror: Mirror = Mirror.SEAT
    spot_shots: bool = False
    sweeps: bool = False
    survey: tuple[Measure, ...] = ()
    inclinometer: Inclinometer = Inclinometer()
    restoring: Restoring | None = None

    @classmethod
    def of(cls, setup: Setup) -> Draft:
        """The draft that has no gaps."""
        return cls(**{name: getattr(setup, name) for name in cls.__struct_fields__})

    @property
    def setup(self) -> Setup | None:
        """The setup, once room, seat and cabinets are there."""
        if self.room is None or self.seat is None or self.cabinets is None:
            return None
        return Setup(**{name: getattr(self, name) for name in self.__struct_fields__})

    @property
    def is_begun(self) -> bool:
        """Whether anything was told of the room."""
        return self.room is not None or bool(self.survey)

    def aimed_at(
        self, targets: Pair[Placement | None], tilts_deg: Pair[float | None] | None = None
    ) -> Draft:
        """The draft with other targets; what was being put back no longer is."""
        tilts_deg = self.tilt_targets_deg if tilts_deg is None else tilts_deg
        if (targets, tilts_deg) == (self.targets, self.tilt_targets_deg):
            return self
        return msgspec.structs.replace(
            self, targets=targets, tilt_targets_deg=tilts_deg, restoring=None
        )
