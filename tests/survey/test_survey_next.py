"""Which distance of a survey comes next, and where a distance lies in plan."""

from __future__ import annotations

import math

import pytest
from geometry_cases import SAME_MM, many, rooms
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Point
from survey_cases import (
    DIAGONALS,
    ENOUGH,
    METER,
    ROOM,
    WALLS,
    WIDTHS,
    long_line,
    measures,
    place_of,
    spoilt,
    taken,
    told_by_shapely,
)

from witnessmark.lengths import Units
from witnessmark.model import Corner, Flush, Measure, Room, Shortest, Wall
from witnessmark.model.survey import diagonal, wall_length, width_at
from witnessmark.survey.model import measure_ends
from witnessmark.survey.names import SurveyNames
from witnessmark.survey.survey import TooFewDistances, likely_room, next_check, survey


def test_of_a_room_of_which_nothing_is_known_the_walls_and_a_diagonal_are_missing() -> None:
    with pytest.raises(TooFewDistances) as caught:
        survey([], METER)
    order = [Wall.FRONT, Wall.LEFT, Wall.RIGHT, Wall.BACK]
    expected = [*(wall_length(wall, 0.0) for wall in order), diagonal(Corner.FRONT_LEFT, 0.0)]
    assert list(caught.value.missing) == expected


def test_following_what_is_missing_leads_to_the_corners_in_five_distances() -> None:
    readings: list[Measure] = []
    for _ in range(5):
        with pytest.raises(TooFewDistances) as caught:
            survey(readings, METER)
        readings += taken(ROOM, caught.value.missing[:1])
    assert survey(readings, METER).adjustment.freedom == 0


def test_the_other_diagonal_checks_first_and_a_width_half_way_second() -> None:
    readings = taken(ROOM, ENOUGH)
    told = SurveyNames()
    first = next_check(survey(readings, METER), told)
    assert first == diagonal(Corner.FRONT_RIGHT, 0.0)
    readings += taken(ROOM, [first])
    second = next_check(survey(readings, METER), told)
    assert second == width_at(3600.0, 0.0)
    readings += taken(ROOM, [second])
    assert next_check(survey(readings, METER), told) is None


def test_where_something_does_not_fit_a_further_check_is_asked_for() -> None:
    readings = taken(ROOM, [*WALLS, *DIAGONALS, WIDTHS[0]])
    readings = spoilt(readings, 4, readings[4].reading_mm + 25.0)
    found = survey(readings, METER)
    assert found.suspects
    assert next_check(found, SurveyNames()) is not None


def test_half_way_is_a_whole_foot_for_those_who_measure_in_feet() -> None:
    readings = taken(ROOM, [*WALLS, *DIAGONALS])
    check = next_check(survey(readings, METER), SurveyNames(units=Units.INCH_16))
    assert check is not None
    assert check.start.at_mm == pytest.approx(12 * 304.8)


def test_a_guess_is_a_rectangle_of_what_was_taken() -> None:
    assert likely_room([], METER).corners == Room.rectangular(4000, 4000).corners
    few = likely_room([wall_length(Wall.FRONT, 5363.0), wall_length(Wall.LEFT, 7228.0)], METER)
    assert few.back_right == pytest.approx((5363.0, 7228.0), abs=1.0)
    wild = likely_room([wall_length(Wall.FRONT, 90_000.0)], METER, (Wall.LEFT,))
    assert wild.width_mm == 50_000.0
    assert wild.datum == (Wall.LEFT,)


@many
@given(rooms(), measures)
def test_a_distance_lies_between_its_ends(room: Room, measure: Measure) -> None:
    assume(told_by_shapely(room, measure) > 1.0)
    start, end = measure_ends(room, measure)
    assert start == pytest.approx(place_of(room, measure.start), abs=SAME_MM)
    assert math.dist(start, end) == pytest.approx(told_by_shapely(room, measure), abs=SAME_MM)
    if isinstance(measure, Shortest):
        assert long_line(room, measure.wall).distance(Point(end)) < SAME_MM
    if isinstance(measure, Flush):
        assert long_line(room, measure.back.opposite).distance(Point(end)) < SAME_MM


@given(st.sampled_from(Wall))
def test_the_length_of_a_side_lies_on_it(wall: Wall) -> None:
    assert set(measure_ends(ROOM, wall_length(wall, 0.0))) == set(ROOM.wall(wall))
