"""Grades against where the pair stood: the record, and its drawing as text."""

from __future__ import annotations

import math
import unicodedata

import msgspec
import pytest
from effort import examples
from hypothesis import given
from hypothesis import strategies as st
from listening_cases import SETUP, found_at, trial

from witnessmark.lengths import Units, format_length
from witnessmark.listening.chart import COLUMNS, ROWS, Against, Chart, axis, chart_text, grade_chart
from witnessmark.model import Attribute, Pair, Placement, Trial

TIMBRE, STEREO = Attribute.TIMBRE, Attribute.STEREO


def at(side: float, setback: float, toe_in: float = 0.0) -> Pair[Placement]:
    placement = Placement(side, setback, toe_in)
    return Pair(placement, placement)


def heard(minute: float, setback: float, grade: int, **more: object) -> Trial:
    return trial(minute, targets=at(1400.0, setback), grades={TIMBRE: grade}, **more)  # type: ignore[arg-type]


TRIALS = {
    "a": heard(0, 2300.0, 4, best=True),
    "b": heard(1, 2000.0, 5, best=True),
    "c": heard(2, 1700.0, 2),
    "d": trial(3, targets=at(1400.0, 1400.0)),
    "a1": heard(4, 2300.0, 2, blind=True, repeats="a"),
}
NAMES = {
    "a": "station 8",
    "b": "station 9",
    "c": "station 10",
    "d": "station 11",
    "a1": "station 8",
}


def drawn(against: Against = Against.SETBACK, units: Units = Units.MM) -> Chart:
    return grade_chart(msgspec.structs.replace(SETUP, units=units), TRIALS, NAMES, against)


def test_points_are_the_graded_trials_in_the_order_of_trying() -> None:
    chart = drawn()
    assert [point.key for point in chart.points] == ["a", "b", "c", "a1"]
    assert [point.value for point in chart.points] == [2300.0, 2000.0, 1700.0, 2300.0]
    assert [point.grade for point in chart.points] == [4, 5, 2, 2]
    assert [point.name for point in chart.points][2] == "station 10"
    assert [point.blind for point in chart.points] == [False, False, False, True]
    # the one that was flagged last
    assert [point.key for point in chart.points if point.best] == ["b"]
    assert chart.title == "mean grade against setback"


def test_points_of_a_repeated_position_are_joined() -> None:
    ((one, other),) = drawn().joined
    assert (one.key, other.key) == ("a", "a1")


def test_the_mean_of_all_that_a_trial_was_graded_on() -> None:
    own = {"x": trial(0, grades={TIMBRE: 5, STEREO: 2}), "y": trial(1, grades={TIMBRE: 3})}
    names = {"x": "one", "y": "other"}
    mean = grade_chart(SETUP, own, names, Against.SETBACK)
    assert [point.grade for point in mean.points] == [3.5, 3.0]


def test_values_are_those_of_the_pair_as_it_was_found() -> None:
    wanted = heard(0, 2000.0, 4)
    found = found_at(wanted, Placement(1402.0, 2004.0, 6.0), Placement(1396.0, 2001.0, 7.0))
    values = {
        against: grade_chart(SETUP, {"x": found}, {"x": "x"}, against).points[0].value
        for against in Against
    }
    assert values[Against.SETBACK] == pytest.approx(2002.5)
    assert values[Against.SPREAD] == pytest.approx(4800 - 1402 - 1396)
    assert values[Against.TOE_IN] == pytest.approx(6.5)


spans = st.lists(st.floats(0.0, 9000.0), min_size=1, max_size=12)


@given(spans, st.sampled_from(Against), st.sampled_from(Units))
def test_an_axis_holds_its_values_between_round_ends(
    values: list[float], against: Against, units: Units
) -> None:
    if against is Against.TOE_IN:
        values = [value / 100 for value in values]
    found = axis(values, against, units)
    slack = 1e-6 * found.step
    assert found.low - slack <= min(values) <= max(values) <= found.high + slack
    steps = (found.high - found.low) / found.step
    assert steps == pytest.approx(round(steps))
    assert 1 <= round(steps) <= 5
    assert found.low / found.step == pytest.approx(round(found.low / found.step), abs=1e-6)
    assert len(found.marks) == round(steps) + 1
    assert found.marks[-1] == pytest.approx(found.high)


@pytest.mark.parametrize(
    ("values", "against", "units", "ends"),
    [
        ([500, 4400], Against.SETBACK, Units.MM, ("0 mm", "5000 mm")),
        ([1600, 2400], Against.SPREAD, Units.MM, ("1600 mm", "2400 mm")),
        ([2012, 2047], Against.SETBACK, Units.TENTH_MM, ("2010.0 mm", "2050.0 mm")),
        ([1600, 2400], Against.SPREAD, Units.INCH_16, ("5' 0\"", "8' 0\"")),
        ([2012, 2047], Against.SETBACK, Units.INCH_32, ("6' 7\"", "6' 9\"")),
        ([0, 24.3], Against.TOE_IN, Units.MM, ("0°", "25°")),
        ([-2.2, 1.3], Against.TOE_IN, Units.MM, ("-3°", "2°")),
        ([2000], Against.SETBACK, Units.MM, ("1990 mm", "2010 mm")),
        ([], Against.SETBACK, Units.MM, ("-10 mm", "10 mm")),
    ],
)
def test_the_ends_are_round_in_the_persons_units(
    values: list[float], against: Against, units: Units, ends: tuple[str, str]
) -> None:
    found = axis(values, against, units)
    assert (found.label(found.low), found.label(found.high)) == ends


