"""How far rooms are from rectangles, and what the choice of the mirror line changes."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from geometry_cases import SAME_MM, many, rooms, some
from hypothesis import given
from hypothesis import strategies as st
from survey_cases import DIAGONALS, METER, ROOM, WALLS, WIDTHS, taken
from uncertainties import correlated_values, umath

from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.frame import side_frame
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units
from witnessmark.model import (
    Cabinet,
    Corner,
    Meter,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Side,
    Tolerance,
    Wall,
)
from witnessmark.survey.names import SurveyNames
from witnessmark.survey.squareness import (
    corner_angles,
    mirror_gap,
    pair_gap,
)
from witnessmark.survey.survey import survey
from witnessmark.words.rooms import square_sentences

SPLAYED = Room((0.0, 0.0), (5000.0, 0.0), (5100.0, 6000.0), (-60.0, 6000.0))
SQUARE = Room.rectangular(5000.0, 6000.0)


def spread(seed: int = 1, mm: float = 2.0) -> FloatArray:
    """Any covariance of eight coordinates."""
    root = np.random.default_rng(seed).normal(0, mm, (8, 8))
    return root @ root.T


def test_a_rectangle_has_four_square_corners() -> None:
    for angle in corner_angles(SQUARE).values():
        assert angle.over_deg == pytest.approx(0.0, abs=1e-9)
        assert angle.lean_mm == pytest.approx(0.0, abs=SAME_MM)
        assert not angle.is_told


def test_angles_of_a_splayed_room_by_hand() -> None:
    angles = corner_angles(SPLAYED)
    left, right = (math.degrees(math.atan2(lean, 6000.0)) for lean in (60.0, 100.0))
    assert angles[Corner.FRONT_LEFT].over_deg == pytest.approx(left)
    assert angles[Corner.FRONT_RIGHT].over_deg == pytest.approx(right)
    assert angles[Corner.BACK_RIGHT].over_deg == pytest.approx(-right)
    assert angles[Corner.BACK_LEFT].over_deg == pytest.approx(-left)
    leans = [angles[corner].lean_mm for corner in Corner]
    assert leans == pytest.approx([60.0, 100.0, -100.0, -60.0])


@many
@given(rooms())
def test_angles_sum_to_four_right_ones(room: Room) -> None:
    angles = corner_angles(room).values()
    assert sum(angle.over_deg for angle in angles) == pytest.approx(0.0, abs=1e-9)
    for angle in angles:
        length = room.side_length_mm(angle.corner.walls[1])
        lean = length * math.sin(math.radians(angle.over_deg))
        assert angle.lean_mm == pytest.approx(lean, abs=1e-6)


@some
@given(rooms(), st.integers(0, 1000))
def test_uncertainty_of_angles_is_that_of_uncertainties(room: Room, seed: int) -> None:
    covariance = spread(seed)
    xy = correlated_values([v for corner in room.corners for v in corner], covariance)
    places = {corner: xy[2 * k : 2 * k + 2] for k, corner in enumerate(Corner)}
    for corner, angle in corner_angles(room, covariance).items():
        others = [next(iter(set(wall.ends) - {corner})) for wall in corner.walls]
        (ax, ay), (bx, by) = (
            [places[other][k] - places[corner][k] for k in (0, 1)] for other in others
        )
        turn = umath.atan2(by, bx) - umath.atan2(ay, ax)  # type: ignore[attr-defined]
        assert angle.expanded_deg == pytest.approx(2 * math.degrees(turn.s), rel=1e-6)
        lean = -(ax * bx + ay * by) / (ax**2 + ay**2) ** 0.5
        assert angle.lean_mm == pytest.approx(lean.n, abs=1e-6)
        assert angle.expanded_mm == pytest.approx(2 * lean.s, rel=1e-6)


@many
@given(rooms(), st.floats(800.0, 2500.0), st.floats(1500.0, 3000.0))
def test_gap_is_the_symmetry_error_of_a_pair_mirrored_about_the_normal(
    room: Room, setback: float, base: float
) -> None:
    frames = [side_frame(room, side) for side in Side]
    sides = [frame.tape_distances((room.width_mm / 2 - base / 2, setback))[0] for frame in frames]
    gap = mirror_gap(room, Tolerance(), setback, base)
    assert gap.side_mm == pytest.approx(sides[0] - sides[1], abs=SAME_MM)


def test_gap_by_hand() -> None:
    """At 1800 mm the left wall leans out 18 mm and the right one 30 mm."""
    gap = mirror_gap(SPLAYED, Tolerance(), 1800.0, 2400.0)
    assert gap.side_mm == pytest.approx(18.0 - 30.0, abs=0.3)
    assert gap.verdict is Verdict.OUT
    assert mirror_gap(SQUARE, Tolerance(), 1800.0, 2400.0).side_mm == pytest.approx(0, abs=SAME_MM)


@some
@given(rooms(), st.integers(0, 1000))
def test_uncertainty_of_the_gap_is_that_of_differences(room: Room, seed: int) -> None:
    covariance = spread(seed)
    gap = mirror_gap(room, Tolerance(), 1900.0, 2300.0, covariance)
    slope = []
    for step in 0.01 * np.eye(8):
        sizes = []
        for sign in (1, -1):
            moved = (np.array(room.corners).ravel() + sign * step).reshape(4, 2).tolist()
            changed = Room(*((x, y) for x, y in moved))
            sizes.append(mirror_gap(changed, Tolerance(), 1900.0, 2300.0).side_mm)
        slope.append((sizes[0] - sizes[1]) / 0.02)
    expected = 2 * math.sqrt(np.array(slope) @ covariance @ np.array(slope))
    assert gap.expanded_mm == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("tolerance_mm", "uncertain_mm", "verdict"),
    [(3.0, 0.2, Verdict.OUT), (30.0, 0.2, Verdict.IN), (12.0, 2.0, Verdict.UNSURE)],
)
def test_whether_it_matters(tolerance_mm: float, uncertain_mm: float, verdict: Verdict) -> None:
    covariance = np.eye(8) * uncertain_mm**2
    gap = mirror_gap(SPLAYED, Tolerance(position_mm=tolerance_mm), 1800.0, 2400.0, covariance)
    assert gap.verdict is verdict


def test_the_pair_on_its_targets() -> None:
    cabinet = Cabinet(260.0, 390.0)
    setup = Setup(SPLAYED, Pair(cabinet, cabinet), Seat(4200.0, 2500.0), meter=Meter())
    assert pair_gap(setup) is None
    targets = Pair[Placement | None](Placement(1300, 1700, 8), Placement(1320, 1900, 8))
    gap = pair_gap(msgspec.structs.replace(setup, targets=targets))
    assert gap == mirror_gap(SPLAYED, setup.tolerance, 1800.0, 2380.0)


def test_sentences_of_a_survey() -> None:
    found = survey(taken(ROOM, [*WALLS, *DIAGONALS, *WIDTHS]), METER)
    gap = mirror_gap(found.room, Tolerance(), 1900.0, 2300.0, found.covariance)
    told = list(square_sentences(found.room, gap, SurveyNames(), found.covariance))
    assert len(told) == 5
    assert told[0].startswith("The front-left corner is 0.10° ± 0.0")
    assert "wider than a right angle: the left wall leans out 12 mm ± " in told[0]
    assert "the right wall leans in" in told[2]
    assert told[4].startswith(
        "At a setback of 1900 mm a pair symmetrical about the front wall's normal stands 10 mm ± 1 "
        "mm farther from the right wall than from the left wall: that matters to a tolerance of 3 "
    )


def test_sentences_of_what_cannot_be_told() -> None:
    covariance = np.eye(8) * 4.0
    gap = mirror_gap(SQUARE, Tolerance(), 1900.0, 2300.0, covariance)
    told = list(square_sentences(SQUARE, gap, SurveyNames(), covariance))
    assert all(
        "is square as far as the measurement can tell, within 0.0" in one for one in told[:4]
    )
    assert "needs more diagonals to tell" in told[4]
    calm = mirror_gap(SQUARE, Tolerance(position_mm=30.0), 1900.0, 2300.0, covariance)
    (*_, last) = square_sentences(SQUARE, calm, SurveyNames(), covariance)
    assert "either mirror line will do for a tolerance of 30 mm" in last
    assert len(list(square_sentences(SQUARE, None, SurveyNames()))) == 4


def test_sentences_name_datum_lines_and_use_the_units() -> None:
    room = msgspec.structs.replace(SPLAYED, datum=(Wall.RIGHT,))
    gap = mirror_gap(room, Tolerance(), 1800.0, 2400.0)
    told = list(square_sentences(room, gap, SurveyNames(room.datum, Units.INCH_16)))
    assert 'the right datum line leans out 3 15/16" over its 19\' 8 1/4"' in told[1]
    assert "farther from the right datum line than from the left wall" in told[4]
    assert "±" not in " ".join(told)
