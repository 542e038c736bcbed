"""Where the pair is to stand: the third step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.cabinets import placement
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens.form import StepScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.plan import plan_drawing
from witnessmark.errors import BadInput
from witnessmark.layout.choices import (
    advice,
    aim_of,
    aimed,
    are_mirrored,
    begin,
    facts,
    layout_case,
    mirror_of_left,
    nearest_station,
)
from witnessmark.layout.free import free_words, nearest_free
from witnessmark.layout.plan import Layout
from witnessmark.layout.remarks import conflicts, notes
from witnessmark.layout.start import InLane, Start, Triangle
from witnessmark.lengths import format_length
from witnessmark.locate.aim import Aim
from witnessmark.model import Mirror, Pair, Placement, Side
from witnessmark.session.draft import Draft

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

_AS_THEY_STAND, _TRIANGLE, _STATION, _FREE = "as they stand", "triangle", "station", "free"
_MIRROR, _OWN = "mirror", "own"
_ABOUT = (
    "Nothing is to be moved yet. Shoot both cabinets; then you see how left and right differ, and "
    "choose which one to bring to the other's mirror image."
)


class LayoutScreen(StepScreen):
    """Shows the usual beginnings and takes the targets, the right cabinet mirrored by default.

    The fields always hold the targets; a beginning or an aim only fills them in.
    """

    STEP = Step.LAYOUT
    BINDINGS = bindings_for(STEP)
    FOLDED = "where the pair is aimed, the mirror line, the right cabinet's own numbers"
    ADVICE = (
        "Choose where the pair will stand: as they stand, a triangle with your seat, a station, "
        "or your own numbers.\n"
        "Lanes (dotted) are where cabinets may stand; stations are steps along them."
    )

    def __init__(self) -> None:
        super().__init__()
        begins = [
            (_AS_THEY_STAND, _AS_THEY_STAND),
            (_TRIANGLE, "triangle"),
            (_STATION, "station"),
            (_FREE, "own"),
        ]
        self._begin = Choice("Begin with", begins, _AS_THEY_STAND, id="begin")
        self._station: Choice[int | None] = Choice("Station", [], None, id="station")
        self._mirror = Choice(
            "Mirror images",
            [(Mirror.SEAT, "about the seat"), (Mirror.ROOM, "about the room")],
            Mirror.SEAT,
            hint="The line through the seat square to the front wall, or the room's centre line.",
            id="mirror",
        )
        aims = [(aim, aim) for aim in Aim]
        self._aim: Choice[Aim | None] = Choice("Aimed at", aims, None, id="aim")
        rights = [(_MIRROR, "mirrored"), (_OWN, "own")]
        self._right = Choice("Right cabinet", rights, _MIRROR, id="right")
        self._forms: Pair[FormView[Placement]]

    def fields(self) -> ComposeResult:
        units, targets = self.session.draft.units, self.setup.targets
        self._forms = Pair(*(FormView(placement(side), units, prefix=f"{side}-") for side in Side))
        self._begin.value = _AS_THEY_STAND if None in targets else _FREE
        self._mirror.value = self.setup.mirror
        self._right.value = _MIRROR if are_mirrored(self.setup) else _OWN
        yield self._begin
        yield self._station
        yield self._forms.left
        yield self._aim
        yield self._mirror
        yield self._right
        yield self._forms.right
        yield self.more()
        yield Plain(id="facts")

    def aside(self) -> ComposeResult:
        yield PlanView(id="plan")

    def on_mount(self) -> None:
        self.fold()
        left, right = self.setup.targets.left, self.setup.targets.right
        if left and right:
            # shown but not applied: looking changes nothing
            self._write(Pair(left, right))
            self._look()
        else:
            self._show(advice(self.setup, self.session.draft.units), None)

    def _look(self) -> None:
        try:
            self.show_remarks(self._remarks(self._placements()))
        except BadInput as error:
            self.show_told(f"✗ {error}")

    def apply(self) -> Sequence[str]:
        if self._begin.value == _AS_THEY_STAND:
            # the target of the one that is being brought to match the other stays
            if None not in self.setup.targets:
                self.session.edit(self.session.draft.aimed_at(Pair(None, None)))
            self._show(advice(self.setup, self.session.draft.units), None)
            return ()
        placements = self._placements()
        targets = Pair[Placement | None](placements.left, placements.right)
        self.session.edit(self.session.draft.aimed_at(targets))
        return self._remarks(placements)

    def _remarks(self, placements: Pair[Placement]) -> Sequence[str]:
        """Show what these targets mean, and return what is worth telling about them."""
        setup, units = self.setup, self.session.draft.units
        layout = advice(setup, units)
        case = layout_case(setup, layout, placements, units)
        self._show(layout, placements)
        self.query_one("#facts", Static).update(
            "\n".join((facts(layout, placements, units), *notes(case)))
        )
        return (*conflicts(case), *free_words(nearest_free(case), units))

    @on(Choice.Changed, "#begin")
    def _change_beginning(self, event: Choice.Changed) -> None:
        layout = advice(self.setup, self.session.draft.units)
        self._show_fields()
        if event.value == _AS_THEY_STAND:
            self.take_over()
        elif event.value == _TRIANGLE:
            self._fill(Triangle())
        elif event.value == _STATION and layout.stations:
            setback = self._forms.left.values["setback_mm"] or layout.seat.from_front_mm / 2
            self._fill(InLane(nearest_station(layout, setback).setback_mm, self._toe_in))
        elif event.value == _FREE and self.open_fields:
            # numbers of one's own begin at the triangle, or at those that there were
            self._fill(Triangle())
            self._begin.value = _FREE
        elif event.value == _FREE:
            self.take_over()

    @on(Choice.Changed, "#station")
    def _change_station(self, event: Choice.Changed) -> None:
        layout = advice(self.setup, self.session.draft.units)
        self._begin.value = _STATION
        self._show_fields()
        self._fill(InLane(layout.stations[event.value - 1].setback_mm, self._toe_in))

    @on(Choice.Changed, "#aim")
    def _change_aim(self, event: Choice.Changed) -> None:
        if not self.open_fields:
            self._put(aimed(self.setup, self._placements(), Aim(event.value)))

    @on(Choice.Changed, "#mirror")
    def _change_mirror(self, event: Choice.Changed) -> None:
        self.session.edit(msgspec.structs.replace(self.session.draft, mirror=Mirror(event.value)))
        if self._begin.value == _TRIANGLE:
            self._fill(Triangle())
        else:
            self.take_over()

    def fold(self) -> None:
        super().fold()
        self._show_fields()

    @property
    def in_fold(self) -> str:
        if self._begin.value == _AS_THEY_STAND:
            return "the mirror line"
        return self.FOLDED if self._begin.value == _FREE else f"the numbers, {self.FOLDED}"

    def changed_in_fold(self) -> Sequence[str]:
        changed = []
        if self._mirror.value is not Draft().mirror:
            changed.append(f"the pair is mirrored {self._mirror.in_words}")
        if self._begin.value != _AS_THEY_STAND and self._right.value == _OWN:
            changed.append("the right cabinet has its own")
        return changed

    @on(Choice.Changed, "#right")
    def _show_fields(self) -> None:
        """Show what belongs to the beginning, and all that goes with it where that is unfolded."""
        begin, is_unfolded = self._begin.value, self.is_unfolded
        is_aimed = begin != _AS_THEY_STAND
        self._station.display = begin == _STATION or (is_aimed and is_unfolded)
        self._forms.left.display = begin == _FREE or (is_aimed and is_unfolded)
        self._mirror.display = is_unfolded
        for part in (self._aim, self._right):
            part.display = is_aimed and is_unfolded
        self._forms.right.display = self._right.display and self._right.value == _OWN

    @on(FormView.Changed)
    def _note_own_numbers(self) -> None:
        self._begin.value = _FREE
        self._show_fields()

    @property
    def _toe_in(self) -> float:
        return self._forms.left.values["toe_in_deg"] or 0.0

    def _placements(self) -> Pair[Placement]:
        left = self._forms.left.record
        if self._right.value == _MIRROR:
            return Pair(left, mirror_of_left(self.setup, left, self.session.draft.units))
        return Pair(left, self._forms.right.record)

    def _fill(self, start: Start) -> None:
        """Fill the fields in from one of the usual beginnings; both are mirror images then."""
        try:
            layout = self._from(start)
        except BadInput as error:
            self.show_told(f"✗ {error}")
            return
        self._right.value = _MIRROR
        self._show_fields()
        self._put(layout.placements)

    def _from(self, start: Start) -> Layout:
        return begin(self.setup, start, self.session.draft.units)

    def _put(self, placements: Pair[Placement]) -> None:
        self._write(placements)
        self.take_over()

    def _write(self, placements: Pair[Placement]) -> None:
        for side in Side:
            self._forms[side].put(placements[side])

    def _show(self, layout: Layout, placements: Pair[Placement] | None) -> None:
        setup, units = self.setup, self.session.draft.units
        if placements is None:
            self.query_one("#facts", Static).update(_ABOUT)
        setbacks = [station.setback_mm for station in layout.stations]
        self.query_one(PlanView).show(
            plan_drawing(
                setup.room,
                seat=setup.seat,
                cabinets=setup.cabinets,
                targets=setup.targets
                if placements is None
                else Pair[Placement | None](placements.left, placements.right),
                lanes=layout.lanes,
                stations_mm=setbacks,
            )
        )
        here = [
            number
            for number, setback in enumerate(setbacks, 1)
            if placements and abs(setback - placements.left.setback_mm) < 1
        ]
        self._station.offer(
            [
                (number, f"{number}: {format_length(setback, units)}")
                for number, setback in enumerate(setbacks, 1)
            ],
            here[0] if here else None,
        )
        self._aim.value = None if placements is None else aim_of(setup, placements)
