"""What the sheets tell: the tape marks, the card, the report."""

from __future__ import annotations

import re
from datetime import timedelta

import msgspec
import pytest
from paper import read_back, words
from sheet_cases import AT, CABINET, EVENING, MARK, POSES, SETUP, kept

from witnessmark.drawing.strokes import Align
from witnessmark.lengths import Units
from witnessmark.model import Cabinet, Pair, Placement, TouchPoint, Wall
from witnessmark.report.evening import KeptEvening, evening_report
from witnessmark.report.floor_sheets import marking_out, put_back_card
from witnessmark.report.page import Page, PageText, Paper, Polyline
from witnessmark.report.pdf import pdf


def told(pages: tuple[Page, ...]) -> str:
    return words(read_back(pdf(pages, "a sheet")))


def rows(pages: tuple[Page, ...]) -> list[str]:
    """The texts that stand on one line, from left to right, line by line."""
    found: dict[tuple[int, float], list[PageText]] = {}
    for number, page in enumerate(pages):
        for item in page.items:
            if isinstance(item, PageText):
                found.setdefault((number, round(item.at[1], 1)), []).append(item)
    return [
        " ".join(text.text for text in sorted(row, key=lambda text: text.at[0]))
        for _, row in sorted(found.items())
    ]


def test_the_marking_out_sheet_tells_every_tape_mark() -> None:
    found = rows(marking_out("Attic", SETUP, Paper.A4))
    # by hand: 1450 + 131 cos 8 and 1900 - 131 sin 8; the rear another 391 back along the axis
    for row in (
        "L1 front-inner 1580 mm 1882 mm",
        "L2 front-outer 1320 mm 1918 mm",
        "L3 rear-inner 1525 mm 1495 mm",
        "R4 rear-outer 1266 mm 1531 mm",
    ):
        assert row in found
    assert any(row.startswith("9 2000 mm") for row in found)


def test_the_marking_out_sheet_speaks_feet_and_inches_where_the_person_does() -> None:
    inches = msgspec.structs.replace(
        SETUP,
        units=Units.INCH_16,
        room=msgspec.structs.replace(SETUP.room, datum=(Wall.RIGHT,)),
        targets=Pair(Placement(1524.0, 1828.8, 0.0), None),
    )
    text = told(marking_out("Attic", inches, Paper.LETTER))
    assert "Middle of the baffle: 5' 0\" from the left wall, 6' 0\" from the front wall" in text
    assert "It has no target yet." in text
    assert "from the front wall" in text


def test_every_number_of_the_card_is_there_for_both_cabinets() -> None:
    pages = put_back_card(MARK, "Attic", Paper.A4)
    assert len(pages) == 1
    text = told(pages)
    for said in (
        "Put back: the good one",
        "Attic, kept 2026-05-17 20:30Z.",
        "from left wall",
        "from right wall",
        "1450 mm ±1 mm",
        "1901 mm ±1 mm",
        "8.10° ±0.20°",
        "1.30° ±0.10°",
        "rear spike: 2.5 turns out",
        "within 3 mm and 0.5°",
        "Notes: on coins",
        "Two people move it: amplifier off",
        "Local rules and the makers' instructions come first.",
        "Never look into the beam",
    ):
        assert said in text


@pytest.mark.parametrize("units", [Units.MM, Units.TENTH_MM])
def test_a_card_asks_no_tenths_of_a_tape(units: Units) -> None:
    setup = msgspec.structs.replace(MARK.setup, units=units)
    text = told(put_back_card(msgspec.structs.replace(MARK, setup=setup), "Attic", Paper.A4))
    assert re.findall(r"\d[.,]\d+ mm", text) == []
    assert len(re.findall(r"\b\d+ mm", text)) > 20


@pytest.mark.parametrize("paper", list(Paper))
def test_a_long_card_goes_on_on_a_second_page_and_loses_nothing(paper: Paper) -> None:
    points = {f"edge {number}": TouchPoint(5.0 * number, 10.0 * number) for number in range(30)}
    edged = Cabinet(262, 391, points=points)
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(edged, CABINET))
    notes = " ".join(f"word{number}" for number in range(300))
    mark = msgspec.structs.replace(MARK, setup=setup, notes=notes)
    pages = put_back_card(mark, "Attic", paper)
    assert len(pages) > 1
    text = told(pages)
    assert all(f"L{number} " in text for number in range(1, 35))
    assert all(f"word{number}" in text for number in range(300))
    bottom = max(item.at[1] for page in pages for item in page.items if isinstance(item, PageText))
    assert bottom < paper.size_mm[1] - 10


