"""What a figure may be, by whichever door it comes in: typed, from a file, or from a store.

A record names the limits of its fields in ``LIMITS``; its form and its table in a round file read
them there or here, so that all doors give the same answer. Four ranges are narrower where a person
types: ``ACOUSTIC_HEIGHT``, ``FROM_BAFFLE``, ``METER_HEIGHT`` and ``ROOM_HEIGHT``. Round files and
stores have held any ``LENGTH`` there (``ON_PLAN`` for ``FROM_BAFFLE``), and still open; so does a
store with air outside ``AIR``, which says so when the speed of sound is asked for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sized
from datetime import datetime
from typing import Final, NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.lengths import LONGEST_MM

_UNITS: Final = re.compile("_(mm|deg|ppm|c)$")
_BESIDE: Final = {"": "", "mm": " mm", "°": "", "ppm": " ppm", "°C": " degrees Celsius"}
_AFTER: Final = {"°": " degrees"}
_LARGEST_WRITTEN: Final = 1e300


class Limit(NamedTuple):
    """A permitted range, in its unit; ``excludes_least`` where the least is just not permitted.

    What is not 0 is no smaller than ``finest``: the square of 1e-200 is 0.
    """

    least: float
    most: float
    unit: str = "mm"
    excludes_least: bool = False
    finest: float = 0.0

    def admits(self, value: float) -> bool:
        """Return whether a value lies in the range; what is not finite does not."""
        is_above = self.least < value if self.excludes_least else self.least <= value
        return is_above and value <= self.most and not self._is_too_fine(value)

    def _is_too_fine(self, value: float) -> bool:
        return 0 < abs(value) < self.finest

    def words(self, say: Callable[[float], str]) -> str:
        """Return the range as it goes on after "must lie", its ends as ``say`` writes them."""
        if self.excludes_least:
            return f"above {say(self.least)}, to {say(self.most)}"
        return f"between {say(self.least)} and {say(self.most)}"

    def check(self, name: str, value: float) -> None:
        """Refuse a value outside the range.

        Raises:
            BadInput: naming it.
        """
        if self._is_too_fine(value):
            finest = f"{self.finest:g}{_BESIDE[self.unit]}"
            raise BadInput(f"{name}: {value:g}{_BESIDE[self.unit]} must be 0 or at least {finest}")
        if not self.admits(value):
            inside = self.words(self._end) + _AFTER.get(self.unit, "")
            # a whole number may be too large for a float
            is_writable = isinstance(value, float) or abs(value) < _LARGEST_WRITTEN
            written = f"{value:g}" if is_writable else "so large a number"
            raise BadInput(f"{name}: {written}{_BESIDE[self.unit]} must lie {inside}")

    def _end(self, value: float) -> str:
        if self.unit != "mm" or value == 0:
            return f"{value:.10g}"
        return f"{value / 1000:g} m" if abs(value) >= 1000 else f"{value:g} mm"


def without_unit(field: str) -> str:
    """Return the name of a record's field without its unit: ``toe_in`` for ``toe_in_deg``."""
    return _UNITS.sub("", field)


def check_fields(record: str, values: object, limits: Mapping[str, Limit]) -> None:
    """Refuse a record of which a field lies outside its limit; one that holds None does not.

    Raises:
        BadInput: naming the record and the field.
    """
    for field, limit in limits.items():
        value = getattr(values, field)
        if value is not None:
            limit.check(f"{record}.{without_unit(field)}", value)


_LONGEST_MM: Final = float(LONGEST_MM)

LENGTH: Final = Limit(0.0, _LONGEST_MM)
"""A distance in a room, mm: meters reach no farther, and no room is larger."""
CABINET_SIZE: Final = Limit(20.0, 3000.0)
"""Width or depth of a cabinet, mm: less is a slip of the decimal mark, more is no cabinet."""
ACOUSTIC_HEIGHT: Final = Limit(50.0, 3000.0)
"""Height of what the ears should be level with, mm; common practice, no source."""
STRAIGHTEDGE: Final = Limit(80.0, 4000.0)
"""Length of a straightedge, mm: past the narrowest baffle, and no longer than two can hold."""
FROM_BAFFLE: Final = Limit(-4000.0, 4000.0)
"""How far a point is inward or back, mm: none is farther from the middle of the baffle."""
BETWEEN_POINTS: Final = Limit(1.0, 4000.0)
"""A tape between two points of a cabinet, mm: nearer ones are one."""
METER_HEIGHT: Final = Limit(0.0, 3000.0)
"""How high a meter is held to a cabinet, mm: no higher than the cabinet."""

ROOM_SIDE: Final = Limit(500.0, _LONGEST_MM)
"""A side of a room, mm: what is shorter holds no pair."""
ROOM_HEIGHT: Final = Limit(1000.0, _LONGEST_MM)
"""Floor to ceiling, mm: a person sits under it."""
PROUD: Final = Limit(0.0, 2000.0, excludes_least=True)
"""How far something stands proud of a wall, mm: more is a wall of its own."""
FITTING_HEIGHT: Final = Limit(0.0, 20_000.0)
"""Where something on a wall begins and ends above the floor, mm; higher is no room."""
ON_PLAN: Final = Limit(-_LONGEST_MM, _LONGEST_MM)
"""A coordinate of the floor, mm."""
AIR: Final = Limit(-20.0, 50.0, "°C")
"""Temperature of the air: the range of the formula for the speed of sound."""

