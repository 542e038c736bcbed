"""Tilt of a cabinet: two distances one above the other, or an angle, and what to turn."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import msgspec
from textual import on
from textual.content import Content
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.cabinets import (
    ANGLE,
    BAFFLE,
    PLUMB,
    REAR,
    TAKING,
    TARGETS,
    Taking,
    TiltTargets,
)
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.numbers import LengthEntry, NumberEntry
from witnessmark.app.screens.form import MeasuringScreen
from witnessmark.app.status import said
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.locate.tilt import tilt_of, tilt_symmetry
from witnessmark.model import (
    AngleReading,
    Held,
    Pair,
    Placement,
    PlumbReadings,
    Reading,
    Setup,
    Side,
    Tilt,
    TiltReadings,
    TiltTaken,
)
from witnessmark.model.limits import TILT_SHOWN
from witnessmark.placing.guidance import TiltStatus, tilt_status
from witnessmark.sentences import sentence
from witnessmark.words.holding import edge_words
from witnessmark.words.tilt import (
    HELD_ON_BAFFLE,
    HELD_ON_REAR,
    HELD_TO_PLUMB_LINE,
    UPRIGHT_ON_BAFFLE,
    measure_words,
    tilt_symmetry_words,
    tilt_words,
    type_angle_words,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult

    from witnessmark.placing.guidance import Guidance


_HOW: Final = {
    PLUMB: HELD_TO_PLUMB_LINE,
    BAFFLE: HELD_ON_BAFFLE,
    REAR: HELD_ON_REAR,
    ANGLE: UPRIGHT_ON_BAFFLE,
}
WALL_UPRIGHT_DEG = 0.2
"""Standard uncertainty of a wall's uprightness; common practice, no source."""


