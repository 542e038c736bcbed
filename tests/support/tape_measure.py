"""What a tape shows at a cabinet of known shape, by plain coordinates."""

from __future__ import annotations

import math

from witnessmark.model import Cabinet, TouchPoint


def tape_mm(cabinet: Cabinet, at: TouchPoint, start: str) -> float:
    """From a face square to it, below zero past it; from a known point straight."""
    half = cabinet.width_mm / 2
    if start in cabinet.body_points:
        known = cabinet.body_points[start]
        return math.hypot(at.inward_mm - known.inward_mm, at.back_mm - known.back_mm)
    return {
        "baffle": at.back_mm,
        "rear face": cabinet.depth_mm - at.back_mm,
        "inner side": half - at.inward_mm,
        "outer side": half + at.inward_mm,
    }[start]
