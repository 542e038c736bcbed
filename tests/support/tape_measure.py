"""What a tape shows at a cabinet of known shape, by plain coordinates."""

from __future__ import annotations

import math

from witnessmark.model import Cabinet, TouchPoint


def tape_mm(cabinet: Cabinet, at: TouchPoint, start: str) -> float:
    """Return what a tape shows: square from a face, below zero past it; straight from a point."""
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
