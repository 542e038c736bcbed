"""A wrong shot is found among the others, and its cause named."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
import scipy
from geometry_cases import (
    SETUP,
    STANDING,
    drawn_shots,
    many,
    noisy,
    round_of,
    stood,
    true_shots,
)
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.geometry.adjust import CRITICAL_STANDARDISED_RESIDUAL, critical_among
from witnessmark.locate.blunders import ShotCheck, explain
from witnessmark.locate.pose import locate
from witnessmark.model import (
    AimedAt,
    Held,
    Meter,
    Pair,
    Placement,
    Setup,
    Shot,
    ShotKind,
    Side,
)

TWO_CONTRADICT = "the suspect shots contradict one another; repeat them"
ROUND = round_of(Side.LEFT, Held.CABINET, more=True)


def with_error(shots: list[Shot], row: int, error_mm: float) -> list[Shot]:
    changed = Shot(shots[row].kind, shots[row].reading_mm + error_mm)
    return [*shots[:row], changed, *shots[row + 1 :]]


def checked(setup: Setup, shots: list[Shot]) -> tuple[ShotCheck, ...]:
    return explain(setup, shots).checks


def test_shots_that_agree_are_not_suspected() -> None:
    checks = checked(SETUP, true_shots(SETUP, STANDING, ROUND))
    assert [check.shot.kind for check in checks] == ROUND
    assert not any(check.suspect or check.cause for check in checks)
    assert [check.residual_mm for check in checks] == pytest.approx([0.0] * 6, abs=1e-6)
    assert sum(check.redundancy for check in checks) < 3.0


@many
@given(stood(toe_in_deg=20.0), st.integers(0, 7), st.sampled_from([-1, 1]), st.floats(1.2, 2.0))
def test_a_planted_blunder_is_found(
    case: tuple[Setup, Pair[Placement]], row: int, sign: int, size: float
) -> None:
    """Of a size that the shot's redundancy lets through; a larger one bends the equations."""
    setup, standing = case
    setup = msgspec.structs.replace(setup, meter=Meter(0.4, 1.0, 0.7))
    wanted = [
        *round_of(Side.LEFT, Held.WALL, more=True),
        ShotKind(Side.LEFT, "plinth", AimedAt.RIGHT, Held.WALL),
        ShotKind(Side.LEFT, "front-inner", AimedAt.SEAT, Held.POINT),
    ]
    shots = drawn_shots(setup, standing, wanted)
    redundancy = locate(setup, shots).adjustment.redundancy[row]
    assume(redundancy > 0.1)
    seen = sign * size * CRITICAL_STANDARDISED_RESIDUAL
    blunder = seen * setup.meter.shot_sigma_mm / math.sqrt(redundancy)
    checks = checked(setup, with_error(shots, row, blunder))
    found = checks[row]
    assert found.suspect
    assert found.cause
    assert found.standardised == pytest.approx(-seen, rel=0.1)
    # residual over redundancy is the blunder
    assert -found.residual_mm / found.redundancy == pytest.approx(blunder, rel=0.1)
    suspects = [check for check in checks if check.suspect]
    # a tie may be explained by a size entered wrong as well, which follows with "or"
    assert len(suspects) == 1 or all(
        (check.cause or "").startswith(TWO_CONTRADICT) for check in suspects
    )


def test_noise_alone_is_hardly_ever_suspected() -> None:
    rng = np.random.default_rng(11)
    shots = true_shots(SETUP, STANDING, ROUND)
    sigma = SETUP.meter.shot_sigma_mm
    accused = sum(
        any(check.suspect for check in checked(SETUP, noisy(shots, sigma, int(seed))))
        for seed in rng.integers(0, 2**32, 400)
    )
    # six shots at 0.1 % each; seven of 400 would be one chance in a hundred
    assert accused <= 6


def test_shots_that_only_check_one_another_are_suspected_together() -> None:
    """Four shots have one redundancy between them: whichever is wrong, all look alike."""
    four = ROUND[:4]
    setup = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 0.0))
    checks = checked(setup, with_error(true_shots(setup, STANDING, four), 2, 25.0))
    assert [check.suspect for check in checks] == [True] * 4
    assert {check.cause for check in checks} == {TWO_CONTRADICT}


def test_of_a_pair_walked_round_once_no_shot_is_accused_alone() -> None:
    """Each cabinet has four shots that check one another, with a little help from the zero."""
    wanted = [*round_of(Side.LEFT, Held.CABINET), *round_of(Side.RIGHT, Held.CABINET)]
    shots = noisy(true_shots(SETUP, STANDING, wanted), SETUP.meter.shot_sigma_mm, 8)
    for row in range(8):
        checks = checked(SETUP, with_error(shots, row, 15.0))
        suspects = [place for place, check in enumerate(checks) if check.suspect]
        assert len(suspects) > 1
        assert row in suspects
        assert {place // 4 for place in suspects} == {row // 4}


def test_twice_the_same_shot_with_two_readings_is_a_tie() -> None:
    wanted = [*ROUND, ROUND[4]]
    checks = checked(SETUP, with_error(true_shots(SETUP, STANDING, wanted), 6, 20.0))
    suspects = [row for row, check in enumerate(checks) if check.suspect]
    # the fifth shot is checked by the sixth too, so that the seventh stands out alone
    assert suspects == [6]
    pair = [ROUND[0], ROUND[1], ROUND[2], ROUND[2]]
    checks = checked(SETUP, with_error(true_shots(SETUP, STANDING, pair), 3, 20.0))
    assert [row for row, check in enumerate(checks) if check.suspect] == [2, 3]
    assert checks[0].standardised == pytest.approx(0.0, abs=1e-6)


def test_an_odd_meter_is_not_blamed_on_a_shot() -> None:
    """Shots across the room add up to its width: 15 mm of zero show in the prior's residual."""
    wanted = [*ROUND, ShotKind(Side.LEFT, "front-inner", AimedAt.RIGHT, Held.CABINET)]
    wanted += [ShotKind(Side.LEFT, "rear-inner", AimedAt.RIGHT, Held.CABINET)]
    shots = true_shots(SETUP, STANDING, wanted, zero_mm=15.0)
    located = locate(SETUP, shots)
    assert abs(located.adjustment.standardised[-1]) > CRITICAL_STANDARDISED_RESIDUAL
    assert not any(check.suspect for check in checked(SETUP, shots))
    assert located.zero_mm > 5.0


def test_a_skirting_board_in_a_round() -> None:
    """From the corner to the board instead of the wall behind it, 18 mm nearer."""
    wanted = [*ROUND, ShotKind(Side.LEFT, "plinth", AimedAt.FRONT, Held.CABINET)]
    shots = true_shots(SETUP, STANDING, wanted)
    (suspect,) = (c for c in checked(SETUP, with_error(shots, 2, -18.0)) if c.suspect)
    assert suspect.shot.kind == ROUND[2]
    assert suspect.residual_mm > 0
    assert suspect.cause == (
        "18 mm short: something sticks out from the wall there (skirting board, radiator, panel)"
    )
    assert suspect.left_out


@pytest.mark.parametrize("readings", [11, 18, 40, 200])
def test_so_many_clean_readings_are_accused_together_one_time_in_a_hundred(readings: int) -> None:
    innocent = 1.0 - 2.0 * scipy.stats.norm.sf(critical_among(readings))
    assert innocent**readings == pytest.approx(0.99, abs=1e-9)


@pytest.mark.parametrize("readings", [1, 4, 10])
def test_a_few_readings_are_judged_one_by_one(readings: int) -> None:
    assert critical_among(readings) == CRITICAL_STANDARDISED_RESIDUAL
