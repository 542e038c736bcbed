"""A store that holds a whole setup, so that the app opens on its live screen."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup
from witnessmark.store.store import Store


def save_setup(path: Path, meter_address: str) -> None:
    """Save an invented room and pair for a meter at this address."""
    cabinet, target = Cabinet(248.0, 372.0), Placement(1310.0, 1750.0, 12.0)
    setup = Setup(
        room=Room.rectangular(4620.0, 6100.0),
        cabinets=Pair(cabinet, cabinet),
        seat=Seat(4070.0, 2310.0),
        targets=Pair(target, target),
    )
    with Store.open(path) as store:
        store.save_setup("Benchmark", setup, datetime.now(UTC), {"meter": meter_address})
