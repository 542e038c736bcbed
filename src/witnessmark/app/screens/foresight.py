"""The walk foreseen: its picture, the curve of one station against the pair now, and sentences."""

from __future__ import annotations

import asyncio
from textwrap import wrap
from typing import TYPE_CHECKING, Final

import msgspec
from textual import on, work
from textual.widgets import Static

from witnessmark.acoustics.foresight import Furnishing, absorptions
from witnessmark.acoustics.scene import Scene
from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.texts import SeatsInput
from witnessmark.app.screens.form import FollowingScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.app.widgets.plain import Plain
from witnessmark.drawing.levels import COARSE_DB, FINE_DB, KEY, curves, frequency_axis, shades
from witnessmark.errors import BadInput
from witnessmark.listening.association import associations
from witnessmark.listening.evening import Evening
from witnessmark.listening.foreseen import SPREAD_NAMES, ForeseenPosition, ForeseenWalk
from witnessmark.model import Pair, Placement, Struck, Trial
from witnessmark.report.foresight import curve, labels
from witnessmark.sentences import refusal
from witnessmark.store.store import Store
from witnessmark.words.foresight import (
    association_sentences,
    change_words,
    limits_sentences,
    neighbour_words,
    seat_sentences,
    station_sentences,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from witnessmark.placing.guidance import Guidance

_POINTER: Final = 2
"""Columns of the list's pointer before each row."""
_LEAST: Final = 16
"""Columns of frequency, at least."""
_TALL: Final = 36
"""Rows of a screen that has room for a fine curve above the sentences."""
_HERE: Final = "the position now"
_CALCULATING: Final = "Calculating every station …"


class ForesightScreen(FollowingScreen):
    """A row of shades for each station; the arrow keys choose the one described beside it."""

    STEP = Aside.FORESIGHT
    ADVICE = "Calculated: your ears decide. ↑ ↓ choose a station, a step along the walls."
    BINDINGS = bindings_for(STEP)
    AUTO_FOCUS = "#stations"
    DEFAULT_CSS = """
    ForesightScreen {
        #form { width: 58%; max-width: 90; }
        #key { color: $text-muted; height: auto; }
        #axis { height: 1; }
        #curve { width: auto; }
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self._walk: ForeseenWalk | None = None
        self._present: ForeseenPosition | None = None
        self._associations: tuple[str, ...] = ()
        self._spread = Choice(
            "Spread", [(place, name) for place, name in enumerate(SPREAD_NAMES)], 1, id="spread"
        )
        self._furnishing = Choice(
            "Surfaces",
            [(one, one.value) for one in Furnishing],
            Furnishing.FURNISHED,
            id="furnishing",
        )
        self._stations = PickList(empty=_CALCULATING, always_points=True, id="stations")

    def fields(self) -> ComposeResult:
        yield Plain(id="axis")
        yield self._stations
        yield Plain(KEY, id="key")
        yield self._spread
        yield self._furnishing
        yield SeatsInput(
            "Other seats",
            self.setup.seats_beside or None,
            units=self.setup.units,
            hint="Front wall, left wall, ears, as in 4.4m,1.9m,1.0m; the next after a semicolon.",
            id="seats",
        )

    def aside(self) -> ComposeResult:
        yield Plain(id="curve")
        yield Plain(id="sentences")

    def on_mount(self) -> None:
        self._foresee()

    def on_resize(self) -> None:
        self.call_after_refresh(self._show)

    @on(Choice.Changed, "#furnishing")
    @work(exclusive=True, group="walk")
    async def _foresee(self) -> None:
        """Calculate every position, in a thread, and where the pair stands.

        At first the station nearest to the pair is chosen.
        """
        absorbed = absorptions(self._furnishing.value)
        try:
            walk = await asyncio.to_thread(ForeseenWalk, self.setup, absorbed)
        except BadInput as error:
            self._stations.empty = ""
            self._stations.refresh(layout=True)
            self.tell(refusal(error), wrong=True)
            return
        is_first, self._walk = self._walk is None, walk
        self._compare()
        self._take_standing(self.session.guidance)
        if is_first and self._present is not None:
            here = self._present
            self._spread.value, self._stations.place = walk.nearest(here.setback_mm, here.spread_mm)
        self._show()

    @work(exclusive=True, group="beside")
    async def _compare(self) -> None:
        """Set the grades beside what is foreseen, in a thread: thousands of orders are tried."""
        if self._walk is None or self.app.blind:
            return
        room, run = self.session.workspace.name, self.session.journal.run
        trials = {kept.key: kept.record for kept in await run(Store.kept, Trial, room)}
        strikes = [kept.record for kept in await run(Store.kept, Struck, room)]
        graded = Evening.of(self.setup, trials, (), strikes).trials
        if not any(trial.impression.current_grades for trial in graded.values()):
            return
        found = await asyncio.to_thread(associations, self._walk.foresight, graded)
        self._associations = tuple(association_sentences(found))
        self._show()

    def show_standing(self, guidance: Guidance) -> None:
        self._take_standing(guidance)
        self._show()

    def _take_standing(self, guidance: Guidance | None) -> None:
        """Take over where the pair stands: measured, or else on its targets."""
        if self._walk is None:
            return
        setup = self.setup if guidance is None else guidance.setup
        measured = Pair[Placement | None](None, None) if guidance is None else guidance.measured
        left, right = Scene.of(setup, measured).placements
        self._present = None
        if left is not None and right is not None:
            try:
                self._present = self._walk.at(Pair(left, right), _HERE)
            except BadInput as error:
                self.tell(refusal(error), wrong=True)

    @on(Field.Changed, "#seats")
    def _look_from_others(self) -> None:
        """Keep the other seats with the room, and tell of them."""
        entered = self.query_one(SeatsInput)
        if entered.problem:
            return
        seats = entered.value or msgspec.UNSET
        self.session.edit(msgspec.structs.replace(self.session.draft, other_seats=seats))
        self._show()

    def _seat_sentences(self, walk: ForeseenWalk, position: ForeseenPosition) -> Sequence[str]:
        try:
            heard = list(walk.at_seats(position.placements, self.setup.seats_beside))
        except BadInput as error:
            self.tell(refusal(error), wrong=True)
            return ()
        return [
            words
            for number, found in enumerate(heard, 1)
            for words in seat_sentences(number, found, position)
        ]

    @on(Choice.Changed, "#spread")
    def _show(self) -> None:
        """Draw the picture at its width, and tell of the chosen station."""
        if self._walk is None or not self.is_mounted:
            return
        row, units = self._walk.spreads[self._place_of_spread], self.setup.units
        names = labels(row, units)
        wide = max(map(len, names)) + 2
        # less a column for the scroll bar, which may come with the rows
        columns = max(self._stations.size.width - _POINTER - wide - 1, _LEAST)
        drawn = [curve(one.levels.pair, in_bands=False) for one in row.positions]
        self._stations.show(
            [
                f"{name:>{wide - 2}}  {shades(hz, level, columns)}"
                for name, (hz, level) in zip(names, drawn, strict=True)
            ]
        )
        axis = " " * (_POINTER + wide) + frequency_axis(drawn[0][0], columns)
        self.query_one("#axis", Static).update(axis)
        self._tell_station()

    @property
    def _place_of_spread(self) -> int:
        assert self._walk is not None  # noqa: S101 - asked for only then
        return min(self._spread.value, len(self._walk.spreads) - 1)

    @on(PickList.Pointed)
    def _tell_station(self) -> None:
        walk, spread, place = self._walk, self._place_of_spread, self._stations.place
        assert walk is not None  # noqa: S101 - there are rows only then
        row, units = walk.spreads[spread], self.setup.units
        position = row.positions[place]
        hz, one = curve(position.levels.pair, in_bands=False)
        present = self._present
        other = None if present is None else curve(present.levels.pair, in_bands=False)[1]
        columns = max(self.query_one("#aside").size.width - 1, _LEAST)
        row_db = FINE_DB if self.size.height >= _TALL else COARSE_DB
        signs = f"dB: o {position.name}" + ("" if present is None else f", + {_HERE}")
        lines = [*wrap(signs, columns), *curves(hz, one, other, columns, row_db)]
        self.query_one("#curve", Static).update("\n".join(lines))
        against = () if present is None else (f"From {_HERE}: {change_words(present, position)}",)
        sentences = (
            *station_sentences(walk, spread, place, units),
            *against,
            *self._seat_sentences(walk, position),
            neighbour_words(row),
            *self._associations,
            *limits_sentences(walk, units),
        )
        self.query_one("#sentences", Static).update("\n".join(f"· {one}" for one in sentences))
