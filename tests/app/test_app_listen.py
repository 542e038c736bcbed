"""The walk with ears open: graded, hidden, compared, kept, gone back to, with and without light."""

from __future__ import annotations

import contextlib
import re
import sqlite3
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from rehearsed import rehearse
from sitting import Sitting
from textual.widgets import Static

from witnessmark.app.app import DIM
from witnessmark.app.screens.listen import PreferScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.big_figures import BigFigures
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.app.widgets.grade_sheet import GradeSheet
from witnessmark.listening.order import walk
from witnessmark.model import Attribute, Pair, Placement, Preference, Restoring, Side, Trial, Varied
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark.words.cautions import DARK, LASER, LOCAL_RULES, LOUDNESS, MOVING

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
OWN = "your own position (1450 / 1900 / 8°)"
"""What the position at the opening targets is called."""


def trials_in(store_file: Path) -> list[Trial]:
    with Store.open(store_file) as store:
        return [kept.record for kept in store.kept(Trial, "Attic")]


def choices_in(store_file: Path) -> list[Preference]:
    with Store.open(store_file) as store:
        return [kept.record for kept in store.kept(Preference, "Attic")]


def words(sitting: Sitting, name: str) -> str:
    return str(sitting.app.screen.query_one(f"#{name}", Static).content)


def rows(sitting: Sitting) -> list[str]:
    return [row.plain for row in sitting.app.screen.query_one("#trials", PickList).rows]


def targets(sitting: Sitting) -> Pair[Placement | None]:
    return sitting.app.session.draft.targets


async def walk_on(sitting: Sitting, *grades: str) -> None:
    """Grade the present position, and go on to the next."""
    await sitting.press("e", *grades, "ctrl+n")


