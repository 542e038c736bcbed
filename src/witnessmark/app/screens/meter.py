"""The meter, what it is good for, and how close is close enough: the fourth step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.message import Message
from textual.widgets import OptionList, Static

from witnessmark.app.cautions import LASER_CAUTION
from witnessmark.app.commands import bindings_for
from witnessmark.app.screens.step import StepScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.choice import Choice
from witnessmark.app.widgets.length_input import LengthInput, NumberInput
from witnessmark.app.widgets.text_input import AddressInput
from witnessmark.lengths import Units
from witnessmark.meters.port import Found
from witnessmark.model import Held, Meter, Tolerance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult


class MeterScreen(StepScreen):
    """Asks for the meter, how it is held, its errors and the tolerance; lists what is in reach."""

    STEP = Step.METER
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Say how the meter is reached: one from the list, or typed: for a tape and the keyboard. "
        "The other figures fit a common meter."
    )
    DEFAULT_CSS = """
    MeterScreen #found { height: auto; max-height: 8; margin-bottom: 1; }
    """

    @dataclass
    class Reached(Message):
        """The search is over."""

        found: list[Found]

    def __init__(self) -> None:
        super().__init__()
        self.found: list[Found] = []

    def fields(self) -> ComposeResult:
        """Address, error model, tolerance."""
        opening = self.app.opening
        meter, tolerance = opening.draft.meter, opening.draft.tolerance
        yield AddressInput(
            "Meter",
            opening.meter_address,
            hint="serial:PORT, typed: for keyboard or tape, or one from the list.",
            id="address",
        )
        yield Choice(
            "Meter held",
            [(Held.CABINET, "flush on the cabinet"), (Held.WALL, "square to the wall")],
            opening.draft.held,
            hint="Flush on a face it fires along the cabinet; square, it goes from corner to wall.",
            id="held",
        )
        for name, (label, hint) in _ERRORS.items():
            yield LengthInput(
                label,
                getattr(meter, f"{name}_mm"),
                units=Units.TENTH_MM,
                most_mm=1000,
                hint=hint,
                id=name,
            )
        yield NumberInput(
            "Scale",
            meter.scale_ppm,
            unit="ppm",
            least=0,
            most=100_000,
            hint="How far its metre may be off, in millionths; 100 ppm is 0.1 mm in a metre.",
            id="scale",
        )
        yield LengthInput(
            "Position within",
            tolerance.position_mm,
            units=_FINE.get(opening.draft.units, opening.draft.units),
            least_mm=0.1,
            most_mm=1000,
            hint="A cabinet this close to its target, both ways, stands in.",
            id="position",
        )
        yield NumberInput(
            "Toe-in within",
            tolerance.toe_in_deg,
            unit="°",
            least=0.05,
            most=45,
            hint="And turned this close to its target.",
            id="toe-in",
        )

    def aside(self) -> ComposeResult:
        """What can be reached, and the caution about the beam."""
        yield Static("In reach:")
        yield OptionList(id="found", compact=True)
        yield Static(f"! Laser. {LASER_CAUTION}")

    def on_mount(self) -> None:
        """Begin to look for meters."""
        self.action_look()

    def apply(self) -> Sequence[str]:
        """The meter, its address and the tolerance."""
        meter = Meter(
            repeatability_mm=self._length("repeatability"),
            resolution_mm=self._length("resolution"),
            zero_mm=self._length("zero"),
            scale_ppm=self._number("scale"),
        )
        tolerance = Tolerance(self._length("position"), self._number("toe-in"))
        held = Held(self.query_one("#held", Choice).value)
        draft = msgspec.structs.replace(self.app.draft, meter=meter, tolerance=tolerance, held=held)
        address = self.query_one("#address", AddressInput).value
        self.app.opening = msgspec.structs.replace(
            self.app.opening,
            draft=draft,
            meter_address=address or self.app.opening.meter_address,
        )
        return ()

    def action_look(self) -> None:
        """Look for meters, off to the side."""
        self._list([], "looking ...")
        self.run_worker(self._look(), name="look", exclusive=True)

    async def _look(self) -> None:
        self.post_message(self.Reached(await self.app.discover()))

    @on(Reached)
    def _list_found(self, event: Reached) -> None:
        self._list(event.found, "nothing found; Ctrl+R looks again")

    def _list(self, found: list[Found], otherwise: str) -> None:
        self.found = found
        options = self.query_one("#found", OptionList)
        options.clear_options()
        options.add_options([f"{one.address}\n  {one.words}" for one in found] or [otherwise])
        options.disabled = not found
        options.highlighted = 0 if found else None

    @on(OptionList.OptionSelected, "#found")
    def _choose(self, event: OptionList.OptionSelected) -> None:
        self.query_one("#address", AddressInput).put(self.found[event.option_index].address)
        self.take_over()

    def _length(self, name: str) -> float:
        return self.query_one(f"#{name}", LengthInput).value or 0.0

    def _number(self, name: str) -> float:
        return self.query_one(f"#{name}", NumberInput).value or 0.0


_FINE = {Units.MM: Units.TENTH_MM, Units.INCH_16: Units.INCH_32}
_ERRORS = {
    "repeatability": (
        "Repeatability",
        "The spread of the same shot taken again (1 sigma): half of a ± figure that holds at 95 %.",
    ),
    "resolution": ("Resolution", "The smallest step of its display."),
    "zero": (
        "Zero error",
        "How far off all its readings are together (1 sigma); it cancels between left and right.",
    ),
}
