"""Fields that hand on one value after another."""

from __future__ import annotations

from dataclasses import dataclass

from textual import on
from textual.message import Message
from textual.widgets import Input

from witnessmark.app.widgets.field import Field
from witnessmark.app.widgets.length_input import LengthInput, NumberInput
from witnessmark.lengths import Units
from witnessmark.meters.text import typed_distance


class Entry(Field[float]):
    """Enter hands the value on and makes room for the next."""

    @dataclass
    class Entered(Message):
        """A value was entered, in the words in which it was typed."""

        entry: Entry
        value: float
        text: str

        @property
        def control(self) -> Entry:
            """The entry that it was typed in."""
            return self.entry

    @on(Input.Submitted)
    def _hand_on(self, event: Input.Submitted) -> None:
        event.stop()
        event.prevent_default()
        if self.value is None:
            self.complain()
            return
        value, text = self.value, event.value.strip()
        self.put(None)
        self.post_message(self.Entered(self, value, text))


class NumberEntry(Entry, NumberInput):
    """Numbers with a unit that is always the same."""


class LengthEntry(Entry, LengthInput):
    """Lengths, mm.

    Where ``bare_unit`` is given, numbers without a unit are in that, for they are a meter's.
    """

    def __init__(
        self,
        label: str,
        *,
        units: Units,
        least_mm: float = 0.0,
        bare_unit: str | None = None,
        hint: str = "",
        id: str | None = None,  # noqa: A002
    ) -> None:
        """``units`` are those of the limits where a length lies outside."""
        self.bare_unit = bare_unit
        super().__init__(label, units=units, least_mm=least_mm, hint=hint, id=id)

    def read(self, text: str) -> tuple[float, str | None]:
        """The length that was typed, mm, and a note on it."""
        if self.bare_unit is None:
            return super().read(text)
        return typed_distance(text, self.bare_unit)
