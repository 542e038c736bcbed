"""The simulated meter: its errors have the stated spread, its script is followed to the byte."""

import itertools
import math

import numpy as np
import pytest

from witnessmark.model import Meter
from witnessmark_simulators.meter import (
    Answer,
    Behaviour,
    ImperfectMeter,
    Unit,
    cut_off,
    fault,
    garbage,
    occasional_faults,
    shoot,
    stay_silent,
)

EXACT = Meter(repeatability_mm=0.0, resolution_mm=1.0, zero_mm=0.0)


def exact_meter(*script: Behaviour) -> ImperfectMeter:
    return ImperfectMeter(EXACT, np.random.default_rng(1), script=script)


def distances(meter: ImperfectMeter, true_mm: float, presses: int) -> np.ndarray:
    return np.array([meter.press(true_mm).distance_mm for _ in range(presses)])


def test_same_seed_same_bytes() -> None:
    def told(seed: int) -> bytes:
        rng = np.random.default_rng(seed)
        script = occasional_faults(0.3, rng)
        meter = ImperfectMeter(Meter(), rng, squareness_deg=1.0, script=script)
        return b"".join(meter.press(1000.0 + sum(meter.off_square_deg())).raw for _ in range(50))

    assert told(5) == told(5)
    assert told(5) != told(6)


def test_zero_and_scale_are_drawn_once_a_meter_with_the_stated_spread() -> None:
    rng = np.random.default_rng(2)
    model = Meter(repeatability_mm=0.0, resolution_mm=1e-4, zero_mm=0.7, scale_ppm=50.0)
    meters = [ImperfectMeter(model, rng) for _ in range(4000)]
    zeros = np.array([meter.zero_mm for meter in meters])
    scales = np.array([meter.scale_ppm for meter in meters])
    # Four standard errors of a mean and of a standard deviation of 4000 draws.
    assert abs(zeros.mean()) < 4 * 0.7 / math.sqrt(4000)
    assert zeros.std() == pytest.approx(0.7, abs=4 * 0.7 / math.sqrt(8000))
    assert scales.std() == pytest.approx(50.0, abs=4 * 50 / math.sqrt(8000))
    meter = meters[0]
    expected_mm = 3000 * (1 + meter.scale_ppm * 1e-6) + meter.zero_mm
    assert distances(meter, 3000.0, 3) == pytest.approx([expected_mm] * 3, abs=1e-4)


def test_scatter_has_the_stated_spread_about_the_zero() -> None:
    model = Meter(repeatability_mm=0.4, resolution_mm=0.0, zero_mm=0.7)
    meter = ImperfectMeter(model, np.random.default_rng(3))
    errors = distances(meter, 2000.0, 4000) - 2000.0
    assert errors.mean() == pytest.approx(meter.zero_mm, abs=4 * 0.4 / math.sqrt(4000))
    assert errors.std() == pytest.approx(0.4, abs=4 * 0.4 / math.sqrt(8000))
    # Normal, not merely spread: about 4.55 % lie beyond two standard deviations.
    beyond = np.mean(abs(errors - errors.mean()) > 2 * errors.std())
    assert beyond == pytest.approx(0.0455, abs=4 * math.sqrt(0.0455 * 0.9545 / 4000))


def test_rounding_has_the_spread_of_a_step() -> None:
    meter = exact_meter()
    true_mm = np.random.default_rng(4).uniform(1000, 2000, size=4000)
    errors = np.array([meter.press(t).distance_mm for t in true_mm]) - true_mm
    assert abs(errors).max() <= 0.5 + 1e-9
    assert errors.std() == pytest.approx(1 / math.sqrt(12), rel=0.04)


