"""Readings of distances anywhere between two steps of a display, simulated."""

from __future__ import annotations

import numpy as np

from witnessmark.model import Meter

FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

METERS = [
    Meter(0.4, 1.0, 0.7),
    Meter(0.2, 1.0, 0.7),
    Meter(0.05, 1.0, 0.7),
    Meter(0.5, 0.1, 0.7),
    Meter(0.5, 1.5875, 0.7),
]
ids = [f"{meter.repeatability_mm:g}-{meter.resolution_mm:g}" for meter in METERS]


def read(
    meter: Meter, count: int, rounds: int, half_angle_deg: float = 0.0, true_mm: float = 2000.0
) -> tuple[FloatArray, FloatArray]:
    """Return true distances, anywhere between two steps of the display, and readings of each."""
    rng = np.random.default_rng(7)
    true = true_mm + rng.uniform(0.0, meter.resolution_mm, rounds)
    angles = np.radians(half_angle_deg) * rng.uniform(-1.0, 1.0, (rounds, count))
    noise = rng.normal(0.0, meter.repeatability_mm, (rounds, count))
    raw = true[:, None] / np.cos(angles) + noise
    return true, np.round(raw / meter.resolution_mm) * meter.resolution_mm