def test_a_chart_as_text() -> None:
    assert chart_text(drawn()).splitlines() == [
        "mean grade against setback",
        "5 ┤                ⓑ                a station 10",
        "  │                                 b*station 9",
        "4 ┤                           ⓒ     c station 8",
        "  │                           │",
        "3 ┤                           │",
        "  │                           │",
        "2 ┤    ⓐ                      Ⓒ",
        "  │",
        "1 ┤",
        "  └┴───────┴───────┴──────┴───────┴",
        "   1600 mm                  2400 mm",
        "a capital: graded with earlier grades out of sight",
        "in a ring: at the target, not measured",
    ]


def test_only_what_was_not_measured_is_in_a_ring() -> None:
    there = Placement(1400.0, 2050.0, 0.0)
    measured = found_at(TRIALS["b"], there, there)
    chart = grade_chart(SETUP, {**TRIALS, "b": measured}, NAMES, Against.SETBACK)
    assert {point.key: point.measured for point in chart.points} == {
        "a": False,
        "b": True,
        "c": False,
        "a1": False,
    }
    plot = "".join(line[3:35] for line in chart_text(chart).splitlines()[1:10])
    assert sorted(plot.replace(" ", "").replace("│", "")) == ["b", "Ⓒ", "ⓐ", "ⓒ"]
    alone = grade_chart(SETUP, {"b": measured}, NAMES, Against.SETBACK)
    assert "in a ring" not in chart_text(alone)


grades = st.dictionaries(st.sampled_from(Attribute), st.integers(1, 5), max_size=3)


@st.composite
def sessions(draw: st.DrawFn) -> tuple[dict[str, Trial], dict[str, str]]:
    own: dict[str, Trial] = {}
    for place in range(draw(st.integers(0, 30))):
        repeats = draw(st.none() | st.sampled_from(sorted(own))) if own else None
        side, setback = draw(st.floats(900, 1700)), draw(st.floats(300, 4000))
        targets = own[repeats].targets if repeats else at(side, setback, draw(st.floats(-5, 40)))
        own[f"k{place}"] = trial(
            place,
            targets=targets,
            grades=draw(grades),
            blind=draw(st.booleans()),
            repeats=repeats,
            best=draw(st.booleans()),
        )
    text = st.text("abcdefgh ", min_size=1, max_size=40)
    return own, {key: draw(text) for key in own}


@examples(30, 200)
@given(sessions(), st.sampled_from(Against), st.sampled_from(Units))
def test_the_text_keeps_to_its_cells_and_loses_no_position_within_reach(
    session: tuple[dict[str, Trial], dict[str, str]], against: Against, units: Units
) -> None:
    own, names = session
    chart = grade_chart(msgspec.structs.replace(SETUP, units=units), own, names, against)
    lines = chart_text(chart).splitlines()
    assert len(lines) <= ROWS
    assert max(map(len, lines)) <= COLUMNS
    # NFKC takes the rings off, by Unicode's own table
    plot = unicodedata.normalize("NFKC", "".join(line[3:35] for line in lines[1:10]))
    letters = {cell.casefold() for cell in plot if cell.isalpha()}
    positions = {point.position for point in chart.points}
    assert len(letters) == min(26, len(positions))
    if len(positions) <= 26:
        capitals = {point.position for point in chart.points if point.blind}
        assert len({cell for cell in plot if cell.isupper()}) == len(capitals)


def test_points_that_fall_on_one_cell_stand_side_by_side() -> None:
    own = {key: heard(place, 2000.0 + place, 4) for place, key in enumerate("xyz")}
    own["far"] = heard(9, 3000.0, 4)
    lines = chart_text(
        grade_chart(SETUP, own, dict.fromkeys(own, "n"), Against.SETBACK)
    ).splitlines()
    row = unicodedata.normalize("NFKC", lines[3][3:35])
    assert sorted(row.replace(" ", "")) == ["a", "b", "c", "d"]
    assert max(row.index(letter) for letter in "abc") <= 2


def test_more_positions_than_there_are_lines_are_counted() -> None:
    own = {f"k{place}": heard(place, 500.0 + 100 * place, 3) for place in range(14)}
    text = chart_text(grade_chart(SETUP, own, {key: key for key in own}, Against.SETBACK))
    assert "h k7" in text
    assert "and 6 more" in text
    assert "graded with" not in text


def test_names_that_only_repeat_the_title_are_shortened() -> None:
    own = {"x": trial(0, targets=at(1400, 2000, 12.0), grades={TIMBRE: 4})}
    text = chart_text(grade_chart(SETUP, own, {"x": "toe-in: beside the shoulder"}, Against.TOE_IN))
    assert "a beside the shoulder" in text


def test_labels_are_lengths_as_they_are_written_elsewhere() -> None:
    found = axis([1234.0, 4321.0], Against.SPREAD, Units.INCH_16)
    assert found.label(found.low) == format_length(found.low, Units.INCH_16)
    assert math.isclose(found.step, 609.6) or math.isclose(found.step, 1524.0)
