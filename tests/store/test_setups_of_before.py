"""Setups that were saved before a meter had an edge and a correction."""

from __future__ import annotations

import json

from witnessmark.model import Cabinet, Edge, Meter, Pair, Room, Seat, Setup
from witnessmark.store.records import SetupBody

CABINET = Cabinet(262, 391, 940)
SETUP = Setup(
    room=Room.rectangular(5360, 7240),
    cabinets=Pair(CABINET, CABINET),
    seat=Seat(4400, 2680, 1020),
    meter=Meter(0.4, 0.1, 0.3, 50.0),
)


def test_a_setup_without_edge_and_correction_is_held_by_the_rear_and_adds_nothing() -> None:
    saved = json.loads(SetupBody(SETUP, {"meter": "typed:"}).to_json())
    for name in ("edge", "edge_offset_mm", "zero_correction_mm"):
        del saved["setup"]["meter"][name]
    meter = SetupBody.from_json(json.dumps(saved)).setup.meter
    assert meter == SETUP.meter
    assert (meter.edge, meter.added_mm) == (Edge.REAR, 0.0)


def test_edge_and_correction_are_saved() -> None:
    meter = Meter(edge=Edge.THREAD, edge_offset_mm=-61.5, zero_correction_mm=0.8)
    setup = SetupBody(Setup(SETUP.room, SETUP.cabinets, SETUP.seat, meter=meter))
    assert SetupBody.from_json(setup.to_json()).setup.meter == meter
