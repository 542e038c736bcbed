"""The cabinets' sizes: the second step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.content import Content

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.cabinets import sizes
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens import make_screen
from witnessmark.app.screens.form import StepScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.bars import clickable
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.cabinet import cabinet_drawing
from witnessmark.model import Cabinet, Pair, Side
from witnessmark.session.cabinet_details import contradictions, is_plain, with_corners_moved

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

_ALIKE, _OWN = "alike", "own"
_MORE = "Tapered, on a plinth or spikes? Ctrl+X."
_PLAIN_BOX = """Seen from above:

   ┌────────────┐ rear
   │            │
   │            │ depth
   │            │
   ╞════════════╡ baffle
       width
"""


class CabinetsScreen(StepScreen):
    """Asks for the size of the cabinets, once for both or once for each."""

    STEP = Step.CABINETS
    BINDINGS = bindings_for(STEP)
    ADVICE = "Measure one cabinet at its foot: later you hold the meter to its four lower corners."
    DEFAULT_CSS = """
    CabinetsScreen #more { margin-top: 1; link-style: none; link-style-hover: underline; }
    CabinetsScreen PlanView { margin-bottom: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._base: Pair[Cabinet] | None = None
        self._alike = Choice(
            "The two cabinets", [(_ALIKE, "alike"), (_OWN, "different")], _ALIKE, id="alike"
        )
        self._sizes: Pair[FormView[Cabinet]]

    def fields(self) -> ComposeResult:
        yield self._alike
        units = self.session.draft.units
        self._sizes = Pair(*(FormView(sizes(side), units, prefix=f"{side}-") for side in Side))
        yield from self._sizes
        yield Plain(clickable(Content(_MORE), "screen.open('cabinet')"), id="more")

    def aside(self) -> ComposeResult:
        yield Plain(_PLAIN_BOX, id="plain")
        for side in Side:
            yield PlanView(id=f"{side}-drawing")

    def on_mount(self) -> None:
        self._begin()

    def _begin(self) -> None:
        """Begin from the cabinets as they are known; changes of their sizes are made to these."""
        self._base = pair = self.session.draft.cabinets
        alike = pair is None or pair.left == pair.right
        self._alike.value = _ALIKE if alike else _OWN
        for side in Side:
            self._sizes[side].put(pair[side] if pair else None)
        self._show_sides()
        self._draw()

    @on(Choice.Changed)
    def _show_sides(self) -> None:
        self._sizes.right.display = self._are_different

    def apply(self) -> Sequence[str]:
        left = self._cabinet(Side.LEFT)
        right = self._cabinet(Side.RIGHT) if self._are_different else left
        self.session.edit(msgspec.structs.replace(self.session.draft, cabinets=Pair(left, right)))
        self._draw()
        units = self.session.draft.units
        if not self._are_different:
            return contradictions(left, units)
        return [
            f"{side} cabinet: {words}"
            for side, cabinet in ((Side.LEFT, left), (Side.RIGHT, right))
            for words in contradictions(cabinet, units)
        ]

    def _draw(self) -> None:
        """Show each cabinet that is more than a plain box, one for both where they are alike."""
        pair = self.session.draft.cabinets
        shown = (
            []
            if pair is None or all(map(is_plain, pair))
            else [side for side in Side if side is Side.LEFT or pair.left != pair.right]
        )
        self.query_one("#plain").display = not shown
        for side in Side:
            view = self.query_one(f"#{side}-drawing", PlanView)
            view.display = side in shown
            if pair is not None and side in shown:
                view.show(cabinet_drawing(pair[side], side))

    def action_open(self, aside: str) -> None:
        if self.open_fields or self.problem:
            self.notify("Enter the sizes first, and correct what is wrong.", severity="warning")
            return
        self.take_over()
        self.app.push_screen(make_screen(Aside(aside)), lambda _: self._come_back())

    def _come_back(self) -> None:
        self._begin()
        self.take_over()

    @property
    def _are_different(self) -> bool:
        return self._alike.value == _OWN

    def _cabinet(self, side: Side) -> Cabinet:
        box = self._sizes[side].record
        return box if self._base is None else with_corners_moved(self._base[side], box)
