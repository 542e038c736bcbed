"""A form is data bound to a record: one row and one field, and a person can fill it in."""

from __future__ import annotations

import re
from collections.abc import AsyncGenerator, Mapping
from pathlib import Path
from typing import ClassVar

import msgspec
import pytest
from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.widgets import Input

import witnessmark.app
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import fields_in
from witnessmark.app.forms.form import Form, FormView
from witnessmark.app.forms.row_kinds import ChoiceRow, LengthRow, NumberRow, TextRow, when
from witnessmark.app.forms.texts import ThreadInput
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.model.limits import Limit


class Stand(msgspec.Struct, frozen=True):
    """What a cabinet may stand on; no screen of the app knows of it."""

    height_mm: float
    kind: str = "fixed"
    thread: str | None = None
    lean_deg: float = 0.0
    plate_mm: float | None = None
    owner: str = "nobody"

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "height_mm": Limit(100, 1500),
        "lean_deg": Limit(-5, 5, "°"),
    }

    def __post_init__(self) -> None:
        if self.plate_mm is not None and self.plate_mm > self.height_mm:
            raise BadInput("stand.plate: it must be smaller than the stand is high")


ROWS = (
    LengthRow("height_mm", "Height", hint="Floor to top plate."),
    ChoiceRow("kind", "Kind", options=[("fixed", "fixed"), ("spiked", "on spikes")]),
    TextRow("thread", "Thread", reads=ThreadInput, shown_if=when("kind", "spiked")),
    NumberRow("lean_deg", "Lean"),
)
PLATE = LengthRow("plate_mm", "Top plate", optional=True, hint="Its longer side.")


class Page(App[None]):
    """A page with the form, and with what it was changed to."""

    def __init__(self, *rows: LengthRow, record: Stand | None = None) -> None:
        super().__init__()
        self.form = FormView(Form(Stand, *ROWS, *rows), Units.MM, record)
        self.heard: list[str] = []

    def compose(self) -> ComposeResult:
        yield self.form

    def on_form_view_changed(self, event: FormView.Changed) -> None:
        assert event.control is self.form
        self.heard.append(event.name)


def problem(page: Page) -> str:
    with pytest.raises(BadInput) as caught:
        assert page.form.record
    return str(caught.value)


@pytest.fixture
async def pilot() -> AsyncGenerator[Pilot[None], None]:
    async with Page(PLATE).run_test(size=(60, 20)) as pilot:
        await pilot.pause()
        yield pilot


@pytest.fixture
def page(pilot: Pilot[None]) -> Page:
    assert isinstance(pilot.app, Page)
    return pilot.app


async def test_a_record_is_filled_in_with_keys_alone(pilot: Pilot[None], page: Page) -> None:
    page.form.go_to()
    await pilot.press(*"720", "enter", "right")
    await pilot.pause()
    await pilot.press("enter", *"M8", "enter", "end", *"3", "enter", *"200", "enter")
    assert problem(page).startswith('Lean: "0°3" is not a number')
    page.form.go_to("lean_deg")
    await pilot.press("end", "backspace", "backspace", "backspace", *"-2")
    assert page.form.record == Stand(720, "spiked", "M8", -2, 200)
    assert {"height_mm", "kind", "thread", "lean_deg", "plate_mm"} == set(page.heard)


async def test_an_optional_length_is_one_row_and_one_field() -> None:
    known = Stand(720, plate_mm=200, owner="the neighbour")
    async with Page(record=known).run_test() as pilot:
        assert isinstance(pilot.app, Page)
        # a form that does not ask for it leaves it as it is
        assert "plate" not in [field.id for field in fields_in(pilot.app)]
        assert pilot.app.form.record == known
    async with Page(PLATE, record=known).run_test() as pilot:
        assert isinstance(pilot.app, Page)
        (plate,) = [field for field in fields_in(pilot.app) if field.id == "plate"]
        assert (plate.label, plate.hint, plate.value) == ("Top plate", "Its longer side.", 200)
        pilot.app.form.go_to("plate_mm")
        await pilot.press(*["backspace"] * 6, *"25 cm")
        assert pilot.app.form.record == msgspec.structs.replace(known, plate_mm=250)
        await pilot.press(*["backspace"] * 5)
        assert pilot.app.form.record == msgspec.structs.replace(known, plate_mm=None)


