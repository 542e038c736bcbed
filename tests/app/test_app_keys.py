"""Keys, key bar and help page come from one list, and none gets in the way of typing."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable, Iterator
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import pytest
from sitting import Sitting
from textual.binding import Binding
from textual.widgets import Input, OptionList

import witnessmark
from witnessmark.app.commands import COMMANDS, bindings_for, commands_for, spoken_keys
from witnessmark.app.forms.cabinets import OWN
from witnessmark.app.screens.help import HelpScreen
from witnessmark.app.screens.listen import PreferScreen
from witnessmark.app.screens.phone import PhoneScreen
from witnessmark.app.steps import FORMS, Aside, Place, Step
from witnessmark.app.widgets.bars import KeyBar
from witnessmark.app.widgets.grade_sheet import GradeSheet
from witnessmark.meters.finding import Tell
from witnessmark.meters.port import FoundMeter
from witnessmark.session.room_contents import ZONE
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


PLACES = [*Step, *Aside]


def _meanings() -> Iterator[tuple[str, str]]:
    """Each key with what it means, in all places and in what opens over them."""
    for command in COMMANDS:
        for key in command.keys.split(","):
            yield key, command.label or command.id
    for owner in (HelpScreen, PhoneScreen, PreferScreen, GradeSheet):
        for binding in Binding.make_bindings(owner.BINDINGS):
            if len(binding.key) == 1 or binding.key.startswith("ctrl+"):
                yield binding.key.lower(), binding.description


# with f and j two touching fingers find the choice on the left and on the right
_LEFT_AND_RIGHT = {"f": {"Worse", "The one before"}, "j": {"Better", "This one"}}


def test_a_key_means_one_thing_on_all_screens() -> None:
    meanings: dict[str, set[str]] = {}
    for key, meaning in _meanings():
        if key == "enter":  # goes on, from wherever it is pressed
            continue
        meanings.setdefault(key, set()).add(meaning)
    several = {key: own for key, own in meanings.items() if len(own) > 1}
    assert several == _LEFT_AND_RIGHT


def test_a_meaning_has_one_key_with_ctrl_where_letters_are_typed() -> None:
    keys: dict[str, set[str]] = {}
    for key, meaning in _meanings():
        if not re.fullmatch(r"f\d+", key):
            keys.setdefault(meaning, set()).add(key.removeprefix("ctrl+"))
    assert {meaning: own for meaning, own in keys.items() if len(own) > 1} == {}


def test_every_key_that_a_sentence_names_is_there() -> None:
    known = {spoken_keys(key) for key, _ in _meanings()}
    package = Path(witnessmark.__file__).parent
    sources = [*package.rglob("*.py"), *package.rglob("*.md")]
    named = {key for file in sources for key in re.findall(r"Ctrl\+[A-Z]", file.read_text())}
    assert named
    assert named <= known


async def test_a_letter_works_with_shift_as_well(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("I")
        assert sitting.is_at(Aside.TILT)
        await sitting.press("escape", "M", "escape", "C")
        assert sitting.is_at(Step.CABINETS)


def test_every_command_has_a_name_of_its_own_and_is_explained() -> None:
    assert len({command.id for command in COMMANDS}) == len(COMMANDS)
    assert all(command.explained.endswith(".") for command in COMMANDS)
    for place in PLACES:
        for binding in bindings_for(place):
            assert isinstance(binding, Binding)
            assert binding.id
            assert binding.tooltip


def test_no_key_that_works_while_typing_is_a_letter() -> None:
    typing = {key for command in COMMANDS if command.typing for key in command.keys.split(",")}
    assert all(len(key) > 1 for key in typing)


def test_no_step_needs_a_function_key() -> None:
    for command in COMMANDS:
        assert not all(key.startswith("f") and key[1:].isdigit() for key in command.keys.split(","))


@pytest.mark.parametrize("place", PLACES)
def test_the_help_page_names_every_key_of_each_place(place: Place) -> None:
    columns = HelpScreen(place, rehearsed=False)._keys_page().columns
    told = list(zip(*(map(str, column.cells) for column in columns), strict=True))
    for command in commands_for(place):
        # simulated hands and button are there in the demo alone
        is_told = (spoken_keys(command.keys), command.explained) in told
        assert is_told != command.id.startswith("rehearsal."), command.id


_NAMED: dict[str, tuple[list[str], tuple[str, object] | None]] = {
    "room.py": (["r"], None),
    "evening.py": (["v"], None),
    "fittings.py": (["r", "ctrl+f"], ("kind", ZONE)),
    "cabinets.py": (["c", "ctrl+x", "ctrl+a"], ("which", OWN)),
    "learn.py": ([], None),  # in test_app_learn, where a meter is learnt
}
"""Where a name is asked for: the file, the keys to the screen, and what must be chosen first."""


async def test_typing_a_name_fires_no_command(sit_down: SitDown, opening: Workspace) -> None:
    package = Path(witnessmark.__file__).parent / "app"
    asked = r'(TextRow|NameInput)\(\s*("\w+",\s*)?"[^"]*\b[Nn]ame'
    files = {file.name for file in package.rglob("*.py") if re.search(asked, file.read_text())}
    assert files == set(_NAMED)
    async with sit_down(opening) as sitting:
        for keys, choice in _NAMED.values():
            if not keys:
                continue
            await sitting.press(*keys)
            if choice is not None:
                await sitting.choose(*choice)
            assert isinstance(sitting.app.focused, Input), keys
            await back_to_the_live_screen(sitting)


async def back_to_the_live_screen(sitting: Sitting) -> None:
    while isinstance(getattr(sitting.app.screen, "STEP", None), Aside):
        sitting.app.pop_screen()
    sitting.app.go(Step.LIVE)
    await sitting.settle()


async def test_letters_are_text_in_a_field_and_keys_outside(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        sitting.field("name").query_one("Input").focus()
        await sitting.press("end", "c", "question_mark", "q")
        assert sitting.is_at(Step.ROOM)
        assert sitting.field("name").value == "Atticc?q"
        await sitting.press("escape", "c")
        assert sitting.is_at(Step.CABINETS)


async def test_the_key_bar_shows_what_works_where_the_cursor_is(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("c")
        sitting.field("left-width").query_one("Input").focus()
        await sitting.settle()
        bar = sitting.app.screen.query_one(KeyBar)
        assert "Esc Leave" in str(bar.content)
        assert sitting.text.startswith(" Esc, then:   r Room  ▸Cabinets◂  l Layout")
        assert "F1 Help" in str(bar.content)
        await sitting.press("escape")
        assert "Esc Leave" not in str(bar.content)
        assert sitting.text.startswith(" witnessmark  r Room  ▸Cabinets◂  l Layout")
        assert "? Help" in str(bar.content)


@pytest.mark.parametrize("width", [60, 80, 140])
async def test_the_key_bar_breaks_between_keys_only(
    sit_down: SitDown, opening: Workspace, width: int
) -> None:
    async with sit_down(opening, size=(width, 24)) as sitting:
        await sitting.press("m")
        bar = sitting.app.screen.query_one(KeyBar)
        lines = str(bar.content).splitlines()
        assert bar.size.height == len(lines)
        assert all(len(line) <= width - 2 for line in lines)
        entries = {entry for line in lines for entry in line.split("  ")}
        assert {"Ctrl+N Next", "Ctrl+Y Start again", "Esc Leave"} <= entries


async def test_a_click_on_a_key_presses_it(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("r", "escape")
        lines = str(sitting.app.screen.query_one(KeyBar).content).splitlines()
        row = next(row for row, line in enumerate(lines) if "Rooms" in line)
        await sitting.pilot.click(KeyBar, offset=(lines[row].index("Rooms") + 3, row))
        await sitting.settle()
        assert sitting.is_at(Aside.ROOMS)


async def test_a_click_on_a_step_goes_there(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        line = sitting.text.splitlines()[0]
        await sitting.pilot.click(offset=(line.index("Layout") + 2, 0))
        await sitting.settle()
        assert sitting.is_at(Step.LAYOUT)


@pytest.mark.parametrize("step", sorted(FORMS))
async def test_back_goes_back(sit_down: SitDown, opening: Workspace, step: Step) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press(step.value[0], "ctrl+p")
        assert sitting.is_at(step.before)


async def test_meters_in_reach_are_listed_and_chosen(sit_down: SitDown, opening: Workspace) -> None:
    searches = 0

    async def discover(_tell: Tell) -> list[FoundMeter]:
        nonlocal searches
        searches += 1
        await asyncio.sleep(0)
        return [FoundMeter("serial:COM3", "a port"), FoundMeter("sim:", "a simulated meter")]

    async with sit_down(opening, discover=discover) as sitting:
        await sitting.press("m")
        assert "serial:COM3" in sitting.text
        assert searches == 1
        await sitting.press("ctrl+y")
        assert searches == 2
        sitting.app.screen.query_one(OptionList).focus()
        await sitting.press("down", "enter")
        assert sitting.app.session.workspace.meter_address == "sim:"
        assert sitting.field("address").value == "sim:"


async def test_no_meter_in_reach_is_said(sit_down: SitDown, opening: Workspace) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("m")
        found = sitting.app.screen.query_one(OptionList)
        assert found.get_option_at_index(0).prompt == "none found; Ctrl+Y looks again"
        assert found.disabled
