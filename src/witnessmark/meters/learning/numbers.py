"""Distances as numbers in binary frames: every offset, width, order and unit is tried.

Signed numbers need no trial of their own: a positive one has the same bytes as an unsigned one,
and how far up that is sure is said by the profile's ``longest``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from witnessmark.errors import LengthError
from witnessmark.meters.learning.fitting import (
    COMMON_UNITS,
    FRACTION_UNITS,
    WHOLE_NUMBER_UNITS,
    Candidate,
    Fit,
    Known,
)
from witnessmark.meters.learning.frame_profile import frame_profile
from witnessmark.meters.learning.number_field import NumberField
from witnessmark.meters.learning.samples import Sample
from witnessmark.meters.learning.shapes import Shape, shapes
from witnessmark.meters.number import NumberType, Order, number_in

USEFUL_MM: Final = 3000.0
"""A number that cannot say more does not serve in a room, and is none that a meter sends."""

_ROOMY_MM: Final = 15_000.0
"""What lies beyond is not asked for."""
_KINDS = (
    NumberType.UINT16,
    NumberType.UINT24,
    NumberType.UINT32,
    NumberType.FLOAT32,
    NumberType.FLOAT64,
)


def frame_candidates(samples: Sequence[Sample], known: Known) -> list[Candidate]:
    """The decodings of binary frames that explain every reading."""
    for way in shapes(samples):
        if found := [candidate for shape in way for candidate in _candidates(shape, known)]:
            return found
    return []


def _candidates(shape: Shape, known: Known) -> Iterator[Candidate]:
    for field in _fields(shape):
        for fit in _fits(field, known):
            if field.may_be_wider() or field.longest_mm(fit.step_mm) >= USEFUL_MM:
                yield _candidate(field, fit)


def _fields(shape: Shape) -> Iterator[NumberField]:
    """The places at which a number may stand, once each."""
    for kind in _KINDS:
        for at in range(shape.length - kind.size + 1):
            for order in Order:
                field = NumberField(shape, at, kind, order)
                if not (field.is_superfluous() or field.stands_still()):
                    yield field


def _fits(field: NumberField, known: Known) -> list[Fit]:
    """The units in which the numbers there are the known distances."""
    units = FRACTION_UNITS if field.kind.is_float else WHOLE_NUMBER_UNITS
    step = 0 if field.kind.is_float else 1
    # one frame at each distance rules nearly all out, at a tenth of the work
    first = known.fits(_numbers(field, 1), units, step)
    return first and known.fits(_numbers(field), [(fit.unit, fit.scale) for fit in first], step)


def _numbers(field: NumberField, most: int | None = None) -> list[list[Fraction]]:
    """The numbers there, by known distance; none where one of them cannot be a distance.

    ``most`` is how many frames at each distance are looked at; None: all.
    """
    try:
        return [
            [number_in(field.bytes_of(frame), field.kind, field.order) for frame in group[:most]]
            for group in field.shape.frames
        ]
    except LengthError:
        return []


def _candidate(field: NumberField, fit: Fit) -> Candidate:
    longest_mm = field.longest_mm(fit.step_mm)
    is_unsure = field.may_be_wider() and longest_mm < _ROOMY_MM
    return Candidate(
        channel=field.shape.channel,
        shape=f"{field.shape.length} bytes",
        place=frozenset(range(field.at, field.at + field.kind.size)),
        step_mm=0.0 if field.kind.is_float else fit.step_mm,
        found_mm=fit.found_mm,
        misfit_mm=fit.misfit_mm,
        profile=lambda failed: frame_profile(field, fit, failed),
        is_rare=not field.kind.is_float and (fit.unit, fit.scale) not in COMMON_UNITS,
        unsure_beyond_mm=longest_mm if is_unsure else None,
    )
