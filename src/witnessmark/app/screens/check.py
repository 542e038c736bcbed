"""Checking a meter: its maker's figure, its zero error from three marks, how well it repeats."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.meter import CHECK, Check
from witnessmark.app.forms.numbers import LengthEntry
from witnessmark.app.screens.form import MeasuringScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import BadInput
from witnessmark.lengths import Units, format_length
from witnessmark.meters.check import SEGMENTS, CheckKind, next_segment
from witnessmark.model import Reading
from witnessmark.session.meter_check import (
    CheckResult,
    from_figure,
    from_one_distance,
    from_three_marks,
)
from witnessmark.words.meter_check import asked_words, figures, how_to_check, refused_words

if TYPE_CHECKING:
    from textual.app import ComposeResult


class CheckScreen(MeasuringScreen):
    """Screen for checking a meter: maker's figure, three marks, or repeatability."""

    STEP = Aside.CHECK
    BINDINGS = bindings_for(STEP)
    ADVICE = "Find out how good this meter is. The figures you use replace those on the right."
    DEFAULT_CSS = """
    CheckScreen {
        #ask, #taken, #found { height: auto; margin-top: 1; }
        #ask { text-style: bold; color: $accent; }
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self.readings_mm: dict[CheckKind, tuple[float, ...]] = {
            CheckKind.THREE_MARKS: (),
            CheckKind.FIVE_SHOTS: (),
        }
        self.finding: CheckResult | None = None
        self._check: FormView[Check]
        self._reading: LengthEntry

    @property
    def _units(self) -> Units:
        return self.session.draft.units.finer

    def fields(self) -> ComposeResult:
        self._check = FormView(CHECK, self.session.draft.units)
        self._reading = self.reading_entry(self._units)
        yield self._check
        yield Plain(id="ask")
        yield self._reading
        yield Plain(id="taken")
        yield Plain(id="found")

    def aside(self) -> ComposeResult:
        yield Plain(id="figures")
        yield Plain(id="how")

    def on_mount(self) -> None:
        # five shots come first: the other check is only as good as what they find
        self._reading.focus()
        self._show()

    @property
    def what(self) -> CheckKind:
        """Which check is under way."""
        return CheckKind(self._check.values["what"])

    def typed(self, distance_mm: float, text: str) -> Reading:
        """Return what was typed as the meter's own: no tape is checked here."""
        meter, at = self.session.workspace.meter_address, self.session.clock()
        return Reading(distance_mm, at, meter, text.encode())

    def take(self, reading: Reading) -> None:
        taken = self.readings_mm.get(self.what)
        if taken is None or (self.what is CheckKind.THREE_MARKS and not next_segment(taken)):
            self.tell("That reading is in the journal but not used here.")
            return
        self.readings_mm[self.what] = (*taken, reading.distance_mm)
        self.tell("")
        self._show()

    def action_take_back(self) -> None:
        self.readings_mm[self.what] = self.readings_mm[self.what][:-1]
        self.tell("")
        self._show()

    def action_use(self) -> None:
        if self.finding is None or self.finding.meter is None:
            return
        self.session.edit(msgspec.structs.replace(self.session.draft, meter=self.finding.meter))
        if self.what in self.readings_mm:
            self.readings_mm[self.what] = ()
        else:
            self._check.fill(figure_mm=None)
        self._show()
        self.tell("The figures on the right are used from now on.")

    @on(FormView.Changed)
    def _show(self) -> None:
        what = self.what
        self._reading.display = what is not CheckKind.MAKERS
        meter = self.session.draft.meter
        self.query_one("#how", Static).update(how_to_check(what, meter.edge))
        self.query_one("#figures", Static).update(figures(meter, self._units))
        asked = asked_words(what, self.readings_mm.get(what, ()))
        self.query_one("#ask", Static).update(asked)
        self.query_one("#taken", Static).update("\n".join(self._taken()))
        self._find()
        self.refresh_bindings()

    def _find(self) -> None:
        try:
            self.finding, words = self._found(), ""
        except BadInput as error:
            self.finding, words = None, refused_words(error)
        if self.finding:
            use = "\nPress Ctrl+S to use it." if self.finding.meter else ""
            words = f"{self.finding.words}{use}"
        self.query_one("#found", Static).update(words)

    def _found(self) -> CheckResult | None:
        meter = self.session.draft.meter
        if self.what is CheckKind.THREE_MARKS:
            return from_three_marks(meter, self.readings_mm[CheckKind.THREE_MARKS], self._units)
        if self.what is CheckKind.FIVE_SHOTS:
            return from_one_distance(meter, self.readings_mm[CheckKind.FIVE_SHOTS], self._units)
        figure, meaning = self._check.values["figure_mm"], self._check.values["meaning"]
        return None if figure is None else from_figure(meter, figure, meaning, self._units)

    def _taken(self) -> list[str]:
        names = ["".join(segment) for segment in SEGMENTS]
        return [
            f"{names[place % len(names)] if self.what is CheckKind.THREE_MARKS else place + 1}  "
            f"{format_length(reading, self._units)}"
            for place, reading in enumerate(self.readings_mm.get(self.what, ()))
        ]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "use":
            return self.finding is not None and self.finding.meter is not None
        if action == "take_back":
            return bool(self.readings_mm.get(self.what))
        return super().check_action(action, parameters)
