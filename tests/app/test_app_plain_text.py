"""No text is read as markup: a bracket in the name of a meter or of a mark is a bracket."""

from __future__ import annotations

import ast
import importlib
import inspect
from collections.abc import Callable, Iterator
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList

import witnessmark.app
from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.widgets import plain
from witnessmark.meters.finding import Tell
from witnessmark.meters.port import FoundMeter
from witnessmark.model import Restoring
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
MODULES = sorted(Path(witnessmark.app.__path__[0]).rglob("*.py"))
COVARIANCE = tuple(tuple(float(row == column) for column in range(6)) for row in range(6))
TO_THE_LETTER = {"Input", "Markdown"}
"""Widgets of the framework that read no markup; the second has pages of the manual alone."""


def of_the_framework(tree: ast.Module) -> dict[str, type[Widget]]:
    """Return the widgets of the framework that a module imports, by their names there."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("textual."):
            module = importlib.import_module(node.module or "")
            for alias in node.names:
                imported = getattr(module, alias.name)
                if inspect.isclass(imported) and issubclass(imported, Widget):
                    found[alias.asname or alias.name] = imported
    return found


def reads_markup(widget: type[Widget]) -> bool:
    """Return whether a widget takes a text that it reads as markup unless it is told not to."""
    if widget.__name__ in TO_THE_LETTER:
        return False
    return widget.__module__.startswith("textual.widgets.")


def offences(tree: ast.Module) -> Iterator[str]:
    """Tell where a module makes a text that would be read as markup, or a widget that does so."""
    widgets = {name for name, one in of_the_framework(tree).items() if reads_markup(one)}
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Name(id=name), args=args, keywords=named) if name in widgets:
                is_off = any(
                    one.arg == "markup"
                    and isinstance(one.value, ast.Constant)
                    and one.value.value is False
                    for one in named
                )
                is_content = bool(args) and ast.unparse(args[0]).startswith("Content(")
                if not (is_off or is_content):
                    yield f"{node.lineno}: {name}(...) would read markup"
            case ast.ClassDef(name=made, bases=bases):
                for base in bases:
                    if ast.unparse(base) in widgets:
                        yield f"{node.lineno}: {made} is a {ast.unparse(base)}, not plain"
            case ast.FunctionDef(name="render", returns=ast.Name(id="str")):
                yield f"{node.lineno}: what render returns would be read as markup"
            case ast.Attribute(attr="from_markup" | "from_text" | "border_title" | "tooltip"):
                yield f"{node.lineno}: {node.attr} would read markup"


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_no_module_of_the_app_makes_a_text_that_is_read_as_markup(module: Path) -> None:
    if module == Path(plain.__file__):
        return
    assert list(offences(ast.parse(module.read_text("utf-8")))) == []


def test_what_would_read_markup_is_found() -> None:
    careless = (
        "from textual.widgets import Button, Label, OptionList, Static\n"
        "class Line(Static): ...\n"
        "class Row:\n"
        "    def render(self) -> str: ...\n"
        "a, b = Label(name), OptionList(id='found')\n"
        "c, d = Button(name), Static(name, markup=True)\n"
        "e.tooltip = Content.from_markup(name)\n"
        "f = Static(name, markup=False), Button(Content(name))\n"
    )
    told = [line.partition(":")[0] for line in offences(ast.parse(careless))]
    assert sorted(told) == ["2", "4", "5", "5", "6", "6", "7", "7"]


@pytest.mark.parametrize("make", [plain.Plain, lambda text: plain.PlainOptions().add_option(text)])
def test_a_plain_text_is_shown_to_the_letter(make: Callable[[str], Widget]) -> None:
    for text in ("[/]", "[/x]", '[foo="', "[@click=app.quit]quit[/]", "[red]a"):
        widget = make(text)
        if isinstance(widget, OptionList):
            shown = widget._get_visual(widget.get_option_at_index(0))
        else:
            shown = widget.render()
        assert isinstance(shown, Content)
        assert shown.plain == text
        assert not shown.spans


async def test_a_mark_that_is_put_back_may_be_named_in_brackets(
    sit_down: SitDown, opening: Workspace
) -> None:
    poses = {"placements": msgspec.to_builtins(opening.draft.targets), "covariance": COVARIANCE}
    mark = {"name": "[/x]", "poses": poses, "shots": {"left": [], "right": []}}
    restoring = msgspec.convert(mark, Restoring)
    draft = msgspec.structs.replace(opening.draft, restoring=restoring)
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("v")
        assert 'putting back "[/x]"' in sitting.text
        await sitting.press("ctrl+l")
        assert sitting.app.session.draft.restoring is None


async def found_brackets(tell: Tell) -> list[FoundMeter]:
    tell("the driver for [/] failed")
    return [FoundMeter("ble:C0:FF:EE:00:12:34", "Meter [/], strong signal")]


async def test_the_name_of_a_meter_and_an_error_may_hold_brackets(
    sit_down: SitDown, opening: Workspace
) -> None:
    offered = msgspec.structs.replace(opening, offered_meter="replay:[@click=app.quit]x[/]")
    async with sit_down(offered, size=(140, 45), discover=found_brackets) as sitting:
        await sitting.press("m")
        assert "Meter [/], strong signal" in sitting.text
        assert "! the driver for [/] failed" in sitting.text
        assert "replay:[@click=app.quit]x[/]" in sitting.text
        assert isinstance(sitting.app, WitnessmarkApp)
        sitting.app.notify("[/x] is told", markup=True)
        await sitting.press("?")
        await sitting.press("escape")
        assert sitting.app.is_running


async def test_a_meter_of_the_rooms_file_that_is_no_address_is_told_and_not_offered(
    sit_down: SitDown, opening: Workspace
) -> None:
    offered = msgspec.structs.replace(opening, offered_meter="garbage [/]")
    async with sit_down(offered, size=(140, 45), discover=found_brackets) as sitting:
        await sitting.press("m")
        assert '"garbage [/]", is no address' in " ".join(sitting.text.split())
        sitting.app.screen.query_one(OptionList).focus()
        await sitting.press("home", "enter")
        assert sitting.app.session.workspace.meter_address == "ble:C0:FF:EE:00:12:34"
        assert "is no address" not in sitting.text
        assert "the driver for [/] failed" in sitting.text
        assert sitting.app.session.workspace.offered_meter == ""
