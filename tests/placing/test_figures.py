"""The figures as text: each quantity with its uncertainty, difference and verdict."""

from __future__ import annotations

import re

import msgspec
import pytest
from exact_shots import (
    AT,
    SETUP,
    TARGET,
    finished,
    mark_in,
    off,
    settle,
    shoot,
    walk_round,
    with_targets,
    world_of,
)

from witnessmark.app.status import status_lines, status_width
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units
from witnessmark.model import Act, Decision, Meter, Pair, Placement, Quantity, Setup, Side, Tilt
from witnessmark.placing.figures import MARKS, FigureRow, FigureTable, length, tables, width
from witnessmark.placing.figures import off as off_by
from witnessmark.placing.guidance import guide
from witnessmark.placing.judge import appraise
from witnessmark.placing.round import Round
from witnessmark.report.solve import solve_blocks
from witnessmark.report.terminal import text_lines


def told(state: Round) -> tuple[FigureTable, FigureTable, FigureTable]:
    return tables(guide(state))


def left_row(setup: Setup, number: int) -> FigureRow:
    """A row of a left cabinet 30 mm too far into the room and toed in 2 degrees too little."""
    world = world_of(setup, left=off(setback_mm=30.0, toe_in_deg=-2.0))
    return told(shoot(Round.begin(setup), world, [0.0] * 4))[0].rows[number]


def test_nothing_is_told_before_it_was_measured() -> None:
    left, right, pair = told(Round.begin(SETUP))
    assert [row.target for row in left.rows] == ["1420", "1810", "9.00°"]
    for row in (*left.rows, *right.rows):
        assert (row.measured, row.width, row.off, row.verdict) == ("", "", "", None)
    assert (pair.rows, pair.note, pair.verdict) == ((), "once both are measured", None)


def test_an_error_is_measured_minus_target() -> None:
    setback, toe_in = left_row(SETUP, 1), left_row(SETUP, 2)
    assert (setback.measured, setback.off, setback.verdict) == ("1840.0", "+30.0", Verdict.OUT)
    assert (toe_in.measured, toe_in.off, toe_in.verdict) == ("7.00°", "-2.00°", Verdict.OUT)
    assert float(setback.width) > 0


def test_feet_and_inches_carry_their_marks() -> None:
    row = left_row(msgspec.structs.replace(SETUP, units=Units.INCH_16), 1)
    assert (row.target, row.measured, row.off) == ("5' 11 1/4\"", "6' 0 7/16\"", '+1 3/16"')


def test_an_uncertainty_beside_inches_is_decimal() -> None:
    row = left_row(msgspec.structs.replace(SETUP, units=Units.INCH_16), 1)
    millimetres = float(left_row(SETUP, 1).width)
    inches = float(row.width.removesuffix(" in"))
    assert millimetres - 0.05 <= inches * 25.4 <= millimetres + 0.05 + 0.254


def longest(units: Units, off_mm: float, width_mm: float) -> FigureRow:
    setup = msgspec.structs.replace(SETUP, units=units)
    far = 23 * 304.8 + 9.9375 * 25.4  # 23' 9 15/16"
    error, expanded = Placement(off_mm, off_mm, off_mm), Placement(width_mm, width_mm, 0.25)
    return FigureRow(
        name="setback",
        target=length(far, units, fine=False),
        measured=length(far, units),
        width=width(setup, Quantity.SETBACK, expanded),
        off=off_by(setup, Quantity.SETBACK, error),
        verdict=Verdict.UNSURE,
        sure="97 %",
    )


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize(("off_mm", "width_mm"), [(-7252.6, 0.94), (-25.0, 24.0), (7252.6, 99.9)])
def test_no_two_columns_touch_at_80_columns(
    monkeypatch: pytest.MonkeyPatch, units: Units, off_mm: float, width_mm: float
) -> None:
    row = longest(units, off_mm, width_mm)
    one = FigureTable("left", "measured", False, (row, row), Verdict.UNSURE)
    pair = msgspec.structs.replace(one, name="symmetry", note="before, left minus right")
    monkeypatch.setattr("witnessmark.app.status.tables", lambda _: (one, one, pair))
    state = Round.begin(msgspec.structs.replace(SETUP, units=units))
    lines = status_lines(guide(state), 20).plain.splitlines()
    assert all(len(line) <= 78 for line in lines)
    rows = [line for line in lines if line.startswith("  setback") and row.target in line]
    assert len(rows) == 4
    for line in rows:
        cells = [re.escape(cell) for cell in (row.target, row.measured, f"±{row.width}", row.off)]
        assert re.fullmatch(rf"  setback +{' +'.join(cells)} +. 97 %", line), line
    (both,) = [line for line in lines if line.count(f"{row.off} ±{row.width}") == 2]
    assert re.search(rf"setback +{re.escape(row.off)} ±{re.escape(row.width)} \? +setback ", both)
    assert len([line for line in lines if re.search(" target +measured +off ", line)]) == 2
    assert status_width(units) <= 78


