"""Symmetry and toe-in in constructed cases, computed outside of the program."""

from __future__ import annotations

import math

import numpy as np
import pytest
from uncertainties import ufloat, umath

from witnessmark.locate.pose import locate, predict
from witnessmark.locate.symmetry import symmetry
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Meter,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
)

_BASE, _DEPTH = 2500.0, 2165.064
_CABINET = Cabinet(240.0, 380.0, 1000.0)


def _setup(seat_off_mm: float) -> Setup:
    return Setup(
        room=Room.rectangular(5000.0, 6000.0),
        cabinets=Pair(_CABINET, _CABINET),
        seat=Seat(1000.0 + _DEPTH, 2500.0 + seat_off_mm, 1000.0),
        meter=Meter(repeatability_mm=0.01, resolution_mm=0.0, zero_mm=0.0),
    )


def _symmetry_error(seat_off_mm: float, left_back_mm: float = 0.0):  # noqa: ANN202
    setup = _setup(seat_off_mm)
    standing = {
        Side.LEFT: Placement((5000.0 - _BASE) / 2, 1000.0 - left_back_mm, 0.0),
        Side.RIGHT: Placement((5000.0 - _BASE) / 2, 1000.0, 0.0),
    }
    kinds = [
        ShotKind(side, point, to, Held.WALL)
        for side in Side
        for point, to in (
            ("rear-inner", AimedAt.FRONT),
            ("rear-outer", AimedAt.FRONT),
            ("front-outer", AimedAt(side.value)),
        )
    ]
    shots = [Shot(kind, predict(setup, standing, kind)) for kind in kinds]
    return symmetry(setup, locate(setup, shots)).error


@pytest.mark.parametrize(
    ("seat_off_mm", "path_mm", "arrival_us", "level_db"),
    [(10.0, 9.99994, 29.1374, -0.0347), (50.0, 49.9925, 145.666, -0.1737)],
)
def test_a_seat_off_centre(
    seat_off_mm: float, path_mm: float, arrival_us: float, level_db: float
) -> None:
    """A base of 2.5 m in an equilateral triangle, 343.2 m/s; constructed."""
    error = _symmetry_error(seat_off_mm)
    assert error.path_to_seat_mm == pytest.approx(path_mm, abs=1e-4)
    assert error.arrival_us == pytest.approx(arrival_us, abs=1e-3)
    assert error.level_db == pytest.approx(level_db, abs=1e-4)
    assert error.side_mm == pytest.approx(0, abs=1e-6)


def test_the_left_cabinet_10_mm_back() -> None:
    error = _symmetry_error(0.0, left_back_mm=10.0)
    assert error.setback_mm == pytest.approx(-10.0, abs=1e-6)
    assert error.path_to_seat_mm == pytest.approx(8.66524, abs=1e-4)
    assert error.arrival_us == pytest.approx(25.2484, abs=1e-3)


def test_toe_in_from_two_readings() -> None:
    """Readings 1.252 and 1.200 m held on the cabinet, 0.300 m apart, u = 1 mm each: 9.83356
    degrees; with u = 0.5 mm of the spacing 0.26271 degrees. Constructed; the readings' share comes
    from the program, the spacing's from the package uncertainties, which has both.
    """
    cabinet = Cabinet(300.0, 380.0)
    setup = Setup(
        room=Room.rectangular(5000.0, 6000.0),
        cabinets=Pair(cabinet, cabinet),
        seat=Seat(4000.0, 2500.0),
        meter=Meter(repeatability_mm=1.0, resolution_mm=0.0, zero_mm=7.0),
    )
    readings = (
        ("rear-inner", AimedAt.FRONT, 1200.0),
        ("rear-outer", AimedAt.FRONT, 1252.0),
        ("rear-outer", AimedAt.LEFT, 1500.0),
    )

    def located(zero_mm: float):  # noqa: ANN202
        return locate(
            setup,
            [
                Shot(ShotKind(Side.LEFT, point, to, Held.CABINET), reading + zero_mm)
                for point, to, reading in readings
            ],
        )

    found = located(0.0)
    assert found.placements[Side.LEFT].toe_in_deg == pytest.approx(9.83356, abs=1e-5)
    from_readings = math.sqrt(found.covariance_of(Side.LEFT)[2, 2])

    spacing = ufloat(300.0, 0.5)
    one, other = ufloat(1252.0, 1.0), ufloat(1200.0, 1.0)
    exact = umath.atan((one - other) / 300.0) * 180 / np.pi
    assert from_readings == pytest.approx(exact.std_dev, abs=1e-5)
    whole = umath.atan((one - other) / spacing) * 180 / np.pi
    assert whole.std_dev == pytest.approx(0.26271, abs=1e-5)
    from_spacing = math.degrees(math.cos(math.radians(9.83356)) ** 2 * 52 / 300**2 * 0.5)
    assert math.hypot(from_readings, from_spacing) == pytest.approx(0.26271, abs=1e-5)

    # a zero error of any size changes neither
    shifted = located(25.0)
    assert shifted.placements[Side.LEFT].toe_in_deg == pytest.approx(9.83356, abs=1e-5)
