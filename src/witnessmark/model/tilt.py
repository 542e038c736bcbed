"""What is read of a cabinet's tilt: two distances one above the other, or an angle."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import LENGTH, TILT_APART, TILT_SHOWN, Limit
from witnessmark.model.shot import Held


class PlumbReadings(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="plumb"):
    """Two distances between a cabinet's face and a plumb line or wall, one above the other.

    ``apart_mm`` is measured along what the meter is held to: straight up the wall or plumb line for
    ``wall``, up the cabinet's face for ``cabinet``. ``behind`` says that
    the rear face was measured against what is behind it. ``toe_in_deg`` is the angle in plan
    between face and wall; with a plumb line right before the face it is 0. ``upright_deg`` is how
    far the wall may be from plumb (standard uncertainty), 0 for a plumb line.

    Raises:
        BadInput: when the readings or their spacing make no sense.
    """

    low_mm: float
    high_mm: float
    apart_mm: float
    held: Held = Held.WALL
    behind: bool = False
    toe_in_deg: float = 0.0
    apart_sigma_mm: float = 1.0
    upright_deg: float = 0.0

    def __post_init__(self) -> None:
        for name in ("low", "high"):
            value = getattr(self, f"{name}_mm")
            if not LENGTH.admits(value):
                raise BadInput(f"tilt.{name}: {value:g} mm must be a distance of 0 to 100 m")
        if not TILT_APART.admits(self.apart_mm):
            raise BadInput(
                f"tilt.apart: {self.apart_mm:g} mm must lie between 50 mm and 5 m; take the two "
                "readings as far above one another as the cabinet allows"
            )
        if self.held not in (Held.WALL, Held.CABINET):
            raise BadInput('tilt.held: it must be "wall" or "cabinet"')
        if not -60 <= self.toe_in_deg <= 60:
            raise BadInput(f"tilt.toe_in: {self.toe_in_deg:g} must lie between -60 and 60 degrees")
        if not (0 <= self.apart_sigma_mm <= 100 and 0 <= self.upright_deg <= 5):
            raise BadInput(
                "tilt: the uncertainty of the spacing must lie between 0 and 100 mm, that of the "
                "wall's uprightness between 0 and 5 degrees"
            )


class Inclinometer(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Error model of an inclinometer: standard deviations, degrees.

    ``resolution_deg`` is the step of the display; ``zero_deg`` belongs to the one zero error that
    all its readings share.

    Raises:
        BadInput: when a figure is negative or makes no sense.
    """

    repeatability_deg: float = 0.05
    resolution_deg: float = 0.1
    zero_deg: float = 0.1

    def __post_init__(self) -> None:
        for name in ("repeatability", "resolution", "zero"):
            value = getattr(self, f"{name}_deg")
            if not 0 <= value <= 10:
                raise BadInput(f"inclinometer.{name}: {value:g} must lie between 0 and 10 degrees")


class AngleReading(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="angle"):
    """What an inclinometer on the baffle shows, degrees; leaning back is positive."""

    angle_deg: float

    LIMITS: ClassVar[Mapping[str, Limit]] = {"angle_deg": TILT_SHOWN}


TiltReadings = PlumbReadings | AngleReading
"""One way or the other."""