@pytest.mark.parametrize("units", Units)
def test_no_two_columns_of_a_solved_round_touch(units: Units) -> None:
    setup = msgspec.structs.replace(SETUP, units=units)
    far, off_mm = Placement(7247.4, 7247.4, -25.0), Placement(-7247.4, -25.0, -25.0)
    target = Placement(7247.4, 7247.4, -25.0)
    aimed = msgspec.structs.replace(setup, targets=Pair(target, target))
    found = appraise(setup, mark_in(finished(setup), AT, "end").shots)
    one = found.cabinets[Side.LEFT]
    assert one.against_target is not None
    against = msgspec.structs.replace(one.against_target, error=off_mm)
    wide = msgspec.structs.replace(
        one, measured=far, expanded=Placement(99.9, 0.94, 9.99), against_target=against
    )
    told = msgspec.structs.replace(found, cabinets={Side.LEFT: wide})
    lines = list(text_lines(solve_blocks(aimed, told), 80))
    rows = [line for line in lines if line.startswith(("  side", "  setback", "  toe-in"))]
    assert len(rows) == 3
    for line in rows:
        assert len(line) <= 80
        _, *figures = re.findall(r"(?:[^ ]|(?<=['\d]) (?=\d|in\b))+", line)
        # measured, ±, target, error, verdict
        assert len(figures) == 5, line


def test_without_a_target_there_is_no_error() -> None:
    row = left_row(with_targets(None, None), 1)
    assert row.measured == "1840.0"
    assert (row.target, row.off, row.verdict) == ("", "", None)


def test_symmetry_is_left_minus_right_with_the_worst_verdict() -> None:
    world = world_of(left=off(side_mm=12.0), right=TARGET)
    state = walk_round(Round.begin(SETUP), world).feed(Decision(Act.OTHER, AT))
    pair = told(walk_round(state, world))[2]
    assert [row.name for row in pair.rows] == ["side", "setback", "path", "toe-in"]
    assert pair.rows[0].off == "+12.0"
    assert pair.rows[0].verdict is Verdict.OUT
    assert pair.verdict is Verdict.OUT
    assert pair.note == "left minus right"


def test_what_is_of_before_the_last_move_is_called_so() -> None:
    world = world_of(left=off(setback_mm=30.0))
    state = walk_round(Round.begin(SETUP), world).feed(Decision(Act.MOVED, AT))
    left, _, _ = told(shoot(state, world))
    assert (left.note, left.stale) == ("before", True)


def test_each_verdict_has_a_sign_of_its_own() -> None:
    assert len(set(MARKS.values())) == len(Verdict)


def test_a_tilt_is_the_last_row_where_it_is_known_or_asked_for() -> None:
    setup = msgspec.structs.replace(SETUP, tilt_targets_deg=Pair(0.5, None))
    state = msgspec.structs.replace(
        walk_round(Round.begin(setup), world_of(left=TARGET)), tilts=Pair(Tilt(1.5, 0.1), None)
    )
    left, right, _ = told(state)
    tilt = left.rows[-1]
    assert (tilt.name, tilt.target, tilt.measured) == (Quantity.TILT, "0.50°", "1.50°")
    assert (tilt.off, tilt.width, tilt.verdict) == ("+1.00°", "0.20°", Verdict.OUT)
    assert left.verdict is Verdict.OUT
    assert Quantity.TILT.label not in [row.name for row in right.rows]
    asked = told(Round.begin(setup))[0].rows[-1]
    assert (asked.name, asked.target, asked.measured) == (Quantity.TILT, "0.50°", "")


@pytest.mark.parametrize("rows", range(5, 12))
def test_where_rows_are_few_what_decides_symmetry_is_shown_first(rows: int) -> None:
    scattering = msgspec.structs.replace(SETUP, meter=Meter(2.5, 0.1, 0.0))
    world = world_of(scattering, off(0.5), off(-0.5))
    guidance = guide(settle(Round.begin(scattering), world))
    *cabinets, pair = tables(guidance)
    lines = str(status_lines(guidance, rows)).splitlines()
    assert len(lines) <= rows
    for name in ("LEFT", "RIGHT", "SYMMETRY"):
        assert sum(name in line for line in lines) == 1
    undecided = [row for row in pair.rows if row.verdict is Verdict.UNSURE]
    assert undecided
    for row in undecided:
        assert any(f"{row.off} ±{row.width} " in line for line in lines)
    if rows >= 11:
        assert sum(table.rows[0].measured in "\n".join(lines) for table in cabinets) == 2
