"""``witnessmark solve``: its page, and what it says of files that are no rounds."""

from __future__ import annotations

import copy
import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from effort import examples
from hypothesis import given
from hypothesis import strategies as st
from solving import (
    LEFT,
    WORLD,
    answer,
    assert_found,
    refusal,
    round_tables,
    solve,
    toml,
    walk,
    walls,
)

from witnessmark.cli import main
from witnessmark.model import (
    AimedAt,
    Held,
    ShotKind,
    Side,
)


def test_a_page_of_at_most_80_columns() -> None:
    run = solve(json.dumps(round_tables(walk())))
    assert run.exit_code == 0
    assert max(map(len, run.stdout.splitlines())) <= 80
    page = " ".join(run.stdout.split())
    assert "LEFT CABINET: out" in page
    assert "side 1364.0mm" in page
    assert "1360.0 +4.0 unsure" in page
    assert "4.0 mm toward the left wall" in page
    assert "SYMMETRY (left minus right): out" in page


def test_the_page_without_targets_and_with_one_cabinet() -> None:
    tables = round_tables(walls(Side.RIGHT, Held.WALL))
    del tables["target"]
    page = solve(json.dumps(tables)).stdout
    assert "RIGHT CABINET\n" in page
    assert "1357.5mm" in page
    for word in ("target", "nudge", "SYMMETRY", "LEFT"):
        assert word not in page


def test_the_page_names_suspects() -> None:
    tables = round_tables(
        [
            *walls(Side.LEFT, Held.WALL),
            ShotKind(Side.LEFT, "front-inner", AimedAt.FRONT, Held.WALL),
            ShotKind(Side.LEFT, "rear-inner", AimedAt.LEFT, Held.WALL),
        ]
    )
    tables["shot"][0]["reading"] = WORLD.true_distance(walk()[0]) * 10
    page = " ".join(solve(json.dumps(tables)).stdout.split())
    assert (
        "suspect, left out: front-outer to left wall: decimal point one place too far right" in page
    )


def test_a_file_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "round.toml"
    path.write_text("\ufeff" + toml(round_tables(walk())), encoding="utf-8")
    run = CliRunner().invoke(main, ["solve", str(path), "--json"])
    assert run.exit_code == 0, run.stderr
    assert_found(json.loads(run.stdout)["cabinets"]["left"], LEFT)


def test_windows_line_ends_and_a_byte_order_mark() -> None:
    text = "\ufeff" + toml(round_tables(walk())).replace("\n", "\r\n")
    assert solve(text.encode(), "--json").exit_code == 0


@pytest.mark.parametrize("make", ["missing", "folder"])
def test_a_file_that_is_not_there(tmp_path: Path, make: str) -> None:
    path = tmp_path / "round.toml"
    if make == "folder":
        path.mkdir()
    run = CliRunner().invoke(main, ["solve", str(path)])
    assert run.exit_code == 2
    assert run.stderr.startswith(f"Error: {path}: ")
    assert run.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "format: this is not a round file"),
        (b"\x89PNG\r\n\x1a\n\x00\xff", "-: not a text file in UTF-8"),
        ("format".encode("utf-16"), "-: not a text file in UTF-8"),
        (b"\x00" * 50, "the file cannot be read as TOML"),
        (b" " * 1_000_001, "-: over 1000000 bytes"),
        (b"[[shot]]\n" * 100_000, "format: this is not a round file"),
    ],
    ids=["empty", "picture", "utf-16", "nul", "over the limit", "many shots"],
)
def test_what_is_no_round_file_is_told_in_one_line(raw: bytes, words: str) -> None:
    assert refusal(raw, 2).startswith(words)


def test_a_thousand_shots_are_solved() -> None:
    kinds = walk() * 125
    told = answer(round_tables(kinds))
    assert_found(told["cabinets"]["left"], LEFT)
    # what is left of the uncertainty is the zero, which is the same in all of them
    assert told["cabinets"]["left"]["expanded"]["side_mm"] == pytest.approx(1.4, abs=0.05)