async def test_what_is_missing_or_wrong_is_told_with_the_name_of_its_row(
    pilot: Pilot[None], page: Page
) -> None:
    assert problem(page) == "Height: needed"
    page.form.go_to()
    await pilot.press(*"1501")
    assert problem(page) == "Height: 1501 mm must lie between 100 mm and 1500 mm"
    await pilot.press("backspace", "backspace")
    assert problem(page) == "Height: 15 mm must lie between 100 mm and 1500 mm"
    await pilot.press(*"0")
    page.form.fill(plate_mm=151.0)
    assert problem(page) == "stand.plate: it must be smaller than the stand is high"
    assert page.heard == ["height_mm"] * 7


async def test_a_row_that_does_not_belong_is_put_away_and_keeps_nobody(
    pilot: Pilot[None], page: Page
) -> None:
    page.form.put(Stand(300))
    await pilot.pause()
    thread = page.form.field("thread")
    assert not thread.display
    assert page.form.record == Stand(300)
    page.form.go_to("kind")
    await pilot.press("right")
    assert thread.display
    assert [field.label for field in page.form.open_fields] == ["Thread"]
    assert problem(page) == "Thread: needed"


async def test_putting_a_record_tells_nobody_and_keeps_its_digits(
    pilot: Pilot[None], page: Page
) -> None:
    precise = Stand(720.37, "spiked", "M8", 0.123, 200.4, owner="me")
    page.form.put(precise)
    await pilot.pause()
    assert page.heard == []
    assert page.form.record == precise
    height = page.form.field("height_mm")
    assert height.query_one(Input).value == "720 mm"
    page.form.show_in(Units.INCH_16)
    assert height.query_one(Input).value == "2' 4 3/8\""
    assert page.form.record == precise
    assert page.form.values["kind"] == "spiked"


async def test_labels_and_options_may_follow_from_the_rest() -> None:
    form = Form(
        Stand,
        ChoiceRow("kind", "Kind", options=[("fixed", "fixed"), ("spiked", "on spikes")]),
        ChoiceRow(
            "owner",
            lambda values: f"Whose {values['kind']} one",
            options=lambda values: [(name, name) for name in (values["kind"], "nobody")],
        ),
        LengthRow("height_mm", lambda values: f"Height, {values['kind']}"),
    )
    view = FormView(form, Units.MM, Stand(300))

    class Other(App[None]):
        def compose(self) -> ComposeResult:
            yield view

    async with Other().run_test() as pilot:
        await pilot.pause()
        assert view.field("height_mm").label == "Height, fixed"
        view.go_to("kind")
        await pilot.press("right")
        assert view.field("height_mm").label == "Height, spiked"
        (owner,) = [choice for choice in view.query(Choice) if choice.id == "owner"]
        assert owner.label == "Whose spiked one"
        view.go_to("owner")
        await pilot.press("left")
        assert view.record == Stand(300, "spiked", owner="spiked")
        # an option that is no longer offered is not chosen any more
        view.go_to("kind")
        await pilot.press("left")
        assert view.record == Stand(300, "fixed", owner="fixed")


LOOK_UP = re.compile(r'query(?:_one)?\(\s*f?"[^"]*",?\s*(\w+)?')
FIELDS = re.compile(r"Field|Choice|Input|\w+Input|\w+Entry")


def test_no_field_is_looked_up_by_its_id_outside_the_forms() -> None:
    app = Path(witnessmark.app.__file__).parent
    files = [file for file in app.rglob("*.py") if file.parent.name != "forms"]
    looked_up = {
        (file.name, match[0])
        for file in files
        for match in LOOK_UP.finditer(file.read_text("utf-8"))
        if match[1] and FIELDS.fullmatch(match[1])
    }
    assert len(files) > 30
    assert looked_up == set()
    # what it would find
    (found,) = LOOK_UP.finditer('self.query_one("#width", LengthInput).value')
    assert FIELDS.fullmatch(found[1])
