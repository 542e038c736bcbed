"""Readings of a tape that find one point of a cabinet, asked for one after another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual import on
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.numbers import LengthEntry
from witnessmark.app.widgets.entry_list import EntryList
from witnessmark.app.widgets.plain import Plain
from witnessmark.geometry.touch import Face, TapeReading
from witnessmark.lengths import Units, format_length
from witnessmark.model.limits import BETWEEN_POINTS, FROM_BAFFLE
from witnessmark.session.tape_finding import (
    Sought,
    TapeFinding,
    finding,
    likely_place,
    may_taper,
    next_start,
    starts,
)
from witnessmark.words.tape import how_to_tape

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.model import Cabinet, TouchPoint


class TapeForm(Vertical):
    """From where, how, what it reads; the readings so far, and what they say of the point.

    ``finding`` is what the readings say, ``start`` the face or point from which the next is taken.
    """

    DEFAULT_CSS = """
    TapeForm {
        height: auto;
        #how { color: $accent; }
        #found { text-style: bold; }
    }
    """

    @dataclass
    class Changed(Message):
        """There are other readings, or the next is to be taken from elsewhere."""

    def __init__(
        self, cabinet: Cabinet, units: Units, readings: tuple[TapeReading, ...] = ()
    ) -> None:
        """Sentences are in ``units``, readings in a finer step."""
        super().__init__(id="tape")
        self.cabinet, self.units, self.readings = cabinet, units, readings
        self._start = Choice("Tape from", [], "", id="start")
        hint = "Enter accepts it and asks for the next."
        self._reading = LengthEntry("It reads", units=units.finer, hint=hint, id="reading")
        self._taken = EntryList(id="readings")
        self.sought: Sought | None = None
        self.finding = TapeFinding("")

    def compose(self) -> ComposeResult:
        yield self._start
        yield Plain(id="how")
        yield self._reading
        yield self._taken
        yield Plain(id="found")

    @property
    def start(self) -> str:
        """From where the next reading is taken."""
        return self._start.value

    @property
    def likely_place(self) -> TouchPoint | None:
        """Where the point is as far as the readings tell, or may be by its name."""
        if self.finding.found is not None:
            return self.finding.found.point
        return likely_place(self.cabinet, self.sought) if self.sought else None

    def look_for(self, sought: Sought) -> None:
        """Ask for readings of this point without posting Changed."""
        if sought != self.sought:
            self.sought = sought
            self._show(next_start(self.cabinet, sought, self.readings))

    def take_back(self) -> None:
        """Leave the last reading out."""
        self._use(self.readings[:-1])

    @on(LengthEntry.Entered)
    def _take(self, event: LengthEntry.Entered) -> None:
        event.stop()
        self._use((*self.readings, TapeReading(self.start, event.value)))

    @on(EntryList.Removed)
    def _remove(self, event: EntryList.Removed) -> None:
        event.stop()
        self._use(self.readings[: event.place] + self.readings[event.place + 1 :])

    @on(EntryList.Picked)
    def _take_up(self, event: EntryList.Picked) -> None:
        """Put a reading back into the field, to be typed again."""
        event.stop()
        picked = self.readings[event.place]
        readings = self.readings[: event.place] + self.readings[event.place + 1 :]
        self._use(readings, picked.start)
        self._reading.put(picked.reading_mm)
        self.go_on()

    def go_on(self) -> None:
        """Put the cursor where readings are typed."""
        self._reading.focus()

    @on(Field.Changed)
    def _mind_own_typing(self, event: Field.Changed) -> None:
        event.stop()  # a reading counts when it is entered

    @on(Choice.Changed)
    def _measure_from(self, event: Choice.Changed) -> None:
        event.stop()
        self._use(self.readings, event.value)

    def _use(self, readings: tuple[TapeReading, ...], start: str | None = None) -> None:
        if self.sought is not None:
            self.readings = readings
            self._show(start or next_start(self.cabinet, self.sought, readings))
            self.post_message(self.Changed())

    def _show(self, start: str) -> None:
        cabinet, sought = self.cabinet, self.sought
        if sought is None:
            return
        self._start.offer([(one, one) for one in starts(cabinet, sought)], start)
        how = how_to_tape(sought.name, start, may_taper=may_taper(cabinet, sought))
        self._say("#how", how)
        # past a face a distance counts below zero, between two points it cannot
        is_face = start in tuple(Face)
        self._reading.limit = FROM_BAFFLE if is_face else BETWEEN_POINTS
        self.finding = finding(cabinet, sought, self.readings, self.units)
        self._taken.show([self._row(one) for one in self.readings])
        keep = " Press Ctrl+S to save it." if self.finding.found else ""
        self._say("#found", f"{self.finding.words}{keep}")

    def _say(self, selector: str, words: str) -> None:
        line = self.query_one(selector, Static)
        if line.content != words:
            line.update(words)

    def _row(self, reading: TapeReading) -> str:
        found = self.finding.found
        doubtful = "  ✗" if found is not None and reading == found.suspect else ""
        return f"{reading.start}  {format_length(reading.reading_mm, self.units.finer)}{doubtful}"