class TiltScreen(MeasuringScreen):
    """Takes the tilt of one cabinet after the other, and tells how to bring it to its target."""

    STEP = Aside.TILT
    BINDINGS = bindings_for(STEP)
    ADVICE = "How far does each baffle lean back? Measure two distances, one above the other."
    DEFAULT_CSS = """
    TiltScreen #ask { height: auto; margin: 1 0; text-style: bold; color: $accent; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.low_mm: float | None = None
        self.tilts: Pair[Tilt | None] = Pair(None, None)
        self._angle = NumberEntry("Angle", limit=TILT_SHOWN, hint="Then press Enter.", id="angle")
        self._taking: FormView[Taking]
        self._reading: LengthEntry
        self._aim: FormView[TiltTargets]

    @property
    def _units(self) -> Units:
        return self.session.draft.units.finer

    def fields(self) -> ComposeResult:
        units, setup = self.session.draft.units, self.setup
        self._taking = FormView(TAKING, units, Taking(self._first))
        self._reading = self.reading_entry(self._units)
        lean = setup.tilt_targets_deg
        aim = TiltTargets(lean.left, lean.right, setup.tolerance.tilt_deg)
        self._aim = FormView(TARGETS, units, aim)
        yield self._taking
        yield Plain(id="ask")
        yield self._reading
        yield self._angle
        yield self._aim

    @property
    def _first(self) -> Side:
        """The cabinet that is being worked on."""
        state = self.session.round
        return Side.LEFT if state is None else state.side

    def aside(self) -> ComposeResult:
        yield Plain(id="known")
        yield Plain(id="how")

    def on_mount(self) -> None:
        if self.session.round is not None:
            self.tilts = self.session.round.tilts
        self._reading.focus()
        self._show()

    def take(self, reading: Reading) -> None:
        apart_mm = self._taking.values["apart_mm"]
        if self._way == ANGLE or apart_mm is None:
            self.tell("That reading is in the journal but not used here.")
            return
        self.tell("")
        distance_mm = reading.from_the_edge_mm(self.session.draft.meter)
        if self.low_mm is None:
            self.low_mm = distance_mm
        else:
            low_mm, self.low_mm = self.low_mm, None
            self._lean(lambda: self._plumb(low_mm, distance_mm, apart_mm))
        self._show()

    def _plumb(self, low_mm: float, high_mm: float, apart_mm: float) -> PlumbReadings:
        is_plumb = self._way == PLUMB
        return PlumbReadings(
            low_mm,
            high_mm,
            apart_mm,
            held=Held.WALL if is_plumb else Held.CABINET,
            behind=self._way == REAR,
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
        self.run_worker(self.session.record(TiltTaken(self._side, readings, self.session.clock())))
        self._show()

    @on(FormView.Changed)
    def _change(self, event: FormView.Changed) -> None:
        if event.form is self._aim:
            self._take_over()
        elif event.name != "apart_mm":
            self.low_mm = None
        self._show()

    def _take_over(self) -> None:
        """Give the app the targets and the tolerance, where they make sense."""
        if self._aim.open_fields:
            return
        draft, aim = self.session.draft, self._aim.record
        tolerance = msgspec.structs.replace(draft.tolerance, tilt_deg=aim.tolerance_deg)
        aimed = draft.aimed_at(draft.targets, Pair(aim.left_target_deg, aim.right_target_deg))
        self.session.edit(msgspec.structs.replace(aimed, tolerance=tolerance))

    def _show(self) -> None:
        way = self._way
        self._reading.display = way != ANGLE
        self._angle.display = way == ANGLE
        edge = edge_words(self.session.draft.meter.edge)
        self.query_one("#how", Static).update(_HOW[way].format(edge=edge))
        self.query_one("#ask", Static).update(self._asked())
        self.query_one("#known", Static).update(self._known())

    def _asked(self) -> str:
        """The one thing to do now."""
        if self._way == ANGLE:
            return type_angle_words(self._side)
        return measure_words(self._side, self.low_mm, self._units)

    def _known(self) -> Content:
        setup, guidance = self.setup, self.session.guidance
        standing = Pair(*(_standing(setup, guidance, side) for side in Side))
        statuses = Pair(
            *(tilt_status(setup, side, self.tilts[side], standing[side]) for side in Side)
        )
        return tilt_lines(setup, self.tilts, statuses)

    @property
    def _side(self) -> Side:
        return Side(self._taking.values["side"])

    @property
    def _way(self) -> str:
        return str(self._taking.values["way"])


def _standing(setup: Setup, guidance: Guidance | None, side: Side) -> Placement | None:
    """Return where a cabinet stands as far as it is known, else where it is to stand."""
    appraisal = None if guidance is None else guidance.cabinets[side].appraisal
    return setup.targets[side] if appraisal is None else appraisal.measured


def tilt_lines(
    setup: Setup, tilts: Pair[Tilt | None], statuses: Pair[TiltStatus | None]
) -> Content:
    """Both cabinets' tilts, what would bring them to their targets, and how they differ."""
    return Content("\n").join(list(_lines(setup, tilts, statuses)))


def _lines(
    setup: Setup, tilts: Pair[Tilt | None], statuses: Pair[TiltStatus | None]
) -> Iterator[Content]:
    for side in Side:
        yield _figures(side, tilts[side], statuses[side])
        status = statuses[side]
        for words in () if status is None else tilt_words(setup, status):
            yield Content(f"  {sentence(words)}")
    if tilts.left is not None and tilts.right is not None:
        pair = tilt_symmetry(tilts.left, tilts.right, setup.tolerance.tilt_deg)
        words = tilt_symmetry_words(pair)
        yield Content.assemble(said(pair.verdict), f"  {sentence(words)}")


def _figures(side: Side, tilt: Tilt | None, status: TiltStatus | None) -> Content:
    name = (f"{side.upper():6}", "bold")
    if tilt is None:
        return Content.assemble(name, (" not measured yet", "$text-muted"))
    figures = f" {tilt.tilt_deg:+.2f}° ±{tilt.expanded_deg:.2f}°"
    if status is None or status.verdict is None or status.error_deg is None:
        return Content.assemble(name, figures)
    off = f"  target {status.target_deg:+.2f}°, off {status.error_deg:+.2f}° "
    return Content.assemble(name, figures, off, said(status.verdict))
