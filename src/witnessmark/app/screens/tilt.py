"""Tilt of a cabinet: two distances one above the other, or an angle, and what to turn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import msgspec
from textual import on
from textual.content import Content
from textual.widgets import Input, Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.numbers import LengthEntry, LengthInput, NumberEntry, NumberInput
from witnessmark.app.screens.measuring import MeasuringScreen
from witnessmark.app.steps import Aside
from witnessmark.app.tilt_words import tilt_lines
from witnessmark.errors import BadInput
from witnessmark.lengths import Units, format_length
from witnessmark.locate.tilt import tilt_of
from witnessmark.model import (
    AngleReading,
    Held,
    Leaned,
    Pair,
    Placement,
    PlumbReadings,
    Reading,
    Setup,
    Side,
    Tilt,
    TiltReadings,
    limits,
)
from witnessmark.placing.guidance import guide, tilt_status
from witnessmark.placing.holding import edge_words
from witnessmark.session.by_keyboard import keyboard_unit, typed_reading

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult

    from witnessmark.placing.round import Round

_PLUMB, _BAFFLE, _REAR, _ANGLE = "plumb", "baffle", "rear", "angle"
_WAYS: Final = {
    _PLUMB: "plumb line to baffle",
    _BAFFLE: "baffle to wall",
    _REAR: "rear to wall",
    _ANGLE: "an angle",
}
_HOW: Final = {
    _PLUMB: "Hang a plumb line right before the baffle, where nobody runs into it. Hold {edge} to "
    "it, level and square to the baffle: first low, then so much higher.",
    _BAFFLE: "Hold {edge} flush on the baffle, firing ahead at an upright wall: first low, then so "
    "much higher on the baffle.",
    _REAR: "Hold {edge} flush on the rear face, firing at an upright wall behind: first low, then "
    "so much higher. The rear must be parallel to the baffle.",
    _ANGLE: "Lay the instrument upright on the baffle and type what it shows, and Enter. Leaning "
    "back is above 0. One that counts from the level shows 90° there: type what is over 90.",
}
WALL_UPRIGHT_DEG = 0.2
"""Standard uncertainty of a wall's uprightness; common practice, no source."""