def test_the_report_tells_trials_grades_words_and_the_symmetry_of_marks() -> None:
    pages = evening_report(EVENING, Paper.A4)
    found, text = rows(pages), told(pages)
    assert "3 trials, 1 comparison, 1 mark." in text
    assert any(row.startswith("1 19:40") and "timbre 2" in row for row in found)
    # nobody measured at the three trials; the mark was measured: 2 sqrt(0.16) and 2 sqrt(0.25) mm
    assert text.count("target, not measured") == 6
    assert "1450.4 mm ±0.8 mm" in text
    assert "1901 mm ±1 mm" in text
    assert "mean grade against setback" in text
    assert "mean grade against spread" in text
    assert "mean grade against toe-in" in text
    assert "flagged as the best" in text
    assert "Not compared: room: the height of the ceiling is needed to foresee the bass." in text
    assert 'Mark "the good one", 2026-05-17 20:30Z' in text
    # left minus right: 0.6 mm, 1.3 mm, 0.2 degrees
    assert "side 0.6 mm, setback 1.3 mm, toe-in 0.20° apart, known to ±1.4 mm and ±0.28°" in text
    assert "0.20° more than the left" in text


def test_a_better_grade_stands_higher_and_a_greater_setback_farther_right() -> None:
    (page, *_) = evening_report(EVENING, Paper.A4)
    small = [item for item in page.items if isinstance(item, PageText) and item.size_mm < 3]
    one, two, three = (
        min(
            (text for text in small if text.text == number and text.align is Align.START),
            key=_across,
        )
        for number in ("1", "2", "3")
    )
    assert three.at[1] < two.at[1] < one.at[1]
    assert three.at[0] < two.at[0] < one.at[0]


def _across(text: PageText) -> float:
    return text.at[0]


def test_a_dot_is_full_where_the_trial_was_measured_and_hollow_where_it_was_not() -> None:
    def rings(evening: KeptEvening) -> int:
        """Of all charts: closed lines of many points."""
        items = [item for page in evening_report(evening, Paper.A4) for item in page.items]
        return sum(isinstance(item, Polyline) and len(item.points) > 20 for item in items)

    first, *others = EVENING.trials
    measured = msgspec.structs.replace(first.record, measured=POSES)
    filled = EVENING._replace(trials=[kept(first.id, measured), *others])
    assert rings(EVENING) == 3 * (3 + 1)  # three trials, one of which was blind, in three charts
    assert rings(filled) > rings(EVENING)
    assert "A hollow one: meant to stand there, not measured." in told(
        evening_report(EVENING, Paper.A4)
    )


def test_an_evening_ends_where_nothing_was_kept_for_six_hours() -> None:
    before = [
        kept(7, msgspec.structs.replace(MARK, at=AT - timedelta(hours=12.0))),
        kept(8, msgspec.structs.replace(MARK, at=AT - timedelta(hours=5.7))),
    ]
    all_kept = EVENING._replace(marks=[*before, *EVENING.marks])
    latest = all_kept.latest()
    assert [mark.id for mark in latest.marks] == [8, 1]
    assert len(latest.trials) == 3
    assert [mark.id for mark in all_kept.within(None, AT - timedelta(hours=6)).marks] == [7]


def test_an_evening_without_anything_says_so() -> None:
    nothing = EVENING._replace(trials=[], preferences=[], marks=[])
    assert nothing.latest() == nothing
    assert "Nothing was saved in this time." in told(evening_report(nothing, Paper.A4))


@pytest.mark.parametrize("wrong", [timedelta(days=30_000), timedelta(days=-9000)])
def test_a_clock_that_was_once_wrong_cuts_no_evening_short(wrong: timedelta) -> None:
    first, second, third = EVENING.trials
    aside = msgspec.structs.replace(second.record, at=second.record.at + wrong)
    evening = EVENING._replace(trials=[first, kept(2, aside), third])
    latest = evening.latest()
    assert latest == evening
    assert "3 trials, 1 comparison, 1 mark." in told(evening_report(latest, Paper.A4))


@pytest.mark.parametrize("mark_in_round", [1, 2])
def test_a_wrong_clock_at_the_last_trial_hides_no_later_mark(mark_in_round: int) -> None:
    *others, last = EVENING.trials
    aside = msgspec.structs.replace(last.record, at=last.record.at + timedelta(days=30_000))
    trials = [*others, kept(last.id, aside)]
    evening = EVENING._replace(
        trials=[msgspec.structs.replace(one, round_id=1) for one in trials],
        preferences=[msgspec.structs.replace(one, round_id=1) for one in EVENING.preferences],
        marks=[msgspec.structs.replace(one, round_id=mark_in_round) for one in EVENING.marks],
    )
    assert evening.latest() == evening


def test_a_mark_in_air_that_no_formula_is_for_ends_no_report() -> None:
    (only,) = EVENING.marks
    hot = msgspec.structs.replace(only.record.setup, temperature_c=60.0)
    evening = EVENING._replace(marks=[kept(1, msgspec.structs.replace(only.record, setup=hot))])
    text = told(evening_report(evening, Paper.A4))
    assert "Not compared: temperature: 60 degrees Celsius must lie between -20 and 50." in text
    assert "3 trials, 1 comparison, 1 mark." in text
