"""What is known of a cabinet's tilt, and what would bring it to where it should be."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from witnessmark.cautions import SPIKES
from witnessmark.errors import BadInput
from witnessmark.geometry.verdict import Verdict, verdict
from witnessmark.locate.spikes import spike_plan
from witnessmark.locate.tilt import axis_height, axis_words
from witnessmark.model import Placement, Setup, Side, Tilt


class TiltStatus(msgspec.Struct, frozen=True):
    """The tilt of one cabinet, degrees, positive when the baffle leans back.

    Without a target, error and verdict are None; without readings, tilt as well.
    """

    tilt: Tilt | None
    target_deg: float | None
    error_deg: float | None
    """Measured minus target."""
    verdict: Verdict | None
    words: tuple[str, ...]
    """Where the axis passes the seat, and which spikes to turn how far."""


def tilt_status(
    setup: Setup, side: Side, tilt: Tilt | None, standing: Placement | None
) -> TiltStatus | None:
    """The tilt of a cabinet that stands so; None where it is neither known nor asked for."""
    target = setup.tilt_targets_deg[side]
    if tilt is None:
        return None if target is None else TiltStatus(None, target, None, None, ())
    words = tuple(_axis(setup, side, tilt, standing))
    if target is None:
        return TiltStatus(tilt, None, None, None, words)
    error = tilt.tilt_deg - target
    found = verdict(error, tilt.expanded_deg, setup.tolerance.tilt_deg)
    if found is not Verdict.IN:
        words += tuple(_spikes(setup, side, tilt, target))
    return TiltStatus(tilt, target, error, found, words)


def _axis(setup: Setup, side: Side, tilt: Tilt, standing: Placement | None) -> Iterator[str]:
    if standing is not None and setup.cabinets[side].acoustic_height_mm is not None:
        yield axis_words(axis_height(setup, side, standing, tilt), setup.units)


def _spikes(setup: Setup, side: Side, tilt: Tilt, target_deg: float) -> Iterator[str]:
    try:
        plan = spike_plan(setup.cabinets[side], tilt.tilt_deg, target_deg, setup.units.finer)
    except BadInput as error:
        yield str(error)
        return
    yield from plan.words
    if plan.words:
        yield SPIKES
