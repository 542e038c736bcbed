"""The corners of a room from distances: against shapely, scipy, and rooms that are known."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from effort import cases, examples
from geometry_cases import SAME_MM, many, rooms, some
from hypothesis import assume, given
from hypothesis import strategies as st
from survey_cases import (
    DIAGONALS,
    ENOUGH,
    EVERYTHING,
    EXACT,
    METER,
    ROOM,
    WALLS,
    WIDTHS,
    assert_corners,
    in_frame,
    measures,
    place_of,
    taken,
    told_by_shapely,
)

from witnessmark.model import (
    Corner,
    FloorMark,
    Flush,
    Measure,
    Meter,
    Room,
    Shortest,
    Wall,
)
from witnessmark.survey.model import FREE, SurveyModel, plan_of, predict_measure
from witnessmark.survey.survey import survey
from witnessmark_simulators.room import SimulatedRoom


@many
@given(rooms(), measures)
def test_each_distance_is_that_of_shapely(room: Room, measure: Measure) -> None:
    assume(told_by_shapely(room, measure) > 1.0)
    assert predict_measure(room, measure) == pytest.approx(
        told_by_shapely(room, measure), abs=SAME_MM
    )


@some
@given(rooms(), st.floats(200.0, 4000.0))
def test_a_flush_meter_reads_what_the_simulated_room_answers(room: Room, at_mm: float) -> None:
    measure = Flush(FloorMark(Corner.FRONT_LEFT, Wall.LEFT, at_mm), 1.0)
    (x0, y0), (x1, y1) = room.wall(Wall.LEFT)
    empty = SimulatedRoom(room, None, None, None)  # type: ignore[arg-type]
    hit = empty.ray(place_of(room, measure.start), (y0 - y1, x1 - x0))
    assume(hit.wall is Wall.RIGHT)
    assert predict_measure(room, measure) == pytest.approx(hit.distance_mm, abs=SAME_MM)


@pytest.mark.parametrize("meter", [EXACT, METER])
@pytest.mark.parametrize("measure", EVERYTHING, ids=str)
def test_jacobian_is_the_derivative(measure: Measure, meter: Meter) -> None:
    model = SurveyModel([measure], meter)
    unknowns = np.zeros(model.unknowns)
    unknowns[:5] = np.array(ROOM.corners).ravel()[FREE]
    if meter.zero_mm:
        unknowns[5:] = 1.3, 40.0
    _, jacobian = model(unknowns)
    for column, step in enumerate(1e-2 * np.eye(model.unknowns)):
        above, below = model(unknowns + step)[0], model(unknowns - step)[0]
        assert jacobian[:, column] == pytest.approx((above - below) / 2e-2, abs=1e-7)


@some
@given(rooms())
def test_exact_distances_give_the_room_back(room: Room) -> None:
    expected = in_frame(room)
    for wanted in (ENOUGH, EVERYTHING):
        found = survey(taken(room, wanted), METER)
        assert_corners(found.room, expected)
        assert found.room.front_left == (0.0, 0.0)
        assert found.room.front_right[1] == 0.0
        assert found.zero_mm == pytest.approx(0.0, abs=1e-6)
        assert not found.suspects


@examples(6, 50)
@given(rooms(), st.integers(0, 2**32 - 1))
def test_adjustment_is_that_of_scipy(room: Room, seed: int) -> None:
    readings = taken(room, EVERYTHING, np.random.default_rng(seed), EXACT)
    found = survey(readings, EXACT)

    def misfit(free: np.ndarray) -> np.ndarray:
        guess = Room(*plan_of(free).points)
        told = [told_by_shapely(guess, measure) - measure.reading_mm for measure in readings]
        return np.array(told) / EXACT.shot_sigma_mm

    begin = np.array(in_frame(room).corners).ravel()[FREE]
    solved = scipy.optimize.least_squares(misfit, begin, method="lm", xtol=1e-12, ftol=1e-12)
    assert np.array(found.room.corners).ravel()[FREE] == pytest.approx(solved.x, abs=1e-3)
    assert found.adjustment.chi_square == pytest.approx(2 * solved.cost, rel=1e-5)
    steps = 0.05 * np.eye(5)
    slope = np.array([misfit(solved.x + step) - misfit(solved.x - step) for step in steps]) / 0.1
    expected = np.linalg.inv(slope @ slope.T)
    assert found.covariance[np.ix_(FREE, FREE)] == pytest.approx(expected, rel=1e-5, abs=1e-8)


def test_what_the_frame_fixes_has_no_uncertainty() -> None:
    found = survey(taken(ROOM, EVERYTHING), METER)
    fixed = [0, 1, 3]
    assert (found.covariance[fixed] == 0).all()
    assert (found.covariance.diagonal()[FREE] > 0).all()


def test_intervals_hold_the_truth() -> None:
    """Of many surveys with noise the mean of d' C^-1 d is that of chi-square with 5 degrees."""
    rng = np.random.default_rng(20)
    truth = np.array(ROOM.corners).ravel()[FREE]
    forms = []
    for _ in range(cases(200, 400)):
        found = survey(taken(ROOM, [*WALLS, *DIAGONALS, *WIDTHS], rng), METER)
        off = np.array(found.room.corners).ravel()[FREE] - truth
        forms.append(off @ np.linalg.inv(found.covariance[np.ix_(FREE, FREE)]) @ off)
    # the mean of 400 has a standard deviation of sqrt(10 / 400) = 0.16, of 200 one of 0.22
    assert np.mean(forms) == pytest.approx(5.0, abs=0.6)


def test_more_distances_leave_less_uncertainty() -> None:
    few, many_more = (survey(taken(ROOM, wanted), METER) for wanted in (ENOUGH, EVERYTHING))
    assert (many_more.covariance.diagonal()[FREE] < few.covariance.diagonal()[FREE]).all()


def test_a_side_without_a_wall_is_surveyed_like_one() -> None:
    wanted = [
        *WALLS[:3],  # all but the right
        DIAGONALS[1],
        Shortest(FloorMark(Corner.BACK_RIGHT), Wall.LEFT, 1.0),
        Shortest(FloorMark(Corner.BACK_RIGHT), Wall.FRONT, 1.0),
    ]
    found = survey(taken(ROOM, wanted), METER, datum=(Wall.RIGHT,))
    assert found.room.datum == (Wall.RIGHT,)
    assert_corners(found.room, ROOM)
    assert found.checks[-1].words == ("the way from the back-right corner square to the front wall")
