"""Fields say under themselves what is wrong or worth knowing, and lose no digit of a length."""

from __future__ import annotations

from collections.abc import AsyncGenerator

import pytest
from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.widgets import Input, Static

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.numbers import LengthEntry, LengthInput, NumberInput
from witnessmark.app.forms.texts import AddressInput, RoomNameInput, TextInput
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.model.limits import Limit

WIDTH_MM = 5360.37


class Form(App[None]):
    """A length, a number, an address and two choices, and what they tell."""

    def __init__(self) -> None:
        super().__init__()
        self.heard: list[object] = []

    def compose(self) -> ComposeResult:
        yield LengthInput(
            "Width", WIDTH_MM, units=Units.MM, limit=Limit(500, 9000), hint="wall to wall"
        )
        yield NumberInput("Toe-in", 8.0, limit=Limit(-90, 90, "°"))
        yield AddressInput("Meter", optional=True)
        yield Choice("Corners", [("square", "square"), ("skew", "not square")], "square", id="few")
        yield Choice("Station", [(str(n), f"station {n}") for n in range(20)], "0", id="many")

    def on_field_changed(self, event: Field.Changed) -> None:
        self.heard.append(event.field.value)

    def on_choice_changed(self, event: Choice.Changed) -> None:
        self.heard.append(event.value)

    @property
    def width(self) -> LengthInput:
        return self.query_one(LengthInput)

    @property
    def toe_in(self) -> NumberInput:
        return self.query_one(NumberInput)


@pytest.fixture
async def pilot() -> AsyncGenerator[Pilot[None], None]:
    async with Form().run_test(size=(60, 24)) as pilot:
        await pilot.pause()
        yield pilot


@pytest.fixture
def form(pilot: Pilot[None]) -> Form:
    assert isinstance(pilot.app, Form)
    return pilot.app


async def put(pilot: Pilot[None], field: Field[float], text: str) -> None:
    field.query_one(Input).value = text
    await pilot.pause()


def under(field: Field[float]) -> str:
    line = field.query_one(".field--under", Static)
    return str(line.content) if line.display else ""


@pytest.mark.parametrize(
    ("text", "mm"),
    [("5.36 m", 5360.0), ("5360", 5360.0), ("17' 7 1/16\"", 5360.9875), ("17,6 ft", 5364.48)],
)
async def test_a_length_is_read_however_it_is_written(
    pilot: Pilot[None], form: Form, text: str, mm: float
) -> None:
    await put(pilot, form.width, text)
    assert form.width.value == pytest.approx(mm, abs=1e-9)
    assert form.width.problem is None
    assert form.heard == [form.width.value]


async def test_what_is_wrong_is_told_right_under_the_field(pilot: Pilot[None], form: Form) -> None:
    await put(pilot, form.width, "12 ells")
    assert form.width.value is None
    assert under(form.width).startswith('✗ "12 ells" is not a length: ells is not a unit')
    assert form.heard == [None]
    await put(pilot, form.width, "5 m")
    assert not under(form.width).startswith("✗")


async def test_decimal_feet_are_taken_with_a_note(pilot: Pilot[None], form: Form) -> None:
    await put(pilot, form.width, "12.6 ft")
    assert form.width.value == pytest.approx(12.6 * 304.8)
    assert under(form.width).startswith("! 12.6 ft was read as decimal feet")


async def test_a_number_that_is_likely_in_metres_is_asked_back_and_enter_says_yes(
    pilot: Pilot[None], form: Form
) -> None:
    form.width.query_one(Input).focus()
    await put(pilot, form.width, "5.43")
    assert form.width.value is None
    assert under(form.width) == "✗ 5.43 m? Press Enter, or write 5.43 mm"
    await pilot.press("enter")
    assert form.width.value == 5430
    assert form.width.has_focus_within
    # twelve thousand millimetres are no width here, so that is not what was meant
    await put(pilot, form.width, "12,5")
    assert "must lie between" in under(form.width)


def test_a_reading_that_is_typed_is_asked_back_where_bare_numbers_are_millimetres() -> None:
    for unit in (None, "mm"):
        with pytest.raises(BadInput, match=r"5\.43 m\? Press Enter"):
            LengthEntry("Or type it", units=Units.MM, bare_unit=unit).read("5.43")
    assert LengthEntry("Or type it", units=Units.MM, bare_unit="m").read("5.43")[0] == 5430


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("/dev/ttyUSB0", "serial:PORT"),
        ("seriel:COM3", 'no "seriel:" here'),
        ("serial:", "no port given"),
        ("serial:COM3?speed=9600", 'no option "speed" here'),
        ("typed:COM3", "nothing after it"),
    ],
)
async def test_an_address_is_checked_when_it_is_typed(
    pilot: Pilot[None], form: Form, text: str, words: str
) -> None:
    address = form.query_one(AddressInput)
    address.query_one(Input).value = text
    await pilot.pause()
    assert words in str(address.problem)
    address.query_one(Input).value = "serial:COM3?baud=9600"
    await pilot.pause()
    assert address.value == "serial:COM3?baud=9600"


@pytest.mark.parametrize("text", ["499", "9001"])
async def test_a_length_that_cannot_be_is_refused(
    pilot: Pilot[None], form: Form, text: str
) -> None:
    await put(pilot, form.width, text)
    assert under(form.width) == f"✗ {text} mm must lie between 500 mm and 9000 mm"


