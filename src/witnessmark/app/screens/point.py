"""One touch point or foot: found with a tape, reading by reading, or told in figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from textual import on
from textual.widgets import Input, Static

from witnessmark.app.cabinet_details import (
    Entry,
    Part,
    corner,
    entries,
    mirrored,
    with_entry,
    with_heights,
)
from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field, fields_in
from witnessmark.app.forms.numbers import LengthInput
from witnessmark.app.forms.texts import PointNameInput
from witnessmark.app.screens.aside import AsideScreen
from witnessmark.app.screens.point_fields import CORNERS, OWN, USUAL, figures
from witnessmark.app.steps import Aside
from witnessmark.app.tape_finding import Sought
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.tape_form import TapeForm
from witnessmark.cautions import MOVING
from witnessmark.drawing.cabinet import cabinet_drawing
from witnessmark.drawing.tape import tape_drawing
from witnessmark.errors import BadInput
from witnessmark.geometry.touch import TapeReading
from witnessmark.lengths import Units
from witnessmark.model import BOX_POINTS, Cabinet, Side, TouchPoint

if TYPE_CHECKING:
    from textual.app import ComposeResult

_TAPE, _FIGURES, _MIRROR, _BOX = "tape", "figures", "mirror", "box"


class Begun(NamedTuple):
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
    ADVICE = "Say where it is: by a few readings of a tape, or by figures that you know."
    DEFAULT_CSS = """
    PointScreen PlanView { min-height: 8; }
    """

    def __init__(
        self,
        part: Part,
        cabinet: Cabinet,
        *,
        side: Side = Side.LEFT,
        whose: str = "cabinet",
        changed: Entry | None = None,
        begun: Begun | None = None,
    ) -> None:
        """For one more ``part`` of the cabinet, or for the entry that is to be ``changed``.

        The cabinet is drawn as the one on ``side`` and called ``whose``.
        """
        super().__init__()
        self.part, self.cabinet, self.side, self.whose = part, cabinet, side, whose
        self.changed, self.begun = changed, begun
        self.kept: Cabinet | None = None

    @property
    def heading(self) -> str:
        """What it is called."""
        return f"A {self.part} of the {self.whose}"

    @property
    def _fine_units(self) -> Units:
        return self.app.draft.units.finer

    def fields(self) -> ComposeResult:
        """Which point, then the tape's readings or the figures, and how high the meter is held."""
        which, name = self._first
        yield Choice("Which", list(USUAL[self.part].items()), which, id="which")
        yield PointNameInput("Name", name, hint="Such as plinth-rear or knob.", id="name")
        yield Choice("Told by", [], _FIGURES if self.changed else _TAPE, id="way")
        readings = self.begun.readings if self.begun else ()
        yield TapeForm(self.cabinet, self.app.draft.units, self._fine_units, readings)
        yield from figures(self.changed.at if self.changed else None, self._fine_units)

    @property
    def _first(self) -> tuple[str, str | None]:
        """What is looked for at first: which of the usual ones, or a name of its own."""
        if self.begun:
            return self.begun.which, self.begun.name
        if self.changed is None:
            there = {entry.name for entry in entries(self.cabinet) if entry.part is self.part}
            return next(which for which in USUAL[self.part] if which not in there), None
        usual = self.changed.name in USUAL[self.part]
        return (self.changed.name, None) if usual else (OWN, self.changed.name)

    def aside(self) -> ComposeResult:
        """A drawing of what is measured."""
        yield PlanView(id="drawing")
        yield Static("Inner is the side toward the other cabinet.")

    def cautions(self) -> ComposeResult:
        """Getting at a foot may mean moving a cabinet."""
        if self.part is Part.FOOT:
            yield Static(f"! {MOVING}")

    def on_mount(self) -> None:
        """Begin with which point it is, or with what is known of it."""
        self._show()
        first = "#inward Input" if self.changed else "#reading Input" if self.begun else "#which"
        self.query_one(first).focus()

    @property
    def sought(self) -> Sought:
        """The point that is looked for."""
        which = self._chosen("which")
        name = self.query_one("#name", PointNameInput).value if which == OWN else which
        return Sought(self.part, name or "point")

    def _chosen(self, choice: str) -> str:
        return str(self.query_one(f"#{choice}", Choice).value)

    @property
    def _way(self) -> str:
        """How it is told; of all four corners only the height is."""
        return CORNERS if self._chosen("which") == CORNERS else self._chosen("way")

    @on(Choice.Changed)
    @on(Field.Changed)
    @on(TapeForm.Changed)
    def _show(self) -> None:
        which = self._chosen("which")
        self._offer_ways(which)
        shown = {
            "name": which == OWN,
            "way": which != CORNERS,
            "tape": self._way == _TAPE,
            "inward": self._way == _FIGURES,
            "back": self._way == _FIGURES,
            "height": self.part is Part.POINT,
        }
        for name, is_shown in shown.items():
            self.query_one(f"#{name}").display = is_shown
        self.query_one(TapeForm).look_for(self.sought)
        self._draw()
        self.tell("")
        self.refresh_bindings()

    def _offer_ways(self, which: str) -> None:
        ways = [(_TAPE, "tape"), (_FIGURES, "figures")]
        if self._mirrored is not None:
            ways.append((_MIRROR, "the other side"))
        if self.part is Part.POINT and which in BOX_POINTS:
            ways.append((_BOX, "the box"))
        choice = self.query_one("#way", Choice)
        choice.offer(ways, choice.value if choice.value in dict(ways) else _TAPE)

    @property
    def _mirrored(self) -> TouchPoint | None:
        return mirrored(self.cabinet, self.part, self.sought.name)

    def _draw(self) -> None:
        """The tape while one is laid, else the cabinet as it would be."""
        form, sought = self.query_one(TapeForm), self.sought
        if self._way == _TAPE and (at := form.likely_place) is not None:
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
        """Leave the last reading out."""
        self.query_one(TapeForm).take_back()

    def action_keep(self) -> None:
        """Go back with the point, or say what is missing or wrong."""
        if missing := self._missing():
            missing.complain()
            missing.query_one(Input).focus()
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

    def _missing(self) -> Field[object] | None:
        asked = [one for one in fields_in(self) if one.is_shown and one.id != "reading"]
        return next((one for one in asked if not one.is_settled), None)

    def _with_point(self) -> Cabinet:
        height_mm = self._length("height") or 0.0
        if self._way == CORNERS:
            return with_heights(self.cabinet, height_mm)
        at = self._place()
        at = TouchPoint(at.inward_mm, at.back_mm, height_mm)
        entry = Entry(self.part, self.sought.name, at)
        instead_of = self.changed.name if self.changed else None
        return with_entry(self.cabinet, entry, self.app.draft.units, instead_of=instead_of)

    def _place(self) -> TouchPoint:
        """Where it is by what was told.

        Raises:
            BadInput: when that does not fix it yet.
        """
        if self._way == _TAPE:
            finding = self.query_one(TapeForm).finding
            if finding.found is None:
                raise BadInput(f"Not fixed yet. {finding.words}")
            return finding.found.point
        if self._way == _MIRROR and self._mirrored is not None:
            return self._mirrored
        if self._way == _BOX:
            return corner(self.cabinet, self.sought.name)
        inward, back = self._length("inward"), self._length("back")
        if inward is None or back is None:
            raise BadInput("inward and back are needed")
        return TouchPoint(inward, back)

    def _length(self, name: str) -> float | None:
        return self.query_one(f"#{name}", LengthInput).value

    async def action_leave(self) -> None:
        """Go back without; readings are there to go on with."""
        readings = self.query_one(TapeForm).readings
        self.begun = None
        if readings and self.changed is None:
            name = self.query_one("#name", PointNameInput).value
            self.begun = Begun(self._chosen("which"), name, readings)
        await super().action_leave()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """There is something to take back once a reading was taken."""
        if action == "take_back":
            return any(form.display and form.readings for form in self.query(TapeForm))
        return super().check_action(action, parameters)
