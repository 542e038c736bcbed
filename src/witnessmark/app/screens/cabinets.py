"""The cabinets' sizes: the second step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.widgets import Static

from witnessmark.app.cautions import MOVING_CAUTION
from witnessmark.app.commands import bindings_for
from witnessmark.app.screens.step import StepScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.choice import Choice
from witnessmark.app.widgets.length_input import LengthInput
from witnessmark.errors import BadInput
from witnessmark.model import Cabinet, Pair, Side

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

_ALIKE, _OWN = "alike", "own"
_SIZES = {
    "width": ("width", 20, 3000, "Across the baffle's lower front edge."),
    "depth": ("depth", 20, 3000, "From the baffle to the rear face, without plugs."),
    "height": (
        "acoustic height",
        50,
        3000,
        "Floor to the point that your ears should be level with, often the tweeter.",
    ),
}


class CabinetsScreen(StepScreen):
    """Asks for the size of the cabinets, once for both or once for each."""

    STEP = Step.CABINETS
    BINDINGS = bindings_for(STEP)
    ADVICE = "Measure one cabinet at its foot. The four lower corners are where the meter is held."

    def fields(self) -> ComposeResult:
        """Alike or not, then the sizes."""
        pair = self.app.draft.cabinets
        alike = pair is None or pair.left == pair.right
        yield Choice(
            "The two cabinets",
            [(_ALIKE, "alike"), (_OWN, "different")],
            _ALIKE if alike else _OWN,
            id="alike",
        )
        for side in Side:
            yield from self._sizes(side, pair[side] if pair else None)

    def aside(self) -> ComposeResult:
        """What the words mean, and a caution."""
        yield Static(
            "Seen from above:\n\n"
            "   ┌────────────┐ rear\n"
            "   │            │\n"
            "   │            │ depth\n"
            "   │            │\n"
            "   ╞════════════╡ baffle\n"
            "       width\n"
        )
        yield Static(f"! {MOVING_CAUTION}")

    def on_mount(self) -> None:
        """Show the fields of the right cabinet where it has its own."""
        self._show_sides()

    @on(Choice.Changed, "#alike")
    def _show_sides(self) -> None:
        own = self._are_different
        for name in _SIZES:
            self._length(Side.RIGHT, name).display = own

    def apply(self) -> Sequence[str]:
        """The pair of cabinets; points and feet of their own stay as they are."""
        left = self._cabinet(Side.LEFT, Side.LEFT)
        right = self._cabinet(Side.RIGHT, Side.RIGHT if self._are_different else Side.LEFT)
        self.app.edit(msgspec.structs.replace(self.app.draft, cabinets=Pair(left, right)))
        return ()

    @property
    def _are_different(self) -> bool:
        return self.query_one("#alike", Choice).value == _OWN

    def _sizes(self, side: Side, cabinet: Cabinet | None) -> ComposeResult:
        values = (
            (cabinet.width_mm, cabinet.depth_mm, cabinet.acoustic_height_mm)
            if cabinet
            else (None, None, None)
        )
        for (name, (words, least, most, hint)), value in zip(_SIZES.items(), values, strict=True):
            yield LengthInput(
                words.capitalize() if side is Side.LEFT else f"Right {words}",
                value,
                units=self.app.draft.units,
                least_mm=least,
                most_mm=most,
                optional=name == "height",
                hint=hint,
                id=f"{side}-{name}",
            )

    def _cabinet(self, side: Side, shown_as: Side) -> Cabinet:
        width, depth, height = (self._length(shown_as, name).value for name in _SIZES)
        if width is None or depth is None:
            raise BadInput("cabinet: width and depth are needed")
        known = self.app.draft.cabinets
        if known is None:
            return Cabinet(width, depth, height)
        return msgspec.structs.replace(
            known[side], width_mm=width, depth_mm=depth, acoustic_height_mm=height
        )

    def _length(self, side: Side, name: str) -> LengthInput:
        return self.query_one(f"#{side}-{name}", LengthInput)
