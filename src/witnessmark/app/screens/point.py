"""One touch point or foot: found with a tape, reading by reading, or told in figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from textual import on

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.cabinets import (
    BOX,
    CORNERS,
    FIGURES,
    HELD_AT,
    MIRROR,
    OWN,
    PLACE,
    TAPE,
    USUAL,
    Which,
    which,
)
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.tape_form import TapeForm
from witnessmark.drawing.cabinet import cabinet_drawing, tape_drawing
from witnessmark.errors import BadInput
from witnessmark.geometry.touch import TapeReading
from witnessmark.model import BOX_POINTS, Cabinet, Side, TouchPoint
from witnessmark.session.cabinet_details import (
    NamedPoint,
    PointKind,
    corner,
    entries,
    mirrored,
    with_entry,
    with_heights,
)
from witnessmark.session.tape_finding import Sought
from witnessmark.words.cautions import MOVING

if TYPE_CHECKING:
    from textual.app import ComposeResult


class UnfinishedPoint(NamedTuple):
    """Readings of a tape that were not kept yet, and of what."""

    which: str
    name: str | None
    readings: tuple[TapeReading, ...]


class PointScreen(AsideScreen):
    """Takes one reading after another, says what they fix, and hands the cabinet back in ``kept``.

    ``begun`` is what there is to go on with when it is left without.
    """

    STEP = Aside.POINT
    BINDINGS = bindings_for(STEP)
    ADVICE = "Enter where it is: from a few tape readings, or from figures that you know."
    DEFAULT_CSS = """
    PointScreen PlanView { min-height: 8; }
    """

    def __init__(
        self,
        kind: PointKind,
        cabinet: Cabinet,
        *,
        side: Side = Side.LEFT,
        whose: str = "cabinet",
        changed: NamedPoint | None = None,
        begun: UnfinishedPoint | None = None,
    ) -> None:
        """For one more of this ``kind``, or for the entry that is to be ``changed``.

        The cabinet is drawn as the one on ``side`` and called ``whose``.
        """
        super().__init__()
        self.kind, self.cabinet, self.side, self.whose = kind, cabinet, side, whose
        self.changed, self.begun = changed, begun
        self.kept: Cabinet | None = None
        self._tape: TapeForm
        self._which: FormView[Which]
        self._at: FormView[TouchPoint]
        self._held_at: FormView[TouchPoint]

    @property
    def heading(self) -> str:
        """What it is called."""
        return f"A {self.kind} of the {self.whose}"

    def fields(self) -> ComposeResult:
        units, at = self.session.draft.units, self.changed.at if self.changed else None
        chosen, name = self._first
        way = FIGURES if self.changed else TAPE
        self._which = FormView(which(self.kind), units, Which(chosen, name, way))
        readings = self.begun.readings if self.begun else ()
        self._tape = TapeForm(self.cabinet, units, readings)
        self._at = FormView(PLACE, units, at)
        self._held_at = FormView(HELD_AT, units, at)
        self._held_at.display = self.kind is PointKind.POINT
        yield self._which
        yield self._tape
        yield self._at
        yield self._held_at

    @property
    def _first(self) -> tuple[str, str | None]:
        """What is looked for at first: which of the usual ones, or a name of its own."""
        if self.begun:
            return self.begun.which, self.begun.name
        if self.changed is None:
            there = {entry.name for entry in entries(self.cabinet) if entry.kind is self.kind}
            return next(which for which in USUAL[self.kind] if which not in there), None
        usual = self.changed.name in USUAL[self.kind]
        return (self.changed.name, None) if usual else (OWN, self.changed.name)

    def aside(self) -> ComposeResult:
        yield PlanView(id="drawing")
        yield Plain("Inner is the side toward the other cabinet.")

    def cautions(self) -> ComposeResult:
        if self.kind is PointKind.FOOT:
            yield Plain(f"! {MOVING}")

    def on_mount(self) -> None:
        self._show()
        if self.changed:
            self._at.go_to("inward_mm")
        elif self.begun:
            self._tape.go_on()
        else:
            self._which.go_to()

    @property
    def sought(self) -> Sought:
        """The point that is looked for."""
        chosen, name = self._which.values["which"], self._which.values["name"]
        return Sought(self.kind, (name if chosen == OWN else chosen) or "point")

    @property
    def _way(self) -> str:
        """How it is entered; of all four corners only the height is."""
        told = self._which.values
        return CORNERS if told["which"] == CORNERS else str(told["way"])

    @on(FormView.Changed)
    def _go_to_name(self, event: FormView.Changed) -> None:
        if event.name == "which" and self._which.values["which"] == OWN:
            self._which.go_to("name")  # its letters are no commands

    @on(FormView.Changed)
    @on(TapeForm.Changed)
    def _show(self) -> None:
        self._offer_ways()
        self._tape.display = self._way == TAPE
        self._at.display = self._way == FIGURES
        self._tape.look_for(self.sought)
        self._draw()
        self.tell("")
        self.refresh_bindings()

    def _offer_ways(self) -> None:
        told, ways = self._which.values, {TAPE: "tape", FIGURES: "figures"}
        if self._mirrored is not None:
            ways[MIRROR] = "the other side"
        if self.kind is PointKind.POINT and told["which"] in BOX_POINTS:
            ways[BOX] = "the box"
        chosen = told["way"] if told["way"] in ways else TAPE
        self._which.offer("way", list(ways.items()), chosen)

    @property
    def _mirrored(self) -> TouchPoint | None:
        return mirrored(self.cabinet, self.kind, self.sought.name)

    def _draw(self) -> None:
        """The tape while one is laid, else the cabinet as it would be."""
        form, sought = self._tape, self.sought
        if self._way == TAPE and (at := form.likely_place) is not None:
            box = sought.in_box(self.cabinet)
            drawing = tape_drawing(box, form.start, sought.name, at, self.side)
        else:
            drawing = cabinet_drawing(self._as_told(), self.side)
        self.query_one(PlanView).show(drawing)

    def _as_told(self) -> Cabinet:
        try:
            return self._with_point()
        except BadInput:
            return self.cabinet

    def action_take_back(self) -> None:
        self._tape.take_back()

    def action_keep(self) -> None:
        forms = (self._which, self._at, self._held_at)
        if missing := [field for form in forms for field in form.open_fields]:
            missing[0].complain()
            missing[0].focus()
            self.app.bell()
            return
        try:
            self.kept = self._with_point()
        except BadInput as error:
            self.tell(f"✗ {error}", wrong=True)
            self.app.bell()
        else:
            self.begun = None
            self.dismiss()

    def _with_point(self) -> Cabinet:
        height_mm = self._held_at.values["height_mm"] or 0.0
        if self._way == CORNERS:
            return with_heights(self.cabinet, height_mm)
        at = self._place()
        at = TouchPoint(at.inward_mm, at.back_mm, height_mm)
        entry = NamedPoint(self.kind, self.sought.name, at)
        instead_of = self.changed.name if self.changed else None
        return with_entry(self.cabinet, entry, self.session.draft.units, instead_of=instead_of)

    def _place(self) -> TouchPoint:
        """Return where it is by what was told.

        Raises:
            BadInput: when that does not fix it yet.
        """
        if self._way == TAPE:
            finding = self._tape.finding
            if finding.found is None:
                raise BadInput(f"Not fixed yet. {finding.words}")
            return finding.found.point
        if self._way == MIRROR and self._mirrored is not None:
            return self._mirrored
        if self._way == BOX:
            return corner(self.cabinet, self.sought.name)
        return self._at.record

    async def action_leave(self) -> None:
        """Go back without; readings are there to go on with."""
        readings = self._tape.readings
        self.begun = None
        if readings and self.changed is None:
            told = self._which.values
            self.begun = UnfinishedPoint(told["which"], told["name"], readings)
        await super().action_leave()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "take_back":
            return any(form.display and form.readings for form in self.query(TapeForm))
        return super().check_action(action, parameters)
