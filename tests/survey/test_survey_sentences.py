"""What a survey says: what is missing, what is wrong, and which rooms cannot be."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from effort import cases
from geometry_cases import some
from hypothesis import given
from hypothesis import strategies as st
from survey_cases import (
    DIAGONALS,
    ENOUGH,
    EVERYTHING,
    EXACT,
    FLUSH,
    LENGTHS,
    METER,
    ROOM,
    SHORTEST,
    WALLS,
    WIDTHS,
    assert_corners,
    measures,
    spoilt,
    taken,
)

from witnessmark.errors import BadInput, TooFewShots
from witnessmark.lengths import Units
from witnessmark.model import (
    Corner,
    FloorMark,
    Flush,
    Measure,
    Shortest,
    Straight,
    Wall,
)
from witnessmark.model.survey import diagonal, wall_length, width_at
from witnessmark.survey.survey import survey


@pytest.mark.parametrize(
    ("wanted", "missing"),
    [
        (WALLS, "the diagonal from front-left to back-right"),
        (
            [WALLS[0], WALLS[2]],
            "the right wall, the back wall and the diagonal from front-left to back-right",
        ),
        ([*WIDTHS, *DIAGONALS], "the left wall"),
        (DIAGONALS, "the front wall, the left wall and the right wall"),
        (
            [*WIDTHS, *LENGTHS, *FLUSH, *SHORTEST],
            "the diagonal from front-left to back-right",
        ),
        ([WALLS[0], *DIAGONALS, WIDTHS[0]], "the left wall"),
    ],
)
def test_too_few_distances_are_named(wanted: list[Measure], missing: str) -> None:
    with pytest.raises(TooFewShots) as caught:
        survey(taken(ROOM, wanted), METER)
    told = str(caught.value)
    assert told.startswith("room: missing ")
    # and with the very distances that it names the corners are fixed
    named = [measure for measure in [*WALLS, *DIAGONALS] if words_of(measure) in told]
    assert survey(taken(ROOM, [*wanted, *named]), METER).adjustment.freedom >= 0
    assert told == f"room: missing {missing}"


def words_of(measure: Straight) -> str:
    for wall in Wall:
        if {measure.start.corner, measure.end.corner} == set(wall.ends):
            return f"the {wall} wall"
    return f"from {measure.start.corner} to {measure.end.corner}"


@pytest.mark.parametrize("place", range(len(EVERYTHING)))
@pytest.mark.parametrize("error_mm", [-18.0, 18.0])
def test_a_small_mistake_is_named(place: int, error_mm: float) -> None:
    rng = np.random.default_rng(place)
    # a diagonal more, because two lone ones only check each other
    wanted = [*EVERYTHING, *DIAGONALS]
    readings = taken(ROOM, wanted, rng)
    found = survey(spoilt(readings, place, readings[place].reading_mm + error_mm), METER)
    (suspect,) = found.suspects
    assert suspect.measure == found.checks[place].measure
    assert suspect.residual_mm * error_mm < 0
    assert suspect.cause


def test_distances_that_only_check_each_other_are_suspect_together() -> None:
    readings = taken(ROOM, [*WALLS, *DIAGONALS])
    found = survey(spoilt(readings, 4, readings[4].reading_mm + 25.0), EXACT)
    assert len(found.suspects) == 6
    assert {check.cause for check in found.suspects} == {
        "it and another distance contradict each other; measure both again"
    }


SLIPS = {
    "feet mistaken for metres": 1 / 0.3048,
    "metres mistaken for feet": 0.3048,
    "decimal point one place too far right": 10.0,
    "decimal point one place too far left": 0.1,
}


@pytest.mark.parametrize(
    ("place", "cause"),
    [
        (place, cause)
        for place in range(len(EVERYTHING))
        for number, cause in enumerate(SLIPS)
        # every place meets one of the four, in turn
        if (number + place) % cases(9, 1) == 0
    ],
)
def test_a_gross_mistake_is_left_out_and_named(place: int, cause: str) -> None:
    wanted = [*EVERYTHING, *DIAGONALS]
    readings = taken(ROOM, wanted)
    wrong_mm = readings[place].reading_mm * SLIPS[cause]
    found = survey(spoilt(readings, place, wrong_mm), METER)
    assert [check.cause for check in found.suspects] == [cause]
    assert found.checks[place].suspect
    assert_corners(found.room, ROOM)
    assert len(found.checks) == len(wanted)


def test_clean_surveys_are_seldom_accused() -> None:
    rng = np.random.default_rng(5)
    surveys = [survey(taken(ROOM, EVERYTHING, rng), METER) for _ in range(cases(120, 300))]
    # 13 tests at 0.1 % each: 1.3 % of surveys; more than this are accused one time in a thousand
    assert sum(bool(found.suspects) for found in surveys) <= cases(6, 11)


@pytest.mark.parametrize(
    ("sides", "told"),
    [
        (
            {Wall.FRONT: 3000.0, Wall.RIGHT: 4000.0},
            (
                "room: the diagonal from front-left to back-right, 8000 mm, is longer than the "
                "front wall and the right wall together, 7000 mm; measure these three again"
            ),
        ),
        (
            {Wall.FRONT: 3000.0, Wall.RIGHT: 12_000.0},
            (
                "room: the right wall, 12000 mm, is longer than the front wall and the diagonal "
                "from front-left to back-right together, 11000 mm; measure these three again"
            ),
        ),
    ],
)
def test_triangles_that_cannot_be_are_refused(sides: dict[Wall, float], told: str) -> None:
    lengths = {Wall.BACK: 5000.0, Wall.LEFT: 6000.0} | sides
    readings: list[Measure] = [wall_length(wall, mm) for wall, mm in lengths.items()]
    with pytest.raises(BadInput) as caught:
        survey([*readings, diagonal(Corner.FRONT_LEFT, 8000.0)])
    assert str(caught.value) == told


def test_two_diagonals_too_long_for_their_walls_are_refused() -> None:
    """No triangle is broken, but Ptolemy's inequality is: 9 * 9 > 5.3 * 5.3 + 7.2 * 7.2."""
    readings: list[Measure] = [
        wall_length(wall, 5300.0 if wall in (Wall.FRONT, Wall.BACK) else 7200.0) for wall in Wall
    ]
    readings += [diagonal(Corner.FRONT_LEFT, 9000.0), diagonal(Corner.FRONT_RIGHT, 9000.0)]
    with pytest.raises(BadInput, match=r"^room: no room has all of these distances, measure again"):
        survey(readings)


