"""The cause of a wrong reading is named: each common mistake has its signature."""

from __future__ import annotations

import math

import msgspec
import pytest
from geometry_cases import SETUP, STANDING, by_side

from witnessmark.locate.causes import likely_cause
from witnessmark.locate.pose import predict
from witnessmark.model import AimedAt, Held, Shot, ShotKind, Side

REAR_INNER = ShotKind(Side.LEFT, "rear-inner", AimedAt.FRONT, Held.WALL)
EXPECTED_MM = predict(SETUP, by_side(STANDING), REAR_INNER)


def cause_of(reading_mm: float, kind: ShotKind = REAR_INNER) -> str:
    expected = predict(SETUP, by_side(STANDING), kind)
    return likely_cause(SETUP, by_side(STANDING), Shot(kind, reading_mm), expected)


@pytest.mark.parametrize(
    ("reading_mm", "cause"),
    [
        (EXPECTED_MM / 0.3048, "feet mistaken for metres"),
        (EXPECTED_MM * 0.3048, "metres mistaken for feet"),
        (EXPECTED_MM * 10, "decimal point one place too far right"),
        (EXPECTED_MM / 10, "decimal point one place too far left"),
        (EXPECTED_MM - 31.0, "31 mm short: something sticks out from the wall there"),
        (EXPECTED_MM + 118.0, "118 mm long: measured from the wrong edge of the meter"),
        (EXPECTED_MM - 118.0, "118 mm short: measured from the wrong edge of the meter"),
        (EXPECTED_MM + 777.0, "it fits nothing else that was measured; repeat it"),
    ],
)
def test_each_mistake_has_its_words(reading_mm: float, cause: str) -> None:
    assert cause_of(reading_mm).startswith(cause)


def test_a_beam_that_was_not_square() -> None:
    """Five degrees off over 4.6 m: 17 mm, and always long."""
    kind = ShotKind(Side.LEFT, "front-inner", AimedAt.BACK, Held.WALL)
    square = predict(SETUP, by_side(STANDING), kind)
    slant = square / math.cos(math.radians(5.0))
    assert cause_of(slant, kind).startswith(
        f"{slant - square:.0f} mm long: the beam was not square to the wall; sweep for the shortest"
    )
    assert "not square" not in cause_of(2 * square - slant, kind)


@pytest.mark.parametrize("point", ["front-inner", "rear-outer", "front-outer"])
def test_another_corner_is_named(point: str) -> None:
    other = msgspec.structs.replace(REAR_INNER, point=point)
    said = cause_of(predict(SETUP, by_side(STANDING), other))
    assert said == f"taken from {point} instead of rear-inner"


@pytest.mark.parametrize("wall", [AimedAt.LEFT, AimedAt.RIGHT, AimedAt.BACK])
def test_another_wall_is_named(wall: AimedAt) -> None:
    other = msgspec.structs.replace(REAR_INNER, to=wall)
    said = cause_of(predict(SETUP, by_side(STANDING), other))
    assert said == f"taken to the {wall} wall instead"


def test_digits_that_changed_places() -> None:
    digits = str(round(EXPECTED_MM))
    swapped = digits[0] + digits[2] + digits[1] + digits[3]
    assert abs(int(swapped) - int(digits)) >= 18
    assert cause_of(float(swapped)) == "two digits changed places"


def test_a_shot_between_points_has_no_other_wall() -> None:
    kind = ShotKind(Side.LEFT, "front-inner", AimedAt.SEAT, Held.POINT)
    rear = predict(SETUP, by_side(STANDING), msgspec.structs.replace(kind, point="rear-inner"))
    assert cause_of(rear, kind) == "it fits nothing else that was measured; repeat it"
