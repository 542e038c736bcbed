"""Where the pair is to stand: the third step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.layout_choices import (
    advice,
    aim_of,
    aimed,
    are_mirrored,
    begin,
    facts,
    mirror_of_left,
    nearest_station,
    scene_of,
)
from witnessmark.app.screens.step import StepScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.placement_form import PlacementForm
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.plan import plan_drawing
from witnessmark.errors import BadInput
from witnessmark.layout.free import free_words, nearest_free
from witnessmark.layout.notes import notes
from witnessmark.layout.plan import Layout
from witnessmark.layout.remarks import conflicts
from witnessmark.layout.start import InLane, Start, Triangle
from witnessmark.lengths import format_length
from witnessmark.locate.aim import Aim
from witnessmark.model import Mirror, Pair, Placement, Side

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

_TRIANGLE, _STATION, _FREE = "triangle", "station", "free"
_MIRROR, _OWN = "mirror", "own"


class LayoutScreen(StepScreen):
    """Shows the usual beginnings and takes the targets, the right cabinet mirrored by default.

    The fields always hold the targets; a beginning or an aim only fills them in.
    """

    STEP = Step.LAYOUT
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Choose where the pair is to stand: a triangle with your seat, a station in the dotted "
        "lanes, or numbers of your own."
    )

    def fields(self) -> ComposeResult:
        """The beginning, the left cabinet's target, and the right one's where it differs."""
        units, targets = self.app.draft.units, self.setup.targets
        yield Choice(
            "Begin with",
            [(_TRIANGLE, "triangle"), (_STATION, "station"), (_FREE, "own")],
            _FREE if targets.left else _TRIANGLE,
            id="begin",
        )
        yield Choice("Station", [], "", id="station")
        yield Choice(
            "Mirror images",
            [(Mirror.SEAT, "about the seat"), (Mirror.ROOM, "about the room")],
            self.setup.mirror,
            hint="The line through the seat square to the front wall, or the room's centre line.",
            id="mirror",
        )
        yield PlacementForm(Side.LEFT, units)
        yield Choice("Aimed at", [(aim, aim) for aim in Aim], "", id="aim")
        yield Choice(
            "Right cabinet",
            [(_MIRROR, "mirrored"), (_OWN, "own")],
            _MIRROR if are_mirrored(self.setup) else _OWN,
            id="right",
        )
        yield PlacementForm(Side.RIGHT, units)
        yield Static(id="facts")

    def aside(self) -> ComposeResult:
        """The plan with lanes, stations, seat and targets."""
        yield PlanView(id="plan")

    def on_mount(self) -> None:
        """Fill in the targets that there are, or a beginning."""
        self._show_right()
        left, right = self.setup.targets.left, self.setup.targets.right
        if left and right:
            self._put(Pair(left, right))
        else:
            self._fill(Triangle())

    def apply(self) -> Sequence[str]:
        """Take the targets, show them, and tell what is in their way."""
        setup, units = self.setup, self.app.draft.units
        placements = self._placements()
        targets = Pair[Placement | None](placements.left, placements.right)
        self.app.edit(self.app.draft.aimed_at(targets))
        layout = advice(setup, units)
        scene = scene_of(setup, layout, placements, units)
        self._show(layout, placements)
        self.query_one("#facts", Static).update(
            "\n".join((facts(layout, placements, units), *notes(scene)))
        )
        return (*conflicts(scene), *free_words(nearest_free(scene), units))

    @on(Choice.Changed, "#begin")
    def _change_beginning(self, event: Choice.Changed) -> None:
        layout = advice(self.setup, self.app.draft.units)
        if event.value == _TRIANGLE:
            self._fill(Triangle())
        elif event.value == _STATION and layout.stations:
            left = self._form(Side.LEFT).placement
            setback = left.setback_mm if left else layout.seat.from_front_mm / 2
            self._fill(InLane(nearest_station(layout, setback).setback_mm, self._toe_in))

    @on(Choice.Changed, "#station")
    def _change_station(self, event: Choice.Changed) -> None:
        layout = advice(self.setup, self.app.draft.units)
        self.query_one("#begin", Choice).value = _STATION
        self._fill(InLane(layout.stations[int(event.value) - 1].setback_mm, self._toe_in))

    @on(Choice.Changed, "#aim")
    def _change_aim(self, event: Choice.Changed) -> None:
        if not self.open_fields:
            self._put(aimed(self.setup, self._placements(), Aim(event.value)))

    @on(Choice.Changed, "#mirror")
    def _change_mirror(self, event: Choice.Changed) -> None:
        self.app.edit(msgspec.structs.replace(self.app.draft, mirror=Mirror(event.value)))
        if self.query_one("#begin", Choice).value == _TRIANGLE:
            self._fill(Triangle())
        else:
            self.take_over()

    @on(Choice.Changed, "#right")
    def _show_right(self) -> None:
        own = self.query_one("#right", Choice).value == _OWN
        self._form(Side.RIGHT).display = own

    @on(Field.Changed)
    def _note_own_numbers(self) -> None:
        self.query_one("#begin", Choice).value = _FREE

    @property
    def _toe_in(self) -> float:
        left = self._form(Side.LEFT).placement
        return left.toe_in_deg if left else 0.0

    def _placements(self) -> Pair[Placement]:
        left, right = self._form(Side.LEFT).placement, self._form(Side.RIGHT).placement
        if left is not None and self.query_one("#right", Choice).value == _MIRROR:
            right = mirror_of_left(self.setup, left, self.app.draft.units)
        if left is None or right is None:
            raise BadInput("target: side, setback and toe-in are needed")
        return Pair(left, right)

    def _fill(self, start: Start) -> None:
        """Fill the fields in from one of the usual beginnings; both are mirror images then."""
        try:
            layout = begin(self.setup, start, self.app.draft.units)
        except BadInput as error:
            self.show_told(f"✗ {error}")
            return
        self.query_one("#right", Choice).value = _MIRROR
        self._show_right()
        self._put(layout.placements)

    def _put(self, placements: Pair[Placement]) -> None:
        for side in Side:
            self._form(side).put(placements[side])
        self.take_over()

    def _show(self, layout: Layout, placements: Pair[Placement]) -> None:
        setup, units = self.setup, self.app.draft.units
        setbacks = [station.setback_mm for station in layout.stations]
        self.query_one(PlanView).show(
            plan_drawing(
                setup.room,
                seat=setup.seat,
                cabinets=setup.cabinets,
                targets=setup.targets,
                lanes=layout.lanes,
                stations_mm=setbacks,
            )
        )
        here = [
            number
            for number, setback in enumerate(setbacks, 1)
            if abs(setback - placements.left.setback_mm) < 1
        ]
        self.query_one("#station", Choice).offer(
            [
                (str(number), f"{number}: {format_length(setback, units)}")
                for number, setback in enumerate(setbacks, 1)
            ],
            str(here[0]) if here else "",
        )
        self.query_one("#aim", Choice).value = aim_of(setup, placements) or ""

    def _form(self, side: Side) -> PlacementForm:
        return self.query_one(f"#{side}-placement", PlacementForm)
