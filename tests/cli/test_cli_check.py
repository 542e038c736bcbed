"""``witnessmark check``: typed readings, a meter on a serial line, and what cannot be told."""

from __future__ import annotations

import json
import threading
import time

import pytest
from click.testing import CliRunner, Result

from witnessmark.cli import main
from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Side
from witnessmark.placing.round import Round
from witnessmark.session.alike import PairSize
from witnessmark.session.draft import Draft
from witnessmark_simulators.room import SimulatedRoom
from witnessmark_simulators.serial_line import SerialLine

SIZE = ("--width", "262mm", "--depth", "391 mm")
BOX = Cabinet(262, 391)


def readings(left: Placement, right: Placement) -> list[float]:
    """What eight shots read, by a ray casting of its own, in a room that the command never sees."""
    setup = PairSize(262, 391).compared_as_they_stand(Draft()).setup
    assert setup is not None
    room, seat = Room.rectangular(5360, 7240), Seat(4400, 2680)
    world = SimulatedRoom(room, Pair(BOX, BOX), seat, Pair(left, right))
    works = Round.begin(setup).works
    return [round(world.true_distance(kind)) for side in Side for kind in works[side].todo]


APART = readings(Placement(1450, 1900, 8), Placement(1475, 1900, 8))


def check(*arguments: str, typed: str = "") -> Result:
    return CliRunner().invoke(main, ("check", *arguments), input=typed)


def lines(values: list[float]) -> str:
    return "".join(f"{value:g}\n" for value in values)


def test_the_answer_comes_first() -> None:
    done = check("typed:", *SIZE, typed=lines(APART))
    assert done.exit_code == 0, done.output
    figure, words, *_ = done.stdout.splitlines()
    assert figure == "NOT ALIKE"
    assert words == "Left is 25 mm nearer its side wall than right."
    assert "Shot 2 of 4: left cabinet, rear-outer to left wall" in done.stderr


def test_the_width_tells_how_far_each_is_from_the_middle() -> None:
    done = check("typed:", *SIZE, "--room-width", "5.36m", typed=lines(APART))
    assert "From the room's centre line: left 1230 mm and right 1205 mm." in done.stdout


def test_json_has_the_verdict_the_figures_and_what_would_settle_it() -> None:
    found = json.loads(check("typed:", *SIZE, "--json", typed=lines(APART)).stdout)
    assert found["alike"] == "out"
    assert found["settled_by"] is None
    assert found["symmetry"]["side_mm"] == pytest.approx(-25, abs=1.5)
    assert "path_to_seat" not in found["symmetry"]["verdict"]
    assert set(found["cabinets"]) == {"left", "right"}
    doubtful = readings(Placement(1450, 1900, 8), Placement(1450, 1900, 8.5))
    unsure = json.loads(check("typed:", *SIZE, "--json", typed=lines(doubtful)).stdout)
    assert unsure["alike"] == "unsure"
    assert unsure["settled_by"]["point"].startswith(("front-", "rear-"))


def test_too_few_shots_say_which_is_missing() -> None:
    done = check("typed:", *SIZE, typed=lines(APART[:5]))
    assert done.exit_code == 3
    assert "is still missing" in done.stderr


def test_sizes_that_are_none_of_a_cabinet_are_refused() -> None:
    done = check("typed:", "--width", "2mm", "--depth", "391mm")
    assert done.exit_code == 2
    assert "cabinet.width" in done.stderr


def test_a_meter_on_a_serial_line() -> None:
    with SerialLine() as line:

        def shoot() -> None:
            for value in APART:
                time.sleep(0.05)
                line.send(f"{value / 1000:.3f} m\r\n".encode())

        person = threading.Timer(0.5, shoot)
        person.start()
        done = check(line.address, *SIZE)
        person.join()
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("NOT ALIKE\nLeft is 25 mm nearer its side wall than right.")
