"""Pitches of the threads that spikes and feet have."""

from __future__ import annotations

from fractions import Fraction

import pytest

from witnessmark.model import pitch_mm
from witnessmark.model.thread import METRIC_PITCHES_MM, UNIFIED_THREADS_PER_INCH


@pytest.mark.parametrize(
    ("thread", "mm"),
    [
        ("M4", 0.7),
        ("M5", 0.8),
        ("M6", 1.0),
        ("M8", 1.25),
        ("M10", 1.5),
        ("M12", 1.75),
        ("M16", 2.0),
        ("M20", 2.5),
    ],
)
def test_coarse_metric_pitches(thread: str, mm: float) -> None:
    # ISO 261 (from memory); the same in BOSL2, screws.scad
    assert pitch_mm(thread) == mm
    assert pitch_mm(f"{thread}x{mm:g}") == mm


@pytest.mark.parametrize(
    ("size", "fine"),
    [
        ("M4", (0.5,)),
        ("M5", (0.5,)),
        ("M6", (0.75,)),
        ("M8", (1.0, 0.75)),
        ("M10", (1.25, 1.0, 0.75)),
        ("M12", (1.5, 1.25, 1.0)),
    ],
)
def test_fine_metric_pitches(size: str, fine: tuple[float, ...]) -> None:
    # ISO 261 (from memory); the same in BOSL2, screws.scad
    assert METRIC_PITCHES_MM[size][1:] == fine
    assert [pitch_mm(f"{size}×{pitch:g}") for pitch in fine] == list(fine)


@pytest.mark.parametrize(
    ("size", "coarse", "fine"),
    [
        ("#8", 32, 36),
        ("#10", 24, 32),
        ("1/4", 20, 28),
        ("5/16", 18, 24),
        ("3/8", 16, 24),
        ("7/16", 14, 20),
        ("1/2", 13, 20),
    ],
)
def test_unified_inch_threads(size: str, coarse: int, fine: int) -> None:
    # ASME B1.1, series UNC and UNF (from memory); the same in BOSL2, screws.scad
    assert UNIFIED_THREADS_PER_INCH[size] == (coarse, fine)
    assert pitch_mm(f"{size}-{coarse} UNC") == float(Fraction("25.4") / coarse)
    assert pitch_mm(f"{size}-{fine} unf") == pytest.approx(25.4 / fine, rel=1e-15)