async def test_an_empty_field_is_not_scolded_before_somebody_goes_on(
    pilot: Pilot[None], form: Form
) -> None:
    await put(pilot, form.width, "")
    assert not form.width.is_settled
    assert "✗" not in under(form.width)
    form.width.complain()
    assert under(form.width) == "✗ needed"


async def test_a_field_that_may_stay_empty_is_settled(form: Form) -> None:
    address = form.query_one(AddressInput)
    assert address.value is None
    assert address.is_settled


async def test_the_hint_is_there_while_the_cursor_is(pilot: Pilot[None], form: Form) -> None:
    form.width.query_one(Input).focus()
    await pilot.pause()
    assert under(form.width) == "wall to wall"
    await pilot.press("enter")
    assert form.toe_in.has_focus_within
    assert under(form.width) == ""


async def test_a_given_length_keeps_its_digits_until_it_is_changed(
    pilot: Pilot[None], form: Form
) -> None:
    assert form.width.query_one(Input).value == "5360 mm"
    assert form.width.value == WIDTH_MM
    await put(pilot, form.width, "5360 mmm")
    await put(pilot, form.width, "5360 mm")
    assert form.width.value == WIDTH_MM
    await put(pilot, form.width, "5361 mm")
    assert form.width.value == 5361


async def test_other_units_show_the_same_length(pilot: Pilot[None], form: Form) -> None:
    form.width.show_in(Units.INCH_32)
    await pilot.pause()
    assert form.width.query_one(Input).value == "17' 7 1/32\""
    assert form.width.value == WIDTH_MM
    assert form.heard == []


async def test_other_units_leave_alone_what_cannot_be_read(pilot: Pilot[None], form: Form) -> None:
    await put(pilot, form.width, "5 mn")
    form.width.show_in(Units.INCH_32)
    await pilot.pause()
    assert form.width.query_one(Input).value == "5 mn"
    assert form.width.problem is not None


@pytest.mark.parametrize(
    ("text", "degrees"), [("-2.5°", -2.5), ("−2,5", -2.5), ("8", 8.0), ("7.25 °", 7.25)]
)
async def test_degrees_are_read(pilot: Pilot[None], form: Form, text: str, degrees: float) -> None:
    await put(pilot, form.toe_in, text)
    assert form.toe_in.value == degrees


@pytest.mark.parametrize("text", ["a lot", "nan", "inf", "91", "1,2,3"])
async def test_numbers_that_make_no_sense_are_refused(
    pilot: Pilot[None], form: Form, text: str
) -> None:
    await put(pilot, form.toe_in, text)
    assert form.toe_in.value is None
    assert under(form.toe_in).startswith("✗")


async def test_a_choice_goes_round_with_the_arrow_keys(pilot: Pilot[None], form: Form) -> None:
    few = form.query_one("#few", Choice)
    few.focus()
    await pilot.press("right")
    assert few.value == "skew"
    await pilot.press("right", "left")
    assert few.value == "skew"
    assert form.heard == ["skew", "square", "skew"]


async def test_enter_leaves_the_option_as_it_is_and_goes_on(pilot: Pilot[None], form: Form) -> None:
    form.query_one("#few", Choice).focus()
    await pilot.press("enter")
    assert form.query_one("#many", Choice).has_focus
    assert form.heard == []


async def test_the_chosen_option_is_told_without_colour(form: Form) -> None:
    assert (
        form.query_one("#few", Choice).render().plain == "Corners           ● square  ○ not square"
    )
    many = form.query_one("#many", Choice)
    assert many.render().plain == "Station           ‹ station 0 › 1/20"


async def test_an_offer_exchanges_the_options_and_tells_nobody(
    pilot: Pilot[None], form: Form
) -> None:
    many = form.query_one("#many", Choice)
    many.offer([("a", "first"), ("b", "second")], "")
    await pilot.pause()
    assert form.heard == []
    many.focus()
    await pilot.press("right")
    assert many.value == "a"
    many.offer([("a", "first"), ("b", "second")], "")
    await pilot.press("left")
    assert many.value == "b"


async def test_a_click_chooses(pilot: Pilot[None], form: Form) -> None:
    assert await pilot.click("#few", offset=(30, 0))
    assert form.query_one("#few", Choice).value == "skew"


async def test_enter_on_a_choice_goes_on_to_the_next_field(pilot: Pilot[None], form: Form) -> None:
    form.query_one("#few", Choice).focus()
    await pilot.press("enter")
    assert form.query_one("#many", Choice).has_focus


@pytest.mark.parametrize(("field", "most"), [(TextInput, 10_000), (RoomNameInput, 200)])
def test_a_text_is_as_long_as_may_be_imported_again(field: type[TextInput], most: int) -> None:
    reading = field("Name")._reading
    assert reading("x" * most) == ("x" * most, None, None)
    told = f"these are {most + 1} signs; write at most {most}"
    assert reading("x" * (most + 1)) == (None, None, told)


async def test_the_arrows_go_from_row_to_row(pilot: Pilot[None], form: Form) -> None:
    """Fields and choices alike, down through all of them and up again."""
    rows = [*form.query("Field, Choice")]
    form.width.focus()

    async def at() -> int:
        await pilot.pause()
        return next(place for place, row in enumerate(rows) if row.has_focus_within)

    places = [await at()]
    for key in ["down"] * 4 + ["up"] * 4:
        await pilot.press(key)
        places.append(await at())
    assert places == [0, 1, 2, 3, 4, 3, 2, 1, 0]