async def test_a_position_is_graded_and_kept_before_the_next_is_the_target(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("e", *"435244")
        await sitting.fill(words="dry, a little thin", track="the trio, from 0:40")
        before = targets(sitting)
        assert trials_in(store_file) == []
        await sitting.press("ctrl+n")
        (kept,) = trials_in(store_file)
        assert list(kept.impression.grades.values()) == [4, 3, 5, 2, 4, 4]
        assert kept.impression.words == "dry, a little thin"
        assert (kept.targets, kept.measured, kept.repeats) == (before, None, None)
        assert sitting.is_at(Step.LIVE)
        assert sitting.app.session.draft.setup is not None
        first = walk(sitting.app.session.draft.setup, {}).proposals[0]
        assert targets(sitting) == first.targets
        await sitting.press("e")
        assert words(sitting, "advice").startswith("Station 1 (not measured)")
        assert rows(sitting) == [f" 1 {OWN}  3.7"]
        # what is played stays; what was heard is told afresh
        assert sitting.field("track").value == "the trio, from 0:40"
        assert sitting.field("words").value is None


async def test_the_walk_goes_from_station_to_station_with_or_without_a_grade(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await walk_on(sitting, "3")
        for _ in range(3):
            await walk_on(sitting)
        kept = trials_in(store_file)
        assert [each.varied for each in kept] == [Varied.PLACE, *[Varied.STATION] * 3]
        await sitting.press("e")
        assert words(sitting, "advice").startswith("Station 4")
        assert "3 of" in words(sitting, "walk")


async def test_the_best_is_what_spread_sets_out_from(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await walk_on(sitting, "3")
        await sitting.press("e", "5")
        await sitting.choose("best", True)
        await sitting.press("ctrl+s")
        await sitting.choose("stage", "spread")
        assert "spread" in words(sitting, "walk")
        await sitting.press("ctrl+n")
        assert [each.impression.best for each in trials_in(store_file)] == [False, True]
        left = targets(sitting).left
        assert left is not None
        assert left.setback_mm == trials_in(store_file)[1].targets.left.setback_mm
        await sitting.press("e")
        assert words(sitting, "advice").startswith("Spread ")


async def test_the_stations_farthest_apart_come_first_where_that_is_chosen(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await walk_on(sitting, "3")
        await walk_on(sitting, "4")
        await sitting.press("e")
        forward = words(sitting, "walk")
        await sitting.choose("stations", True)
        assert sitting.app.session.draft.halves_stations
        assert words(sitting, "walk") != forward
        await sitting.choose("stations", False)
        assert words(sitting, "walk") == forward
        assert sitting.app.session.draft.station_order is msgspec.UNSET


async def test_back_to_an_earlier_position_is_one_key_and_counts_as_its_repeat(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        began = targets(sitting)
        await walk_on(sitting, "3")
        await walk_on(sitting, "4")
        await sitting.press("e")
        sitting.app.screen.query_one("#trials", PickList).focus()
        await sitting.press("up", "enter")
        assert sitting.is_at(Step.LIVE)
        assert targets(sitting) == began
        await sitting.press("e", "5", "ctrl+s")
        first, _, again = trials_in(store_file)
        assert (again.varied, again.targets) == (Varied.NOTHING, first.targets)
        with Store.open(store_file) as store:
            assert again.repeats == store.kept(Trial, "Attic")[0].key


async def test_who_hides_earlier_grades_sees_none_and_is_noted_as_not_led_by_them(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await walk_on(sitting, "2", "2")
        await sitting.press("e")
        assert "2.0" in rows(sitting)[0]
        await sitting.press("ctrl+x", "4", "ctrl+s")
        assert rows(sitting) == [f" 1 {OWN}", " 2 station 1"]
        assert "graded" not in sitting.text
        await sitting.press("4", "ctrl+s", "ctrl+x")
        assert "4.0" in rows(sitting)[2]
        # it was still in sight as the second was begun
        assert [each.impression.blind for each in trials_in(store_file)] == [False, False, True]


@pytest.mark.parametrize(("key", "better"), [("f", 0), ("j", 1), ("space", None)])
async def test_this_or_the_one_before_is_one_key(
    sit_down: SitDown, opening: Workspace, store_file: Path, key: str, better: int | None
) -> None:
    async with sit_down(opening) as sitting:
        await walk_on(sitting, "2")
        await sitting.press("e", "ctrl+j")
        assert isinstance(sitting.app.screen, PreferScreen)
        assert f"the one before: {OWN}" in sitting.text
        assert "this one: station 1" in sitting.text
        await sitting.press(key)
        with Store.open(store_file) as store:
            keys = [kept.key for kept in store.kept(Trial, "Attic")]
        (choice,) = choices_in(store_file)
        assert (choice.one, choice.other) == tuple(keys)
        assert choice.better == (None if better is None else keys[better])


async def test_nothing_is_kept_of_a_comparison_that_is_left_or_has_nothing_before(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("e", "3", "ctrl+j")
        assert "no position before" in sitting.told
        await sitting.press("ctrl+n", "e", "ctrl+j", "escape")
        assert choices_in(store_file) == []


async def test_choices_that_do_not_separate_are_said_so(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening, size=(140, 45)) as sitting:
        await walk_on(sitting, "2")
        await sitting.press("e", "4", "ctrl+j", "j")
        assert "your choices do not single it out" in " ".join(words(sitting, "said").split())
        for _ in range(7):
            await sitting.press("ctrl+j", "j")
        assert f"Station 1 before {OWN}: 8 of 8 choices" in words(sitting, "said")


async def test_a_dimmed_screen_leaves_large_letters_and_keys_that_touch_finds(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("e")
        sitting.field("words").query_one("Input").focus()
        await sitting.press("ctrl+d")
        assert sitting.app.theme == DIM.name
        assert sitting.notices == [DARK]
        figures = sitting.app.screen.query_one(BigFigures)
        assert figures.text == "SPATIAL -"
        await sitting.press("j", "j", "space", "f", "f")
        assert figures.text == "STEREO 2"
        assert not sitting.app.screen.query_one("#aside").display
        await sitting.press("enter")
        (kept,) = trials_in(store_file)
        assert kept.impression.grades == {Attribute.SPATIAL: 4, Attribute.STEREO: 2}
        assert sitting.is_at(Step.LIVE)
        assert not sitting.app.screen.query_one("#plan").display
        assert not sitting.app.screen.query_one("#status").display
        await sitting.press("ctrl+d")
        assert sitting.app.screen.query_one("#body").display


async def test_what_was_said_is_not_lost_by_looking_elsewhere_or_by_a_slip(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("e", "ctrl+s")
        assert "Enter something first" in sitting.told
        await sitting.press("4", "2")
        await sitting.fill(words="boxy")
        await sitting.press("g", "e")
        sheet = sitting.app.screen.query_one(GradeSheet)
        assert list(sheet.grades.values()) == [4, 2]
        assert sitting.field("words").value == "boxy"
        await sitting.press("q")
        assert sitting.app.is_running
        assert any("not saved yet" in notice for notice in sitting.notices)
        await sitting.press("ctrl+s", "ctrl+s")
        (kept,) = trials_in(store_file)
        assert kept.impression.words == "boxy"
        assert sitting.app.hearing is None
        await sitting.press("3", "q", "2", "q")
        assert sitting.app.is_running
        await sitting.press("q")
        assert sitting.app._exit


async def test_a_grade_is_taken_back_and_the_mouse_gives_one(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("e", "4", "up", "delete")
        sheet = sitting.app.screen.query_one(GradeSheet)
        assert sheet.grades == {}
        column = sitting.text.splitlines()[5].index(" 5 ") + 1
        await sitting.pilot.click(GradeSheet, offset=(column - 1, 2))
        await sitting.settle()
        assert sheet.grades == {Attribute.CLARITY: 5}


async def test_what_was_put_back_no_longer_is_once_the_walk_goes_on(
    sit_down: SitDown, opening: Workspace
) -> None:
    covariance = tuple(tuple(float(row == column) for column in range(6)) for row in range(6))
    poses = {"placements": msgspec.to_builtins(opening.draft.targets), "covariance": covariance}
    mark = {"name": "old", "poses": poses, "shots": {"left": [], "right": []}}
    restoring = msgspec.convert(mark, Restoring)
    draft = msgspec.structs.replace(opening.draft, restoring=restoring)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await walk_on(sitting, "3")
        assert sitting.app.session.draft.restoring is None


async def test_a_pair_that_was_brought_in_is_kept_where_it_was_measured(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        await person.work_on()
        assert "Press e to listen, v to mark." in person.text
        await person.press("e", "4")
        await person.until(lambda: "(measured)" in person.text)
        await person.press("ctrl+s")
        with Store.open(store_file) as store:
            await person.until(lambda: len(store.kept(Trial, "Demo")) == 1)
            (kept,) = store.kept(Trial, "Demo")
        assert kept.round_id is not None
        assert kept.record.measured is not None
        for side in Side:
            off = kept.record.standing[side].minus(person.room.truth[side])
            assert max(abs(off.side_mm), abs(off.setback_mm)) < 3
            assert abs(off.toe_in_deg) < 0.5


async def test_the_cautions_are_on_the_help_page(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening, size=(140, 60)) as sitting:
        await sitting.press("e", "f1")
        page = " ".join(re.sub("[│▁▂▃▄▅▆▇█▔]", " ", sitting.text).split())  # and the scroll bar
        for caution in (LASER, MOVING, LOUDNESS, DARK, LOCAL_RULES):
            assert page.count(caution) == 1


async def test_a_trial_is_struck_out_told_as_struck_and_let_count_again(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening, size=(140, 45)) as sitting:
        await walk_on(sitting, "2")
        await sitting.press("e", "4", "ctrl+s")
        sitting.app.screen.query_one("#trials").focus()
        await sitting.press("up", "up", "delete")
        assert "is struck out: it stays here" in sitting.told
        assert rows(sitting) == [f" 1 {OWN}  struck out", " 2 station 1  4.0"]
        assert len(trials_in(store_file)) == 2
        await sitting.press("g", "e")
        assert rows(sitting)[0] == f" 1 {OWN}  struck out"
        sitting.app.screen.query_one("#trials").focus()
        await sitting.press("up", "up", "delete")
        assert rows(sitting)[0] == f" 1 {OWN}  2.0"
        # one row is damaged meanwhile: it is told here too, and all others are there
        with contextlib.closing(sqlite3.connect(store_file)) as beside:
            beside.executescript(
                "DROP TRIGGER trial_no_update; UPDATE trial SET body = '{' WHERE id = 1"
            )
        for _ in range(2):
            await sitting.press("g", "e")
            assert "trial 1 cannot be read and is left out" in sitting.told
            assert [row.split()[0] for row in rows(sitting)] == ["1"]


async def test_a_comparison_keeps_nothing_before_it_is_answered(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await walk_on(sitting, "2")
        await sitting.press("e", "4", "ctrl+j")
        assert "this one: station 1" in sitting.text
        assert len(trials_in(store_file)) == 1
        await sitting.press("escape")
        assert len(trials_in(store_file)) == 1
        await sitting.press("ctrl+j", "j")
        assert len(trials_in(store_file)) == 2
        assert len(choices_in(store_file)) == 1
