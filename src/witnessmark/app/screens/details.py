"""A cabinet in detail: its touch points, its feet and their thread, a straightedge."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.cabinets import DETAILS
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.screens.point import PointScreen, UnfinishedPoint
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.entry_list import EntryList
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.shot_advice import ShotAdvice
from witnessmark.drawing.cabinet import cabinet_drawing
from witnessmark.errors import BadInput
from witnessmark.model import Cabinet, Pair, Side
from witnessmark.session.cabinet_details import (
    NamedPoint,
    PointKind,
    contradictions,
    entries,
    without,
)

if TYPE_CHECKING:
    from textual.app import ComposeResult

_BOTH = "both"


class DetailsScreen(AsideScreen):
    """Lists what was entered beyond the box, for both cabinets while they are alike."""

    STEP = Aside.CABINET
    BINDINGS = bindings_for(STEP)
    ADVICE = "For cabinets that are not plain boxes: enter points, feet and a straightedge."
    DEFAULT_CSS = """
    DetailsScreen {
        #entries { margin: 1 0; }
        PlanView { min-height: 8; }
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self._past: list[tuple[str, Cabinet]] = []
        self._begun: dict[PointKind, UnfinishedPoint] = {}
        self._refused = False
        self._whose = Choice("Cabinet", [], "", id="whose")
        self._entries = EntryList(
            empty="None yet: the box's four lower corners are its touch points and its feet.",
            id="entries",
        )
        self._form: FormView[Cabinet]

    def fields(self) -> ComposeResult:
        self._form = FormView(DETAILS, self.session.draft.units)
        yield self._whose
        yield self._form
        yield self._entries
        yield ShotAdvice()

    def aside(self) -> ComposeResult:
        yield PlanView(id="drawing")

    def on_mount(self) -> None:
        self._put_fields()

    @property
    def pair(self) -> Pair[Cabinet]:
        """The cabinets; this screen is not reached before their sizes are known."""
        pair = self.session.draft.cabinets
        if pair is None:
            raise RuntimeError("details come after the cabinets' sizes")
        return pair

    @property
    def _side(self) -> Side:
        """The cabinet that is shown; the left one for both."""
        return Side.RIGHT if self._whose.value == Side.RIGHT else Side.LEFT

    @on(Choice.Changed)
    def _put_fields(self) -> None:
        """Show the cabinet that is chosen, from the beginning."""
        self._refused = False
        self._offer_cabinets()
        self._form.put(self.pair[self._side])
        self._show()

    def _offer_cabinets(self) -> None:
        """Both while they are alike, else each by itself."""
        alike = self.pair.left == self.pair.right
        offered = [(_BOTH, "both, alike")] if alike else []
        offered += [(side.value, side.value) for side in Side]
        chosen = self._whose.value
        self._whose.offer(offered, chosen if chosen in dict(offered) else offered[0][0])

    @on(FormView.Changed)
    def _take_fields(self) -> None:
        self._refused = bool(self._form.open_fields)
        if self._refused:
            return
        try:
            cabinet = self._form.applied_to(self.pair[self._side])
        except BadInput as error:
            self._refused = True
            self.tell(f"✗ {error}", wrong=True)
        else:
            self._edit(cabinet)
            self._show()

    def _edit(self, cabinet: Cabinet) -> None:
        """Have the chosen cabinet, or both, be this one."""
        pair = Pair(cabinet, cabinet)
        if self._whose.value != _BOTH:
            pair = self.pair.replacing(self._side, cabinet)
        self.session.edit(msgspec.structs.replace(self.session.draft, cabinets=pair))

    def _show(self) -> None:
        cabinet, units = self.pair[self._side], self.session.draft.units
        rows = [entry.words(units) for entry in entries(cabinet)]
        self._entries.show(rows)
        self.query_one(PlanView).show(cabinet_drawing(cabinet, self._side))
        self.query_one(ShotAdvice).ask(self.session.draft.setup)
        self.tell("\n".join(f"! {one}" for one in contradictions(cabinet, units)))
        self.refresh_bindings()

    def action_enter(self, kind: str) -> None:
        self._open(PointKind(kind))

    @on(EntryList.Picked)
    def _change(self, event: EntryList.Picked) -> None:
        entry = entries(self.pair[self._side])[event.place]
        self._open(entry.kind, entry)

    def _open(self, kind: PointKind, changed: NamedPoint | None = None) -> None:
        both = self._whose.value == _BOTH
        screen = PointScreen(
            kind,
            self.pair[self._side],
            side=self._side,
            whose="cabinet" if both else f"{self._side} cabinet",
            changed=changed,
            begun=None if changed else self._begun.pop(kind, None),
        )
        self.app.push_screen(screen, lambda _: self._come_back(screen))

    def _come_back(self, screen: PointScreen) -> None:
        if screen.kept is not None:
            self._exchange(screen.kept)
        elif screen.begun is not None:
            self._begun[screen.kind] = screen.begun
            self.tell("The tape readings stay on this page so you can go on.")

    @on(EntryList.Removed)
    def _remove(self, event: EntryList.Removed) -> None:
        cabinet = self.pair[self._side]
        self._exchange(without(cabinet, entries(cabinet)[event.place]))

    def _exchange(self, cabinet: Cabinet) -> None:
        """Put another cabinet in the place of the one that is shown; undo brings that back."""
        self._past.append((self._whose.value, self.pair[self._side]))
        self._edit(cabinet)
        self._offer_cabinets()
        self._show()

    def action_undo(self) -> None:
        whose, before = self._past.pop()
        self._whose.value = whose
        now = self.pair[self._side]
        self._edit(msgspec.structs.replace(now, points=before.points, feet=before.feet))
        self._put_fields()

    async def action_leave(self) -> None:
        if self._refused:
            self.notify("Entries with errors in the details were not saved.", severity="warning")
        await super().action_leave()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "undo":
            return bool(self._past)
        return super().check_action(action, parameters)
