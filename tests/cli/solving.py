"""Rounds to be solved by the command line, and what it answers."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

import pytest
from click.testing import CliRunner, Result

from witnessmark.cli import main
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Pair,
    Placement,
    Room,
    Seat,
    ShotKind,
    Side,
    TouchPoint,
)
from witnessmark_simulators.room import SimulatedRoom

Tables = dict[str, Any]

TARGET = {"side": "1.36 m", "setback": 1.0, "toe_in": 10.0}
LEFT, RIGHT = Placement(1364.0, 1718.5, 10.9), Placement(1357.5, 1723.0, 8.2)
PLINTH = {"plinth-rear": TouchPoint(15.0, 420.0)}
WORLD = SimulatedRoom(
    room=Room.rectangular(4870.0, 6430.0),
    cabinets=Pair(Cabinet(274.0, 398.0, 925.0, PLINTH), Cabinet(274.0, 398.0, 925.0, PLINTH)),
    seat=Seat(4290.0, 2435.0, 1010.0),
    standing=Pair(LEFT, RIGHT),
)
SKEWED = SimulatedRoom(
    room=Room((0, 0), (4870, 0), (4951, 6395), (26, 6402)),
    cabinets=WORLD.cabinets,
    seat=WORLD.seat,
    standing=WORLD.standing,
)


def walls(side: Side, held: Held) -> list[ShotKind]:
    own = AimedAt(side.value)
    places = (
        ("front-outer", own),
        ("rear-outer", own),
        ("rear-outer", AimedAt.FRONT),
        ("rear-inner", AimedAt.FRONT),
    )
    return [ShotKind(side, point, to, held) for point, to in places]


def walk(held: Held = Held.WALL) -> list[ShotKind]:
    return walls(Side.LEFT, held) + walls(Side.RIGHT, held)


def shot_tables(world: SimulatedRoom, kinds: Iterable[ShotKind]) -> list[Tables]:
    return [
        {
            "cabinet": kind.cabinet.value,
            "point": kind.point,
            "to": kind.to.value,
            "held": kind.held.value,
            "reading": f"{world.true_distance(kind):.6f} mm",
        }
        for kind in kinds
    ]


def round_tables(kinds: Iterable[ShotKind], world: SimulatedRoom = WORLD) -> Tables:
    """A round file about ``world`` with a meter that steps by a tenth, as tables."""
    cabinet = world.cabinets.left
    corners = ("front_left", "front_right", "back_right", "back_left")
    target = {"side": "1.36 m", "setback": 1720, "toe_in": 10.0}
    return {
        "format": "witnessmark round 1",
        "room": {"corners": {name: list(getattr(world.room, name)) for name in corners}},
        "cabinet": {
            "width": f"{cabinet.width_mm / 10} cm",
            "depth": cabinet.depth_mm,
            "acoustic_height": cabinet.acoustic_height_mm,
            "points": {
                name: {"inward": point.inward_mm, "back": point.back_mm}
                for name, point in cabinet.points.items()
            },
        },
        "seat": {"from_front": 4290, "from_left": "2.435 m", "ear_height": "101 cm"},
        "meter": {"repeatability": "0.4 mm", "resolution": "1 mm", "zero": "0.7 mm"},
        "tolerance": {"position": "3 mm", "toe_in": 0.5},
        "target": {"left": target, "right": dict(target)},
        "shot": shot_tables(world, kinds),
    }


def toml(tables: Tables) -> str:
    """The same as TOML, by hand: inline tables all the way down."""

    def value(item: object) -> str:
        if isinstance(item, dict):
            return "{ " + ", ".join(f'"{key}" = {value(one)}' for key, one in item.items()) + " }"
        if isinstance(item, list):
            return "[" + ", ".join(map(value, item)) + "]"
        return json.dumps(item)

    return "\n".join(f"{key} = {value(item)}" for key, item in tables.items())


def solve(text: str | bytes, *options: str) -> Result:
    return CliRunner().invoke(main, ["solve", "-", *options], input=text)


def answer(tables: Tables) -> Tables:
    run = solve(json.dumps(tables), "--json")
    assert run.exit_code == 0, run.stderr
    assert run.stderr == ""
    told: Tables = json.loads(run.stdout)
    return told


def refusal(text: str | bytes, exit_code: int) -> str:
    """The one line that a failure leaves on the standard error."""
    run = solve(text)
    assert run.exit_code == exit_code, run.output
    assert run.stdout == ""
    assert run.stderr.startswith("Error: ")
    assert run.stderr.endswith("\n")
    assert len(run.stderr.splitlines()) == 1
    return run.stderr.removeprefix("Error: ").strip()


QUANTITIES = ("side_mm", "setback_mm", "toe_in_deg")


def assert_found(told: Tables, truth: Placement) -> None:
    """The readings are exact, so the truth must come back far within its uncertainty."""
    assert told["side_mm"] == pytest.approx(truth.side_mm, abs=0.01)
    assert told["setback_mm"] == pytest.approx(truth.setback_mm, abs=0.01)
    assert told["toe_in_deg"] == pytest.approx(truth.toe_in_deg, abs=0.002)