class TiltScreen(MeasuringScreen):
    """Takes the tilt of one cabinet after the other, and tells how to bring it to its target."""

    STEP = Aside.TILT
    BINDINGS = bindings_for(STEP)
    ADVICE = "How far does each baffle lean back? Two distances tell, one above the other."
    DEFAULT_CSS = """
    TiltScreen #ask { height: auto; margin: 1 0; text-style: bold; color: $accent; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.low_mm: float | None = None
        self.tilts: Pair[Tilt | None] = Pair(None, None)

    @property
    def _units(self) -> Units:
        return self.app.draft.units.finer

    def fields(self) -> ComposeResult:
        """Which cabinet, how it is taken, the readings, the targets."""
        yield Choice("Cabinet", [(side, side) for side in Side], self._first, id="side")
        yield Choice("Taken from", list(_WAYS.items()), _PLUMB, id="way")
        yield LengthInput(
            "Apart",
            800.0,
            units=self._units,
            limit=limits.TILT_APART,
            hint="From the lower place up to the higher one.",
            id="apart",
        )
        yield Static(id="ask")
        yield LengthEntry(
            "Or type it",
            units=self._units,
            bare_unit=keyboard_unit(self.app.opening.meter_address),
            hint="What the meter shows, and Enter.",
            id="reading",
        )
        yield NumberEntry("Angle", limit=limits.TILT_SHOWN, hint="And Enter.", id="angle")
        for side in Side:
            yield self._target(side)
        yield NumberInput(
            "Tilt within",
            self.setup.tolerance.tilt_deg,
            limit=limits.TURN_TOLERANCE,
            id="tolerance",
        )

    @property
    def _first(self) -> Side:
        """The cabinet that is being worked on."""
        state = self.session.round
        return Side.LEFT if state is None else state.side

    def _target(self, side: Side) -> NumberInput:
        return NumberInput(
            f"{side.capitalize()} target",
            self.setup.tilt_targets_deg[side],
            limit=limits.TILT_TARGET,
            optional=True,
            hint="How far it should lean back. Empty: it is measured only.",
            id=f"{side}-target",
        )

    def aside(self) -> ComposeResult:
        """What is known of both cabinets, and how it is measured."""
        yield Static(id="known")
        yield Static(id="how")

    def on_mount(self) -> None:
        """Begin with the lower distance."""
        if self.session.round is not None:
            self.tilts = self.session.round.tilts
        self.query_one("#reading", LengthEntry).query_one(Input).focus()
        self._show()

    @on(LengthEntry.Entered, "#reading")
    def _type(self, event: LengthEntry.Entered) -> None:
        address, at = self.app.opening.meter_address, self.session.clock()
        self.record(typed_reading(event.value, event.text, at, address))

    def take(self, reading: Reading) -> None:
        """Take the lower distance, or the higher one and with it the tilt."""
        apart_mm = self.query_one("#apart", LengthInput).value
        if self._way == _ANGLE or apart_mm is None:
            self.tell("That reading is in the journal, and not used here.")
            return
        self.tell("")
        distance_mm = reading.from_the_edge_mm(self.app.draft.meter)
        if self.low_mm is None:
            self.low_mm = distance_mm
        else:
            low_mm, self.low_mm = self.low_mm, None
            self._lean(lambda: self._plumb(low_mm, distance_mm, apart_mm))
        self._show()

    def _plumb(self, low_mm: float, high_mm: float, apart_mm: float) -> PlumbReadings:
        is_plumb = self._way == _PLUMB
        return PlumbReadings(
            low_mm,
            high_mm,
            apart_mm,
            held=Held.WALL if is_plumb else Held.CABINET,
            behind=self._way == _REAR,
            upright_deg=0.0 if is_plumb else WALL_UPRIGHT_DEG,
        )

    @on(NumberEntry.Entered, "#angle")
    def _take_angle(self, event: NumberEntry.Entered) -> None:
        self._lean(lambda: AngleReading(event.value))

    def _lean(self, made: Callable[[], TiltReadings]) -> None:
        """Take a tilt that makes sense; the round journals it and takes it in."""
        try:
            readings = made()
            tilt = tilt_of(readings, self.setup)
        except BadInput as error:
            self.tell(f"✗ {error}", wrong=True)
            return
        self.tilts = self.tilts.replacing(self._side, tilt)
        self.run_worker(self.session.record(Leaned(self._side, readings, self.session.clock())))
        self._show()

    @on(Field.Changed, "#left-target")
    @on(Field.Changed, "#right-target")
    @on(Field.Changed, "#tolerance")
    def _take_over(self) -> None:
        """Give the app the targets and the tolerance, where they make sense."""
        fields = [self.query_one(f"#{side}-target", NumberInput) for side in Side]
        within = self.query_one("#tolerance", NumberInput)
        if not all(field.is_settled for field in (*fields, within)) or within.value is None:
            return
        draft = self.app.draft
        tolerance = msgspec.structs.replace(draft.tolerance, tilt_deg=within.value)
        targets = Pair(*(field.value for field in fields))
        aimed = draft.aimed_at(draft.targets, targets)
        self.app.edit(msgspec.structs.replace(aimed, tolerance=tolerance))
        self._show()

    @on(Choice.Changed)
    def _change(self) -> None:
        self.low_mm = None
        self._show()

    def _show(self) -> None:
        way = self._way
        for name in ("apart", "reading"):
            self.query_one(f"#{name}").display = way != _ANGLE
        self.query_one("#angle").display = way == _ANGLE
        edge = edge_words(self.app.draft.meter.edge)
        self.query_one("#how", Static).update(_HOW[way].format(edge=edge))
        self.query_one("#ask", Static).update(self._asked())
        self.query_one("#known", Static).update(self._known())

    def _asked(self) -> str:
        """The one thing to do now."""
        if self._way == _ANGLE:
            return f"{self._side.capitalize()} cabinet: type the angle."
        if self.low_mm is None:
            return f"{self._side.capitalize()} cabinet, low: press the meter's button."
        low = format_length(self.low_mm, self._units)
        return f"{self._side.capitalize()} cabinet, high (low was {low}): press it again."

    def _known(self) -> Content:
        setup, state = self.setup, self.session.round
        standing = Pair(*(_standing(setup, state, side) for side in Side))
        statuses = Pair(
            *(tilt_status(setup, side, self.tilts[side], standing[side]) for side in Side)
        )
        return tilt_lines(setup, self.tilts, statuses)

    @property
    def _side(self) -> Side:
        return Side(self.query_one("#side", Choice).value)

    @property
    def _way(self) -> str:
        return str(self.query_one("#way", Choice).value)


def _standing(setup: Setup, state: Round | None, side: Side) -> Placement | None:
    """Where a cabinet stands as far as it is known, else where it is to stand."""
    appraisal = None if state is None else guide(state).cabinets[side].appraisal
    return setup.targets[side] if appraisal is None else appraisal.measured
