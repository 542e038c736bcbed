"""``witnessmark foresee``: the picture, the figures as JSON and CSV, and what is refused."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
import stored
from click.testing import CliRunner, Result

from witnessmark.cli import main

PAGES = Path(__file__).parents[1] / "samples" / "pages"
SIZES = {
    "width": "5.36m",
    "length": "7.24m",
    "height": "2.5m",
    "cabinet-width": "262",
    "cabinet-depth": "391",
    "acoustic-height": "900",
    "ear-height": "1020",
}
WITHOUT_HEIGHT = """
format = "witnessmark round 1"
room = { width = "5.36 m", length = "7.24 m" }
cabinet = { width = "262 mm", depth = "391 mm" }
target.left = { side = "1.45 m", setback = "1.90 m", toe_in = 8.0 }
"""


def foresee(*arguments: str, leave_out: str = "", **sizes: str) -> Result:
    given = SIZES | {name.replace("_", "-"): value for name, value in sizes.items()}
    options = [f"--{name}={value}" for name, value in given.items() if name != leave_out]
    return CliRunner().invoke(main, ["foresee", *options, *arguments])


def test_the_page_of_a_walk() -> None:
    run = foresee("--station", "5", "--other-seat", "4.8m,1.9m,1.0m")
    assert run.exit_code == 0, run.stderr
    assert all(len(line) <= 80 for line in run.stdout.splitlines())
    stored.check(PAGES / "foresee.txt", run.stdout)


def test_json_has_levels_dips_and_steps_of_every_position() -> None:
    run = foresee("--json", "--third-octaves", "--units", "1/16in", "--grid", "1.5m")
    told = json.loads(run.stdout)
    assert len(told["frequencies_hz"]) == 11
    assert [row["spread_mm"] for row in told["spreads"]] == pytest.approx([1500, 3000, 4500])
    for row in told["spreads"]:
        for one in row["positions"]:
            assert {len(curve) for curve in one["levels_db"].values()} == {11}
            assert set(one["dips"]) == {"left", "right"}
        assert [one["to_next_db"] is None for one in row["positions"]].count(True) == 1
    assert told["present"] is None
    assert told["other_seats"] == []


def test_csv_has_the_same_figures() -> None:
    told = json.loads(foresee("--json", "--grid", "1.4m").stdout)
    rows = list(csv.DictReader(io.StringIO(foresee("--csv", "--grid", "1.4m").stdout)))
    count = sum(len(row["positions"]) for row in told["spreads"])
    assert len(rows) == count * 3 * len(told["frequencies_hz"])
    first = told["spreads"][0]["positions"][0]
    left = [float(row["level_db"]) for row in rows if row["of"] == "left"][:94]
    assert left == pytest.approx(first["levels_db"]["left"], abs=0.006)
    assert float(rows[0]["setback_mm"]) == first["setback_mm"]


def test_harder_surfaces_make_louder_peaks() -> None:
    def left(*arguments: str) -> list[float]:
        rows = csv.DictReader(io.StringIO(foresee("--csv", "--grid", "1.4m", *arguments).stdout))
        return [float(row["level_db"]) for row in rows if row["of"] == "left"]

    hard, soft = left("--absorption", "hard"), left("--absorption", "soft")
    assert max(hard) > max(left()) > max(soft) > 3.0
    surfaces = ("front", "back", "left", "right", "floor", "ceiling")
    open_air = left(*(f"--surface={name}=1" for name in surfaces))
    assert max(map(abs, open_air)) < 1.0


@pytest.mark.parametrize(
    ("arguments", "leave_out", "words"),
    [
        ([], "height", "--height: it is missing"),
        ([], "ear-height", "--ear-height: it is missing"),
        (["--ear-height=2.6m"], "", "the ears: outside the room or in a wall"),
        (["--surface=roof=0.2"], "", "'roof' is no surface"),
        (["--surface=floor=1.2"], "", "absorption of floor: 1.2 must lie between 0 and 1"),
        (["--surface=floor"], "", "write floor=0.3"),
        (["--station=40"], "", "--station: 40 is not there; this walk has"),
        (["--grid=10"], "", "too fine"),
        (["--json", "--csv"], "", "give one of them"),
        (["--room=Attic"], "", "leave out FILE and --room"),
        (["--other-seat=4m"], "", "as in 4.4m,1.9m,1.0m"),
        (["--other-seat=9m,1m,1m"], "", "other seat 1: the ears: outside the room"),
        (["--other-seat=4m,2m,1m"] * 6, "", "6 are too many"),
    ],
)
def test_what_is_wrong_is_one_sentence(arguments: list[str], leave_out: str, words: str) -> None:
    run = foresee(*arguments, leave_out=leave_out)
    assert run.exit_code == 2
    assert words in run.stderr
    assert len(run.stderr.splitlines()) == 1


def test_a_round_file_without_a_ceiling_says_what_is_missing() -> None:
    run = CliRunner().invoke(main, ["foresee", "-"], input=WITHOUT_HEIGHT)
    assert run.exit_code == 2
    assert "the height of the ceiling is needed" in run.stderr
