"""Where one cabinet is to stand: three fields that belong together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Vertical

from witnessmark.app.forms.field import Field, fields_in
from witnessmark.app.forms.numbers import LengthInput, NumberInput
from witnessmark.model import Placement, Side

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.lengths import Units


class PlacementForm(Vertical):
    """Side, setback and toe-in of one cabinet's target."""

    DEFAULT_CSS = """
    PlacementForm { height: auto; }
    """

    def __init__(self, side: Side, units: Units) -> None:
        """Empty at first; ``side`` says which cabinet."""
        super().__init__(id=f"{side}-placement")
        self.side, self.units = side, units

    def compose(self) -> ComposeResult:
        """The three fields."""
        name = self.side.capitalize()
        yield LengthInput(
            f"{name}, side wall",
            units=self.units,
            hint="To the middle of the baffle's lower front edge, square to the wall.",
            id=f"{self.side}-side",
        )
        yield LengthInput(
            f"{name}, front wall",
            units=self.units,
            hint="To the middle of the baffle's lower front edge.",
            id=f"{self.side}-setback",
        )
        yield NumberInput(
            f"{name}, toe-in",
            unit="°",
            least=-90,
            most=90,
            hint="Positive turns the baffle toward the other cabinet; 0 faces straight ahead.",
            id=f"{self.side}-toe-in",
        )

    @property
    def placement(self) -> Placement | None:
        """What the fields hold; None while one of them needs something."""
        values = [field.value for field in self._fields]
        side, setback, toe_in = values
        if side is None or setback is None or toe_in is None:
            return None
        return Placement(side, setback, toe_in)

    def put(self, placement: Placement) -> None:
        """Show a placement that comes from elsewhere; nobody is told."""
        values = (placement.side_mm, placement.setback_mm, placement.toe_in_deg)
        for field, value in zip(self._fields, values, strict=True):
            field.put(value)

    @property
    def _fields(self) -> list[Field[float]]:
        return fields_in(self)
