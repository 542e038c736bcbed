"""``witnessmark layout`` as a person and as a program reads it."""

import json
from typing import Any

import pytest
from click.testing import CliRunner, Result

from witnessmark.cli import main
from witnessmark.words.cautions import LOCAL_RULES, MOVING

ROOM = ("--width", "4.8 m", "--length", "6.6m")
CABINET = ("--cabinet-width", "260", "--cabinet-depth", "39 cm")


def _run(*options: str) -> Result:
    return CliRunner().invoke(main, ["layout", *ROOM, *options])


def _json(*options: str) -> dict[str, Any]:
    run = _run("--json", *options)
    assert run.exit_code == 0, run.output
    answer: dict[str, Any] = json.loads(run.stdout)
    return answer


def _page(*options: str) -> str:
    run = _run(*options)
    assert run.exit_code == 0, run.output
    return run.stdout


def test_the_object_holds_lanes_seat_stations_and_placements() -> None:
    layout = _json(*CABINET)
    assert layout["lanes"]["left"] == {"outer_mm": 1200, "inner_mm": 1600}
    assert layout["seat"]["from_front_mm"] == pytest.approx(4400)
    assert len(layout["stations"]) == 14
    assert layout["placements"]["right"]["side_mm"] == 1400
    assert layout["stands"]["left"]["points"]["rear-outer"]["side_mm"] < 1200
    assert layout["conflicts"] == []


def test_every_number_of_the_object_names_its_unit() -> None:
    def names(value: object, name: str) -> set[str]:
        if isinstance(value, dict):
            return set().union(*(names(inner, key) for key, inner in value.items()))
        if isinstance(value, list):
            return set().union(*(names(inner, name) for inner in value))
        return {name} if isinstance(value, int | float) else set()

    found = names(_json(*CABINET), "")
    assert {name for name in found if not name.endswith(("_mm", "_deg"))} == {"number"}


@pytest.mark.parametrize(
    ("options", "side_mm", "setback_mm", "toe_in_deg"),
    [
        (("--base", "2.5m"), 1150, 4400 - 2165.0635, 30),
        (("--setback", "2.4m"), 2400 - 2000 / 3**0.5, 2400, 30),
        (("--side", "1.4m", "--setback", "2m", "--toe-in", "8"), 1400, 2000, 8),
        (("--station", "3"), 1400, 3800, 0),
        (("--station", "3", "--toe-in", "-5"), 1400, 3800, -5),
        (("--station", "2", "--station-step", "1 ft"), 1400, 4400 - 304.8, 0),
        (("--seat-from-front", "5m"), 1400, 5000 - 1732.0508, 30),
        (("--seat-from-left", "2.3m"), 1300, 4400 - 1732.0508, 30),
    ],
)
def test_the_ways_to_begin(
    options: tuple[str, ...], side_mm: float, setback_mm: float, toe_in_deg: float
) -> None:
    left = _json(*options)["placements"]["left"]
    assert left["side_mm"] == pytest.approx(side_mm, abs=1e-3)
    assert left["setback_mm"] == pytest.approx(setback_mm, abs=1e-3)
    assert left["toe_in_deg"] == toe_in_deg


def test_inches_step_by_the_foot() -> None:
    first, second = _json("--units", "1/16 in")["stations"][:2]
    assert first["setback_mm"] - second["setback_mm"] == pytest.approx(304.8)


@pytest.mark.parametrize("units", ["mm", "0.1mm", "1/16 in", "1/32in"])
@pytest.mark.parametrize(
    "options",
    [
        (),
        CABINET,
        (*CABINET, "--base", "4.79m"),
        (*CABINET, "--station", "14", "--toe-in", "45", "--seat-from-left", "2.31m"),
        ("--side", "2m", "--setback", "3m"),
    ],
)
def test_the_page_is_at_most_80_columns_wide(units: str, options: tuple[str, ...]) -> None:
    assert max(map(len, _page("--units", units, *options).splitlines())) <= 80