BASE = round_tables([*walk(), ShotKind(Side.LEFT, "rear-inner", AimedAt.CABINET, Held.POINT)])
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(
        ["left", "right", "front", "back", "seat", "cabinet", "wall", "point", "spot", "12.6 ft"]
    ),
    st.floats(0, 10_000).map(lambda mm: f"{mm:.1f} mm"),
    st.just([]),
    st.just({}),
    st.lists(st.floats(-1e4, 1e4), min_size=2, max_size=2),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=2),
)


def places(item: Any) -> list[tuple[Any, Any]]:  # noqa: ANN401
    """Every table or list of a tree with a key into it."""
    keys: Iterable[Any] = ()
    if isinstance(item, dict):
        keys = item
    elif isinstance(item, list):
        keys = range(len(item))
    else:
        return []
    found = [(item, key) for key in keys]
    return found + [inner for key in keys for inner in places(item[key])]


@st.composite
def mutated(draw: st.DrawFn) -> str:
    tables = copy.deepcopy(BASE)
    for _ in range(draw(st.integers(1, 4))):
        table, key = draw(st.sampled_from(places(tables)))
        match draw(st.sampled_from(["replace", "remove", "add", "scale", "repeat"])):
            case "replace":
                table[key] = draw(ODD)
            case "remove":
                del table[key]
            case "add" if isinstance(table, dict):
                table[draw(st.text(max_size=6))] = draw(ODD)
            case "scale" if isinstance(table[key], int | float):
                table[key] = table[key] * draw(st.sampled_from([-1, 0, 0.1, 0.3048, 10, 1000]))
            case "repeat" if isinstance(table, list):
                table.append(copy.deepcopy(table[key]))
            case _:
                pass
        if not places(tables):
            break
    return json.dumps(tables)


@examples(15, 300)
@given(mutated())
def test_a_mutated_file_is_solved_or_refused_in_one_line(text: str) -> None:
    run = solve(text, "--json")
    assert run.exception is None or isinstance(run.exception, SystemExit), run.exc_info
    assert run.exit_code in {0, 2, 3}
    if run.exit_code:
        assert run.stdout == ""
        assert len(run.stderr.splitlines()) == 1
        assert run.stderr.startswith("Error: ")
    else:
        json.loads(run.stdout, parse_constant=pytest.fail)
        assert all(line.startswith("note: ") for line in run.stderr.splitlines())


@examples(15, 120)
@given(st.lists(st.floats(0, 100_000), min_size=8, max_size=8), st.sampled_from(list(Held)[:2]))
def test_any_readings_at_all_are_solved_or_refused_in_one_line(
    readings: list[float], held: Held
) -> None:
    tables = round_tables(walk(held))
    for shot, reading in zip(tables["shot"], readings, strict=True):
        shot["reading"] = reading
    run = solve(json.dumps(tables))
    assert run.exception is None or isinstance(run.exception, SystemExit), run.exc_info
    assert run.exit_code in {0, 3}
    assert run.exit_code == 0 or len(run.stderr.splitlines()) == 1


@examples(15, 80)
@given(st.binary(max_size=200))
def test_any_bytes_at_all_are_refused_in_one_line(raw: bytes) -> None:
    refusal(raw, 2)


@pytest.mark.skipif(os.name != "posix", reason="elsewhere they are no files")
def test_a_pipe_or_device_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (str(tmp_path / "pipe"), "/dev/zero"):
        run = CliRunner().invoke(main, ["solve", path])
        assert run.exit_code == 2
        assert run.stderr.startswith(f"Error: {path}: it is a device or a pipe, not a file")


def test_a_store_below_nobodys_folder_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WITNESSMARK_STORE", "~nobody-of-this-name/x")
    run = CliRunner().invoke(main, ["marks"])
    assert run.exit_code == 2
    assert run.stderr == (
        "Error: ~nobody-of-this-name/x: nobody here has a folder of that name; write it out\n"
    )
