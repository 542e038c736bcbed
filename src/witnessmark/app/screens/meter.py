"""The meter, what it is good for, and how close is close enough: the fourth step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import msgspec
from textual import on
from textual.message import Message
from textual.widgets import OptionList, Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.numbers import LengthInput, NumberInput
from witnessmark.app.forms.texts import AddressInput
from witnessmark.app.meter_options import UNITS, profiles_for, takes_unit, with_profile
from witnessmark.app.screens import make_screen
from witnessmark.app.screens.meter_fields import (
    FIGURES,
    SPOTS,
    SWEPT,
    error_fields,
    holding_fields,
    spots_field,
)
from witnessmark.app.screens.step import StepScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.shot_advice import ShotAdvice
from witnessmark.cautions import LASER
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.meters.address import Address
from witnessmark.meters.port import Found
from witnessmark.meters.profiles import load_profile
from witnessmark.model import Edge, Held, Meter, Tolerance, limits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from witnessmark.session.workspace import Workspace

_BY_ITSELF: Final = ""


class MeterScreen(StepScreen):
    """Asks for the meter, how it is held, its errors and the tolerance; lists what is in reach."""

    STEP = Step.METER
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Say how the meter is reached: one from the list, or typed: for a tape and the keyboard. "
        "The other figures fit a common meter."
    )
    DEFAULT_CSS = """
    MeterScreen #found { height: auto; max-height: 8; }
    MeterScreen #unseen { height: auto; margin-bottom: 1; color: $text-warning; }
    MeterScreen #aside { overflow-y: auto; scrollbar-size-vertical: 1; }
    """

    @dataclass
    class Reached(Message):
        """The search is over; ``unseen`` says where it could not look, and why."""

        found: list[Found]
        unseen: list[str]

    def __init__(self) -> None:
        super().__init__()
        self.found: list[Found] = []

    def fields(self) -> ComposeResult:
        """Address and how its bytes are read, how it is held, error model, tolerance."""
        opening = self.app.opening
        meter, tolerance = opening.draft.meter, opening.draft.tolerance
        yield AddressInput(
            "Meter",
            opening.meter_address,
            hint="serial:PORT, ble:ADDRESS, typed: for keyboard or tape, or one from the list.",
            id="address",
        )
        yield Choice(
            "Read by",
            [],
            _BY_ITSELF,
            hint="A profile says how its bytes are a distance. Where none fits, teach one: Ctrl+L.",
            id="profile",
        )
        yield Choice(
            "Bare numbers in",
            [(unit, unit) for unit in UNITS],
            "",
            hint="What it sends or types without a unit is read in this one.",
            id="unit",
        )
        held = SWEPT if opening.draft.sweeps else opening.draft.held
        yield from holding_fields(meter, held, self._fine_units)
        yield spots_field(opening.draft)
        yield from error_fields(meter)
        yield LengthInput(
            "Position within",
            tolerance.position_mm,
            units=self._fine_units,
            limit=limits.POSITION_TOLERANCE,
            hint="A cabinet this close to its target, both ways, stands in.",
            id="position",
        )
        yield NumberInput(
            "Toe-in within",
            tolerance.toe_in_deg,
            limit=limits.TURN_TOLERANCE,
            hint="And turned this close to its target.",
            id="toe-in",
        )

    def aside(self) -> ComposeResult:
        """What can be reached, which shots are needed, and the caution about the beam."""
        yield Static("In reach:")
        yield OptionList(id="found", compact=True)
        yield Static(id="unseen")
        yield ShotAdvice()
        yield Static(f"! Laser. {LASER}")

    @property
    def _fine_units(self) -> Units:
        return self.app.draft.units.finer

    def on_mount(self) -> None:
        """Begin to look for meters."""
        self._offer_options()
        self.query_one(ShotAdvice).ask(self.app.draft.setup)
        self.action_look()

    def apply(self) -> Sequence[str]:
        """The meter, its address and the tolerance."""
        meter = Meter(
            repeatability_mm=self._length("repeatability"),
            resolution_mm=self._length("resolution"),
            zero_mm=self._length("zero"),
            scale_ppm=self._number("scale"),
            flush_deg=self._number("flush"),
            zero_correction_mm=self._length("correction"),
            edge=Edge(self.query_one("#edge", Choice).value),
            edge_offset_mm=self._length("offset"),
        )
        tolerance = Tolerance(
            self._length("position"), self._number("toe-in"), self.app.draft.tolerance.tilt_deg
        )
        held = self.query_one("#held", Choice).value
        draft = msgspec.structs.replace(
            self.app.draft,
            meter=meter,
            tolerance=tolerance,
            held=Held.WALL if held == SWEPT else Held(held),
            sweeps=held == SWEPT,
            spot_shots=self.query_one("#spots", Choice).value == SPOTS,
        )
        self.session.workspace = msgspec.structs.replace(
            self.app.opening, draft=draft, meter_address=self._address.text
        )
        self.query_one(ShotAdvice).ask(draft.setup)
        return _complaints(self._address)

    @property
    def _address(self) -> Address:
        value = self.query_one("#address", AddressInput).value
        return Address.parse(value or self.app.opening.meter_address)

    def _put_address(self, address: str) -> None:
        self.query_one("#address", AddressInput).put(address)
        self._offer_options()

    @on(Field.Changed, "#address")
    def _offer_options(self) -> None:
        """Offer the profiles and the units that go with the address."""
        address = self._address
        names, profile = profiles_for(address).names, self.query_one("#profile", Choice)
        chosen = address.options.get("profile", _BY_ITSELF)
        offered = dict.fromkeys((_BY_ITSELF, *names, chosen))
        profile.offer([(name, name or "itself") for name in offered], chosen)
        profile.display = bool(names or chosen)
        unit = self.query_one("#unit", Choice)
        unit.value = address.options.get("unit", "mm")
        unit.display = takes_unit(address)

    @on(Choice.Changed, "#profile")
    def _choose_profile(self, event: Choice.Changed) -> None:
        self._put_address(with_profile(self._address, event.value).text)

    @on(Choice.Changed, "#unit")
    def _choose_unit(self, event: Choice.Changed) -> None:
        self._put_address(self._address.with_options(unit=event.value).text)

    def action_open(self, aside: str) -> None:
        """Open the screen for something with the meter, and show then what it changed."""
        if self.open_fields or self.problem:
            self.notify("Put right first what is missing or wrong here.", severity="warning")
            return
        before = self.app.opening
        self.app.push_screen(make_screen(Aside(aside)), lambda _: self._show_changes(before))

    def _show_changes(self, before: Workspace) -> None:
        meter, was = self.app.draft.meter, before.draft.meter
        for name, field in FIGURES.items():
            if getattr(meter, field) != getattr(was, field):
                self.query_one(f"#{name}", LengthInput).put(getattr(meter, field))
        if self.app.opening.meter_address != before.meter_address:
            self._put_address(self.app.opening.meter_address)
        self.take_over()

    def action_look(self) -> None:
        """Look for meters, off to the side."""
        self._list([], "looking ...")
        self._tell_unseen([])
        self.run_worker(self._look(), name="look", exclusive=True)

    async def _look(self) -> None:
        unseen: list[str] = []
        found = await self.app.discover(unseen.append)
        self.post_message(self.Reached(found, unseen))

    @on(Reached)
    def _list_found(self, event: Reached) -> None:
        self._list(event.found, "nothing found; Ctrl+R looks again")
        self._tell_unseen(event.unseen)

    def _tell_unseen(self, unseen: list[str]) -> None:
        told = self.query_one("#unseen", Static)
        told.update("\n".join(f"! {words}" for words in unseen))
        told.display = bool(unseen)

    def _list(self, found: list[Found], otherwise: str) -> None:
        self.found = found
        options = self.query_one("#found", OptionList)
        options.clear_options()
        options.add_options([f"{one.address}\n  {one.words}" for one in found] or [otherwise])
        options.disabled = not found
        options.highlighted = 0 if found else None

    @on(OptionList.OptionSelected, "#found")
    def _choose(self, event: OptionList.OptionSelected) -> None:
        self._put_address(self.found[event.option_index].address)
        self.take_over()

    def _length(self, name: str) -> float:
        return self.query_one(f"#{name}", LengthInput).value or 0.0

    def _number(self, name: str) -> float:
        return self.query_one(f"#{name}", NumberInput).value or 0.0


def _complaints(address: Address) -> list[str]:
    """What is wrong with the profiles from which one may be chosen, and with the one that is."""
    names, complaints = profiles_for(address)
    name = address.options.get("profile")
    if name is not None and name not in names and not complaints:
        try:
            load_profile(name)
        except BadInput as error:
            return [str(error)]
        return [f"profile {name} is not for such a meter"]
    return list(complaints)
