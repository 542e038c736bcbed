"""The study of live rounds itself: what is true of its worlds, and what it counts."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from bench_live_honesty import _HEADINGS, row
from live_honesty import LIVE_REGIMES, LivePerson, Trouble, _beginning, live_end_of

from witnessmark.model import Pair, Placement, Side
from witnessmark_simulators.room import SimulatedRoom

ALL_OF_IT = "ten skewed rooms, held wall: all of it"
PLAIN = "demo, held cabinet: no trouble"


def test_without_trouble_the_room_is_as_told_and_the_round_ends_well() -> None:
    person = LivePerson(LIVE_REGIMES[PLAIN], 4)
    assert person.person.world.room == person.setup.room
    assert person.person.world.cabinets == person.setup.cabinets
    end = person.work()
    assert end.finished
    assert end.called_in
    assert not end.is_false
    assert end.truly_off == (frozenset(), frozenset())
    assert end.edge_off == (False, False)
    assert 0 < end.largest_turn_deg < 10
    assert end.questions == 0


def test_widths_and_rooms_are_off_as_the_regime_says() -> None:
    people = [LivePerson(LIVE_REGIMES[ALL_OF_IT], number) for number in range(200)]
    wider, leans = [], []
    for one in people:
        world, setup = one.person.world, one.setup
        wider.append(world.cabinets.left.width_mm - setup.cabinets.left.width_mm)
        leans.append(world.room.back_left[0] - setup.room.back_left[0])
        assert abs(leans[-1]) <= 0.01 * setup.room.length_mm
    far = [mm for mm in wider if abs(mm) == pytest.approx(25.0)]
    assert 8 <= len(far) <= 35
    assert np.std([mm for mm in wider if mm not in far]) == pytest.approx(5.0, abs=1.0)
    assert np.mean([lean > 0 for lean in leans]) == pytest.approx(0.5, abs=0.15)


def test_readings_are_wrong_as_often_as_the_regime_says() -> None:
    person = LivePerson(LIVE_REGIMES[PLAIN], 4)
    kind = person.state.prompted
    person.trouble = Trouble(wrong_reading=0.25)
    read = [person._shoot(kind) for _ in range(400)]
    off = np.array([mm or 0.0 for mm in read]) - person.person.world.true_distance(kind)
    assert np.mean(np.abs(off) > 4.0) == pytest.approx(0.25, abs=0.06)
    assert 40.0 < np.abs(off).max() < 54.0
    person.trouble = Trouble(wrong_corner=0.5)
    read = [person._shoot(kind) for _ in range(100)]
    assert len({round(mm or 0.0, -1) for mm in read}) > 2


def test_ten_rooms_are_skewed_each_in_its_way() -> None:
    rooms = [_beginning(LIVE_REGIMES[ALL_OF_IT], place).setup.room for place in range(10)]
    assert len({room.corners for room in rooms}) == 10
    assert max(abs(room.back_left[0]) / room.length_mm for room in rooms) > 0.015


@pytest.mark.parametrize("side", Side)
def test_side_is_also_counted_at_the_outer_edge(side: Side) -> None:
    """The edge of a box that is on target by its edge is where that of the told box would be."""
    person = LivePerson(LIVE_REGIMES[PLAIN], 4)
    setup = person.setup
    target = setup.targets[side]
    assert target is not None
    wide = msgspec.structs.replace(
        setup.cabinets[side], width_mm=setup.cabinets[side].width_mm + 25
    )
    as_told = SimulatedRoom(setup.room, setup.cabinets, setup.seat, Pair(target, target))
    at = msgspec.structs.replace
    person.person.world = SimulatedRoom(
        setup.room,
        Pair(wide, wide),
        setup.seat,
        Pair(*(at(target, side_mm=target.side_mm + 12.3, setback_mm=target.setback_mm - 2.5),) * 2),
    )
    error = person._edge_error(side)
    off = np.subtract(
        person.person.world.plan_point(side, "front-outer"), as_told.plan_point(side, "front-outer")
    )
    inward = off[0] if side is Side.LEFT else -off[0]
    assert error.side_mm == pytest.approx(inward, abs=1e-9)
    assert error.setback_mm == pytest.approx(off[1], abs=1e-9)


def test_a_turn_that_leads_away_is_counted_and_not_made() -> None:
    person = LivePerson(LIVE_REGIMES[PLAIN], 4)
    before = person.person.truth
    person.nudge(Placement(0.0, 0.0, -164.0))
    assert person.largest_turn_deg == 164.0
    assert person.person.truth == before
    person.nudge(Placement(50.0, 0.0, 3.0))
    assert person.largest_turn_deg == 164.0
    assert person.person.truth != before


def test_a_round_is_the_same_for_the_same_number() -> None:
    ends = [live_end_of(ALL_OF_IT, number) for number in (0, 1, 0)]
    assert ends[0] == ends[2] != ends[1]
    assert len(row(ends)) == len(_HEADINGS)
