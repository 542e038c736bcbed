"""``witnessmark check``: typed readings, a meter on a serial line, and what cannot be told."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import AsyncGenerator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from witnessmark.cli import main
from witnessmark.meters.port import Address, Driver, Report
from witnessmark.model import Cabinet, Pair, Placement, Reading, Room, Seat, Side
from witnessmark.placing.round import Round
from witnessmark.session.draft import Draft
from witnessmark.session.room_answers import PairSize
from witnessmark.store.store import Store
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
    # of a room that nobody measured no seat is known
    for fields in (found["symmetry"], found["symmetry"]["expanded"]):
        assert not {"path_to_seat_mm", "arrival_us", "level_db"} & set(fields)
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


def test_every_reading_is_in_the_journal_before_the_next_shot_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "store.sqlite3"
    monkeypatch.setenv("WITNESSMARK_STORE", str(file))
    told: list[tuple[str, int]] = []

    def look(words: str, *, err: bool = False) -> None:
        with Store.open(file) as store:
            told.append((words, len(store.entries(None))))

    monkeypatch.setattr("witnessmark.cli.check.echo", look)
    check("typed:", *SIZE, typed=lines(APART[:3]))
    asked = [count for words, count in told if words.startswith("Shot ")]
    assert asked == [0, 1, 2, 3]
    with Store.open(file) as store:
        kept = [entry.distance_mm for entry in store.entries(None) if isinstance(entry, Reading)]
    assert kept == APART[:3]
    # also where no room was ever saved
    listed = CliRunner().invoke(main, ("history", "--all")).stdout
    assert all(f"{mm:g} mm (typed:)" in listed for mm in APART[:3])


def test_what_cannot_be_stored_is_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path))
    done = check("typed:", *SIZE, typed=lines(APART))
    assert done.exit_code == 1
    assert done.stdout == ""
    assert "WITNESSMARK_STORE" in done.stderr


class Waiting(Driver):
    """A meter that measures when it is asked, and once by itself as it is opened."""

    scheme = "typed"
    waits = True

    def __init__(self) -> None:
        super().__init__(Address.parse("typed:"))
        self._answers = [1234.0]
        self._comes = iter(APART)

    def fire(self) -> None:
        self._answers.append(next(self._comes))

    async def reports(self) -> AsyncGenerator[Report, None]:
        yield self.opened("it waits to be asked")
        for mm in self._answers:
            yield Reading(mm, self.clock(), "typed:", b"")


@pytest.mark.parametrize("presses", [8, 3])
def test_a_meter_that_waits_to_be_asked_measures_at_enter_and_never_by_itself(
    presses: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("witnessmark.cli.check.open_driver", lambda _: Waiting())
    done = check("typed:", *SIZE, typed="\n" * presses)
    assert "Press Enter to make the meter measure" in done.stderr
    assert done.exit_code == (0 if presses == len(APART) else 3)
    assert done.stderr.count("Shot ") == min(presses + 1, len(APART))


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