def test_beam_is_off_square_in_both_axes_alike() -> None:
    meter = ImperfectMeter(Meter(), np.random.default_rng(5), squareness_deg=1.0)
    angles = np.array([meter.off_square_deg() for _ in range(4000)])
    assert angles.mean(axis=0) == pytest.approx([0, 0], abs=4 / math.sqrt(4000))
    assert angles.std(axis=0) == pytest.approx([1, 1], abs=4 / math.sqrt(8000))
    assert abs(np.corrcoef(angles.T)[0, 1]) < 4 / math.sqrt(4000)
    assert exact_meter().off_square_deg() == (0.0, 0.0)


@pytest.mark.parametrize(
    ("resolution_mm", "unit", "expected"),
    [
        (1.0, "m", b"1.512 m\r\n"),
        (1.0, "cm", b"151.2 cm\r\n"),
        (1.0, "mm", b"1512 mm\r\n"),
        (0.1, "m", b"1.5123 m\r\n"),
        (0.5, "m", b"1.5125 m\r\n"),
        (0.25, "mm", b"1512.25 mm\r\n"),
        (10.0, "m", b"1.51 m\r\n"),
        (10.0, "mm", b"1510 mm\r\n"),
        (0.79375, "m", b"1.51209375 m\r\n"),
    ],
)
def test_text_shows_every_digit_of_the_step(
    resolution_mm: float, unit: Unit, expected: bytes
) -> None:
    model = Meter(repeatability_mm=0.0, resolution_mm=resolution_mm, zero_mm=0.0)
    meter = ImperfectMeter(model, np.random.default_rng(1), unit=unit)
    answer = meter.press(1512.33)
    assert answer.raw == expected
    number, unit_text = answer.raw.decode().split()
    factor = {"m": 1000, "cm": 10, "mm": 1}[unit_text]
    assert float(number) * factor == pytest.approx(answer.distance_mm, abs=1e-9)


def test_text_of_a_meter_without_a_step_loses_nothing() -> None:
    model = Meter(repeatability_mm=0.5, resolution_mm=0.0, zero_mm=0.7)
    answer = ImperfectMeter(model, np.random.default_rng(1)).press(1512.0)
    assert float(answer.raw.split()[0]) * 1000 == pytest.approx(answer.distance_mm, abs=1e-9)


def test_the_script_is_followed_and_then_every_shot_is_sound() -> None:
    meter = exact_meter(
        shoot, fault("too little light comes back"), stay_silent, garbage(b"\x00\xff"), cut_off
    )
    assert [meter.press(1512.0) for _ in range(7)] == [
        Answer(b"1.512 m\r\n", distance_mm=1512.0),
        Answer(b"Error: too little light comes back\r\n", fault="too little light comes back"),
        Answer(b""),
        Answer(b"\x00\xff"),
        Answer(b"1.51"),
        Answer(b"1.512 m\r\n", distance_mm=1512.0),
        Answer(b"1.512 m\r\n", distance_mm=1512.0),
    ]


def test_a_misbehaviour_goes_before_the_script() -> None:
    meter = exact_meter(stay_silent)
    meter.misbehave_next(garbage(b"?"))
    assert [meter.press(1512.0).raw for _ in range(3)] == [b"?", b"", b"1.512 m\r\n"]


def test_a_script_does_not_change_the_other_shots() -> None:
    def told(*script: Behaviour) -> list[bytes]:
        meter = ImperfectMeter(Meter(), np.random.default_rng(8), script=script)
        return [meter.press(1500.0).raw for _ in range(20)]

    assert told(shoot, stay_silent)[2:] == told()[2:]


def test_occasional_faults_come_at_their_rate() -> None:
    script = occasional_faults(0.2, np.random.default_rng(6))
    faults = sum(behaviour is not shoot for behaviour in itertools.islice(script, 4000))
    assert faults / 4000 == pytest.approx(0.2, abs=4 * math.sqrt(0.2 * 0.8 / 4000))


def test_a_distance_is_never_nothing_or_less() -> None:
    assert exact_meter().press(0.3) == Answer(
        b"Error: too close to measure\r\n", fault="too close to measure"
    )
