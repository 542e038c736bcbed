"""A touch point from the readings of a tape."""

from __future__ import annotations

import math

import numpy as np
import pytest
from effort import cases
from geometry_cases import many
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.geometry.touch import (
    Face,
    FoundPoint,
    TapeReading,
    TwoPlaces,
    expected_reading,
    find_point,
)
from witnessmark.model import BOX_POINTS, Cabinet, TouchPoint

CABINET = Cabinet(262.0, 391.0)


def tape(cabinet: Cabinet, point: TouchPoint, start: str) -> TapeReading:
    """What a tape shows, by plain coordinates."""
    half = cabinet.width_mm / 2
    planes = {
        "baffle": point.back_mm,
        "rear face": cabinet.depth_mm - point.back_mm,
        "inner side": half - point.inward_mm,
        "outer side": half + point.inward_mm,
    }
    if start in planes:
        return TapeReading(start, planes[start])
    corner = cabinet.touch_points[start]
    across, along = point.inward_mm - corner.inward_mm, point.back_mm - corner.back_mm
    return TapeReading(start, math.hypot(across, along))


def found(point: TouchPoint, *starts: str) -> FoundPoint:
    return find_point(CABINET, [tape(CABINET, point, start) for start in starts])


@many
@given(
    st.floats(-300.0, 300.0),
    st.floats(-60.0, 600.0),
    st.lists(st.sampled_from((*Face, *BOX_POINTS)), min_size=3, max_size=6, unique=True),
)
def test_the_point_is_found_wherever_it_is(inward: float, back: float, starts: list[str]) -> None:
    point = TouchPoint(inward, back)
    readings = [tape(CABINET, point, start) for start in starts]
    assume(all(reading.start in tuple(Face) or reading.reading_mm > 5 for reading in readings))
    # readings across and along, or from three corners, leave no second place
    planes = {Face.BAFFLE: 1, Face.REAR: 1, Face.INNER: 0, Face.OUTER: 0}
    ways = {planes[Face(start)] for start in starts if start in planes}
    corners = [start for start in starts if start in BOX_POINTS]
    assume(len(ways) == 2 or len(corners) >= 3)
    result = find_point(CABINET, readings)
    assert result.point.inward_mm == pytest.approx(inward, abs=1e-3)
    assert result.point.back_mm == pytest.approx(back, abs=1e-3)
    assert result.suspect is None


def test_the_sentence_says_where_it_is_and_how_well_it_is_known() -> None:
    result = found(TouchPoint(-15.0, 420.0), Face.BAFFLE, Face.OUTER, Face.INNER)
    assert result.words == (
        "the point is 15 mm outward of the middle and 420 mm behind the baffle, "
        "known to ±1 mm and ±2 mm"
    )
    assert "would check" in found(TouchPoint(5.0, -20.0), Face.BAFFLE, Face.OUTER).words
    assert (
        "20 mm in front of the baffle"
        in found(TouchPoint(5.0, -20.0), Face.BAFFLE, Face.OUTER).words
    )


def test_a_point_proud_of_a_face_is_read_negative() -> None:
    result = find_point(CABINET, [TapeReading(Face.REAR, -29.0), TapeReading(Face.INNER, -8.0)])
    assert result.point == TouchPoint(139.0, 420.0)


def test_the_uncertainty_holds_the_truth() -> None:
    rng = np.random.default_rng(12)
    point, starts = TouchPoint(-60.0, 430.0), ("rear-inner", "rear-outer", "front-inner", "baffle")
    true = [tape(CABINET, point, start) for start in starts]
    held = 0
    rounds = cases(120, 600)
    for _ in range(rounds):
        noisy = [
            TapeReading(reading.start, reading.reading_mm + rng.normal(0.0, 1.0))
            for reading in true
        ]
        result = find_point(CABINET, noisy)
        held += abs(result.point.inward_mm + 60.0) <= result.inward_expanded_mm
        held += abs(result.point.back_mm - 430.0) <= result.back_expanded_mm
    assert 0.93 <= held / (2 * rounds) <= 0.975


def test_a_slip_is_named() -> None:
    point = TouchPoint(-15.0, 420.0)
    readings = [tape(CABINET, point, start) for start in (*Face, *BOX_POINTS)]
    readings[2] = TapeReading(Face.INNER, readings[2].reading_mm + 10.0)
    result = find_point(CABINET, readings)
    assert result.suspect == readings[2]
    assert result.words.endswith(
        "the reading from inner side does not fit the others: take it again"
    )
    assert result.residuals_mm[2] < 0


def test_three_readings_that_contradict_each_other_are_not_laid_to_one() -> None:
    readings = [
        TapeReading(Face.INNER, 100.0),
        TapeReading(Face.OUTER, 180.0),
        TapeReading(Face.BAFFLE, 10.0),
    ]
    assert find_point(CABINET, readings).words.endswith("take them again")


def test_two_places_are_told_and_what_would_tell_them_apart() -> None:
    with pytest.raises(BadInput, match=r"15 mm outward .* 362 mm .* 420 mm .* the baffle would"):
        found(TouchPoint(-15.0, 420.0), "rear-inner", "rear-outer")
    with pytest.raises(TwoPlaces, match="from the inner side would decide") as told:
        found(TouchPoint(-15.0, 420.0), "rear-inner", "front-inner")
    assert told.value.telling is Face.INNER


def test_what_a_tape_should_read_is_as_plain_coordinates_have_it() -> None:
    point = TouchPoint(-15.0, 420.0)
    for start in (*Face, *BOX_POINTS):
        expected, by_hand = expected_reading(CABINET, start, point), tape(CABINET, point, start)
        assert expected.start == start
        assert expected.reading_mm == pytest.approx(by_hand.reading_mm)
    with pytest.raises(BadInput, match="no place to measure from"):
        expected_reading(CABINET, "plinth", point)


@pytest.mark.parametrize(
    ("readings", "told"),
    [
        ([], "do not fix"),
        ([TapeReading(Face.BAFFLE, 10.0)], "do not fix"),
        ([TapeReading(Face.BAFFLE, 10.0), TapeReading(Face.REAR, 381.0)], "do not fix"),
        ([TapeReading("rear-inner", 10.0), TapeReading("rear-outer", 20.0)], "contradict"),
        ([TapeReading("plinth", 10.0), TapeReading(Face.REAR, 381.0)], "no place to measure from"),
        ([TapeReading("rear-inner", -4.0), TapeReading(Face.REAR, 381.0)], "above 0"),
        ([TapeReading(Face.INNER, math.inf), TapeReading(Face.REAR, 381.0)], "not a number"),
    ],
)
def test_readings_that_do_not_do_are_refused(readings: list[TapeReading], told: str) -> None:
    with pytest.raises(BadInput, match=told):
        find_point(CABINET, readings)