def test_the_page_tells_what_a_tape_finds() -> None:
    page = _page(*CABINET)
    assert "1200 mm to 1600 mm from each side wall" in page
    assert "4400 mm from the front wall, 2200 mm from the back wall" in page
    rows = {line[4:38].strip(): line[38:].split("mm") for line in page.splitlines()}
    assert [cell.strip() for cell in rows["side wall to middle of baffle"]] == ["1400", "1400", ""]
    assert [cell.strip() for cell in rows["front wall to rear-outer"]] == ["2395", "2395", ""]
    assert "Conflicts" not in page
    assert f"Take care ! {MOVING} ! {LOCAL_RULES}" in " ".join(page.split())


def test_the_page_tells_conflicts() -> None:
    page = " ".join(_page(*CABINET, "--base", "5m").split())
    assert "Conflicts ! The triangle is wider than the room: 5000 mm" in page


def test_without_cabinets_the_page_leaves_their_column_out() -> None:
    assert "behind" in _page(*CABINET)
    assert "behind" not in _page()


def test_a_note_on_a_length_goes_to_the_standard_error() -> None:
    run = _run("--base", "8.5 ft", "--json")
    assert run.exit_code == 0
    assert run.stderr.startswith("--base: 8.5 ft")
    assert json.loads(run.stdout)["base_mm"] == pytest.approx(2590.8)


def test_sound_is_told_when_asked_for() -> None:
    heights = ("--height", "2.4m", "--ear-height", "1.02m", "--acoustic-height", "94cm")
    page = " ".join(_page("--sound", *heights).split())
    assert "LEFT CABINET, ON ITS TARGET Via the front wall the path is" in page
    assert "Via the ceiling the path is" in page
    assert "first notch" not in _page()
    told = _json("--sound")["sound"]
    assert told["at_seat"]["arrival_us"] == pytest.approx(0, abs=1e-9)
    assert set(told["cabinets"]["left"]["bounces"]) == {"front", "back", "left", "right"}
    assert told["modes"]["length"]["modes"][0]["frequency_hz"] == pytest.approx(26.0)
    assert "sound" not in _json()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--base", "12 ells"), '--base: "12 ells" is not a length'),
        (("--cabinet-width", "260"), "--cabinet-depth: it is missing"),
        (("--cabinet-depth", "390"), "--cabinet-width: it is missing"),
        (("--cabinet-width", "1mm", "--cabinet-depth", "390"), "cabinet.width: 1 mm must lie"),
        (("--station-step", "0"), "station step: 0 mm must lie between"),
        (("--base", "2m", "--station", "3"), "--base and --station each choose"),
        (("--side", "1m"), "--setback: it is missing; --side needs it"),
        (("--base", "2m", "--setback", "1m"), "--setback follows from --base"),
        (("--station", "3", "--setback", "1m"), "--setback follows from --station"),
        (("--toe-in", "5"), "--toe-in needs --side or --station"),
        (("--station", "99"), "--station: 99 is not there; this room has 15 stations"),
        (("--station", "3", "--toe-in", "nan"), "toe-in: nan must lie between"),
        (("--setback", "5m"), "leaves no triangle"),
        (("--units", "cubits"), '--units: "cubits" is not one of mm, 0.1 mm'),
        (("--width", "30cm"), "every wall must be at least 0.5 m long"),
        (("--height", "2.4m"), "--height needs --sound"),
        (("--ear-height", "1m"), "--ear-height needs --sound"),
    ],
)
def test_bad_input_is_one_line_that_says_what_would_be_right(
    options: tuple[str, ...], words: str
) -> None:
    run = _run(*options)
    assert run.exit_code == 2
    assert run.stdout == ""
    assert words in run.stderr
    assert run.stderr.count("\n") == 1


def test_the_nearest_free_position_is_proposed_where_the_pair_cannot_stand() -> None:
    # turned by nothing, 391 mm deep: the front wall itself is the nearest that its rear can be
    arguments = ["--cabinet-width", "262", "--cabinet-depth", "391", "--side", "1450"]
    arguments += ["--setback", "300", "--toe-in", "0"]
    assert "! Nearest free position: 1450 mm from each side wall, 391 mm from the" in _page(
        *arguments
    )
    free = _json(*arguments)["nearest_free"]
    assert free["left"] == {"side_mm": 1450.0, "setback_mm": 391.0, "toe_in_deg": 0.0}
    assert _json()["nearest_free"] is None