def test_a_room_that_bends_outward_is_refused() -> None:
    dart = [(0.0, 0.0), (5000.0, 0.0), (1500.0, 1400.0), (0.0, 6000.0)]
    at = dict(zip(Corner, dart, strict=True))
    readings = [
        Straight(FloorMark(one), FloorMark(other), math.dist(at[one], at[other]))
        for one, other in [
            *(wall.ends for wall in Wall),
            (Corner.FRONT_LEFT, Corner.BACK_RIGHT),
            (Corner.FRONT_RIGHT, Corner.BACK_LEFT),
        ]
    ]
    with pytest.raises(BadInput, match="every corner bends inward"):
        survey(readings)


@pytest.mark.parametrize(
    ("measure", "told"),
    [
        (wall_length(Wall.BACK, 0.0), "room: the back wall is 0 mm; it must lie above 0, to 100 m"),
        (
            wall_length(Wall.BACK, math.nan),
            "room: the back wall is nan mm; it must lie above 0, to 100 m",
        ),
        (
            Straight(FloorMark(Corner.BACK_LEFT), FloorMark(Corner.BACK_LEFT), 10.0),
            "give two marks that differ",
        ),
        (
            Shortest(FloorMark(Corner.FRONT_LEFT), Wall.LEFT, 10.0),
            "a mark on the left wall has no distance from it",
        ),
        (
            width_at(9000.0, 5050.0),
            ("the width 9000 mm from the front wall starts or ends beyond the left wall"),
        ),
    ],
)
def test_senseless_distances_are_refused(measure: Measure, told: str) -> None:
    with pytest.raises(BadInput) as caught:
        survey([*taken(ROOM, EVERYTHING), measure], METER)
    assert told in str(caught.value)


def test_a_mark_is_on_a_wall_of_its_corner() -> None:
    with pytest.raises(BadInput, match="in the back-left corner the back and left walls meet"):
        FloorMark(Corner.BACK_LEFT, Wall.FRONT, 100.0)
    with pytest.raises(BadInput, match="along which wall"):
        FloorMark(Corner.BACK_LEFT, None, 100.0)
    with pytest.raises(BadInput, match="between 0 and 100 m"):
        FloorMark(Corner.BACK_LEFT, Wall.LEFT, -1.0)
    with pytest.raises(BadInput, match="which wall"):
        Flush(FloorMark(Corner.BACK_LEFT), 100.0)


def test_no_meter_stands_on_a_datum_line_or_hits_one() -> None:
    for corner, wall in ((Corner.FRONT_LEFT, Wall.LEFT), (Corner.FRONT_RIGHT, Wall.RIGHT)):
        flush = Flush(FloorMark(corner, wall, 500.0), 5000.0)
        with pytest.raises(BadInput, match="nor hit it; measure square to it with a tape"):
            survey([*taken(ROOM, ENOUGH), flush], METER, datum=(Wall.RIGHT,))


def test_sentences_are_in_the_units_asked_for() -> None:
    found = survey(taken(ROOM, EVERYTHING), METER, units=Units.INCH_16)
    words = [check.words for check in found.checks]
    assert "the width 3' 11 1/4\" from the front wall" in words
    assert "the beam square off the left wall, 4' 11 1/16\" from the front-left corner" in words
    assert "the length 2' 11 7/16\" from the left wall" in words


@some
@given(st.lists(measures, min_size=1, max_size=9), st.integers(0, 2**32 - 1))
def test_any_numbers_give_a_room_or_one_sentence(wanted: list[Measure], seed: int) -> None:
    rng = np.random.default_rng(seed)
    readings = [
        msgspec.structs.replace(one, reading_mm=float(rng.uniform(1, 9000))) for one in wanted
    ]
    told = ""
    try:
        found = survey([*readings, *taken(ROOM, DIAGONALS)], METER)
    except (BadInput, TooFewShots) as error:
        told = str(error)
    else:
        assert np.isfinite(found.covariance).all()
    assert not told or (told.startswith("room: ") and "\n" not in told)