_FINEST: Final = 1e-100
"""Smallest error of a meter other than 0, mm or ppm: it has a weight, its square being a number."""
METER_ERROR: Final = Limit(0.0, 1000.0, finest=_FINEST)
"""A standard deviation or a step of a meter, mm: one so poor measures no room."""
SHOT_ERROR: Final = Limit(0.0, 1000.0, excludes_least=True, finest=_FINEST)
"""Standard uncertainty of one shot, mm: likewise, and nothing is measured without any."""
METER_SHIFT: Final = Limit(-1000.0, 1000.0)
"""What is added to each reading of a meter, mm: no end piece is longer than a metre."""
SCALE: Final = Limit(0.0, 100_000.0, "ppm", finest=_FINEST)
"""Error of a meter's scale: a tenth of each distance, which no instrument is off by."""
BEAM: Final = Limit(0.0, 5.0, "°")
"""Angle between a meter's beam and what it lies on: more would be seen."""
MAKERS_FIGURE: Final = Limit(0.0, 100.0, excludes_least=True)
"""A maker's plus-or-minus figure, mm: no distance meter is so poor."""
DISTANCE: Final = Limit(0.0, _LONGEST_MM, excludes_least=True)
"""A measured distance, mm: where there is one it is above 0."""
KNOWN_DISTANCE: Final = Limit(50.0, _LONGEST_MM)
"""A distance that a meter is taught with, mm: meters read none that is shorter."""

POSITION_TOLERANCE: Final = Limit(0.0, 1000.0, excludes_least=True)
"""How far off its target a cabinet may stand, mm: more is another place."""
TURN_TOLERANCE: Final = Limit(0.0, 45.0, "°", excludes_least=True)
"""How far off its target a cabinet may be turned or tilted."""
TOE_IN: Final = Limit(-90.0, 90.0, "°")
"""Toe-in of a target: beyond, the baffle faces the wall behind it."""
TILT_TARGET: Final = Limit(-15.0, 15.0, "°")
"""How far a cabinet is to lean back: beyond, it may fall; common practice, no source."""
TILT_SHOWN: Final = Limit(-30.0, 30.0, "°")
"""What an inclinometer on a baffle shows: beyond, the cabinet would lie."""
TILT_APART: Final = Limit(50.0, 5000.0)
"""Between the two readings of a tilt, mm: closer tell nothing, farther is above the cabinet."""

LEAN: Final = Limit(-90.0, 90.0, "°")
"""A tilt that was found, or is to be brought back: upright to lying, either way."""
ANGLE: Final = Limit(-360.0, 360.0, "°")
"""Any angle of a record."""
SPREAD: Final = Limit(0.0, 360.0, "°")
"""A standard uncertainty of an angle."""
VARIANCE: Final = Limit(-1e12, 1e12, "")
"""An element of a covariance, in mm and degrees: none is known worse than within a kilometre."""
PROBABILITY: Final = Limit(0.0, 1.0, "")
TURNS: Final = Limit(0.0, 200.0, "")
"""How far a spike is screwed out: more than any spike has thread."""
LONGEST_TEXT: Final = 10_000
"""Longest text that a person keeps, signs: some pages of notes."""
LONGEST_MESSAGE: Final = 64_000
"""Longest message of a meter, bytes: what a driver may bring, and a file of somebody else."""
LONGEST_NAME: Final = 200
"""Longest name of a room, signs; it is one line everywhere."""
MOST_ITEMS: Final = 10_000
"""Most shots, distances or similar in one record: many evenings of them."""
MOST_ZONES: Final = 64
"""Most zones of a room that are to be kept clear: more leave no floor."""
MOST_CORNERS: Final = 64
"""Most corners of such a zone, of which each edge is held against each other: a round rug has
fewer."""
YEARS: Final = range(2, 9999)
"""Years of which every moment can be told in any time zone."""
CHOICE: Final = Limit(-1e9, 1e9, "")
"""A number that the program keeps beside a setup; it measures nothing."""
_MOST: Final[Mapping[type, tuple[int, str]]] = {
    str: (LONGEST_TEXT, "signs"),
    bytes: (LONGEST_MESSAGE, "bytes"),
}
_OF_FIELD: Final = {"distance_mm": DISTANCE, "reading_mm": LENGTH}
_OF_UNIT: Final = {"mm": ON_PLAN, "deg": ANGLE, "ppm": SCALE, "c": AIR}


def limit_of(record: type, field: str, otherwise: Limit = CHOICE) -> Limit:
    """Return the limit of a record's field: its own, or that of all fields of its unit.

    A field that has neither, such as each half of a pair, has that of the field it is in:
    ``otherwise``.
    """
    own: Mapping[str, Limit] = getattr(record, "LIMITS", {})
    of_unit = _OF_UNIT.get(field.rpartition("_")[2], otherwise)
    return own.get(field) or _OF_FIELD.get(field) or of_unit


def check_record(record: object, name: str) -> None:
    """Refuse a record that holds a figure out of all reason, or a text or list without end.

    Those that were typed were checked then; this is for what comes in a file of somebody else.

    Raises:
        BadInput: naming the field.
    """
    _check_value(record, name, CHOICE)


def _check_value(value: object, name: str, limit: Limit) -> None:
    match value:
        case bool():
            return
        case int() | float():
            limit.check(name, value)
        case datetime():
            if value.year not in YEARS:
                raise BadInput(f"{name}: the year {value.year} is no time of a record")
        case str() | bytes():
            _check_size(value, name)
        case Mapping() | list() | tuple():
            _check_size(value, name)
            parts = [*value, *value.values()] if isinstance(value, Mapping) else value
            for one in parts:
                _check_value(one, name, limit)
        case msgspec.Struct():
            for field in value.__struct_fields__:
                inner = limit_of(type(value), field, limit)
                _check_value(getattr(value, field), f"{name}.{without_unit(field)}", inner)


def _check_size(value: Sized, name: str) -> None:
    most, of = _MOST.get(type(value), (MOST_ITEMS, "of them"))
    if len(value) > most:
        raise BadInput(f"{name}: over {most} {of}")
