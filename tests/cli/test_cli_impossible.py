"""Readings of a pair that cannot be are no answer: one line with the likely cause, exit 3."""

from __future__ import annotations

import json

import pytest
from solving import WORLD, Tables, refusal, round_tables, walk, walls

from witnessmark.model import Held, Pair, Placement, Side
from witnessmark_simulators.room import SimulatedRoom


def times(factor: float, held: Held) -> Tables:
    tables = round_tables(walk(held))
    for shot, kind in zip(tables["shot"], walk(held), strict=True):
        shot["reading"] = f"{WORLD.true_distance(kind) * factor:.6f} mm"
    return tables


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
@pytest.mark.parametrize(
    ("factor", "cause"),
    [
        (1 / 0.3048, "feet mistaken for metres"),
        (0.3048, "metres mistaken for feet"),
        (10.0, "decimal point one place too far right"),
        (0.1, "decimal point one place too far left"),
    ],
)
def test_readings_that_are_all_off_alike(factor: float, cause: str, held: Held) -> None:
    words = refusal(json.dumps(times(factor, held)), 3)
    assert words == f"every reading has the same error: {cause}"


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_bare_metres_that_were_taken_for_millimetres(held: Held) -> None:
    tables = round_tables(walk(held))
    for shot, kind in zip(tables["shot"], walk(held), strict=True):
        shot["reading"] = round(WORLD.true_distance(kind) / 1000, 3)
    words = refusal(json.dumps(tables), 3)
    assert words.startswith(
        "every reading has the same error: metres mistaken for millimetres; shot 1.r"
    )
    assert "was read as millimetres; for metres write" in words
    assert "shot 2" not in words


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_a_reading_longer_than_the_room(held: Held) -> None:
    """Three shots, so that nothing else tells which is wrong."""
    tables = round_tables(walls(Side.LEFT, held)[1:])
    tables["shot"][1]["reading"] = "12 m"
    words = refusal(json.dumps(tables), 3)
    assert words == (
        "longer than the room: left rear-outer to front wall; check its unit and its decimal point"
    )


@pytest.mark.parametrize(
    ("left", "right", "why"),
    [
        (
            Placement(2420.0, 1720.0, 5.0),
            Placement(2420.0, 1720.0, 5.0),
            "the two cabinets would stand in each other",
        ),
        (
            Placement(3000.0, 1720.0, 5.0),
            Placement(3000.0, 2723.0, 8.2),
            "the left cabinet would stand to the right of the right one",
        ),
    ],
)
def test_a_pair_that_cannot_stand_so(left: Placement, right: Placement, why: str) -> None:
    """Targets are left out: nothing but the places themselves speaks against them."""
    world = SimulatedRoom(WORLD.room, WORLD.cabinets, WORLD.seat, Pair(left, right))
    tables = round_tables(walk(), world)
    del tables["target"]
    assert refusal(json.dumps(tables), 3).startswith(why)
