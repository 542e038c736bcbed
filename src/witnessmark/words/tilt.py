"""What a tilt does at the seat, and which spikes bring it to its target."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.locate.tilt import axis_words
from witnessmark.model import Setup
from witnessmark.placing.guidance import TiltStatus
from witnessmark.words.cautions import SPIKES


def tilt_words(setup: Setup, status: TiltStatus) -> Iterator[str]:
    """Yield where the axis passes the seat, and which spikes to turn how far, with the caution."""
    if status.axis is not None:
        yield axis_words(status.axis, setup.units)
    if status.spikes is not None and status.spikes.words:
        yield from status.spikes.words
        yield SPIKES
    elif status.no_spikes:
        yield status.no_spikes
