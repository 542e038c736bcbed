"""Fields for lengths and plain numbers, and those that hand on one after another."""

from __future__ import annotations

from dataclasses import dataclass

from textual import on
from textual.message import Message
from textual.widgets import Input

from witnessmark.app.forms.field import Field
from witnessmark.errors import BadInput
from witnessmark.lengths import (
    Units,
    asked_back,
    format_length,
    format_small,
    meant_in_metres,
    parse_length,
)
from witnessmark.model.limits import LENGTH, Limit


class LengthInput(Field[float]):
    """A length in any of the ways that people write one, shown in their units; its value is in mm.

    Lengths outside its ``limit`` are refused. Where less than zero is allowed, a sign may stand in
    front. A bare number that is likely in metres is asked back: Enter takes it so.
    """

    def __init__(
        self,
        label: str,
        value_mm: float | None = None,
        *,
        units: Units,
        limit: Limit = LENGTH,
        hint: str = "",
        optional: bool = False,
        is_figure: bool = False,
        id: str | None = None,
    ) -> None:
        """``units`` are those in which a value is shown, not those in which it must be typed.

        What ``is_figure`` of a meter is too small for fractions of an inch.
        """
        self.units, self.limit, self._is_figure = units, limit, is_figure
        super().__init__(label, value_mm, hint=hint, optional=optional, id=id)

    def show_in(self, units: Units) -> None:
        """Show the same length in other units; what cannot be read stays as it was typed."""
        self.units = units
        if self.value is not None:
            self.put(self.value)

    def read(self, text: str) -> tuple[float, str | None]:
        mm, note = parse_length(text, signed=self.limit.least < 0)
        if metres := self.meant(text):
            raise BadInput(asked_back(metres, text))
        if not self.limit.admits(mm):
            raise BadInput(f"{self.write(mm)} must lie {self.limit.words(self.write)}")
        return mm, note

    def write(self, value: float) -> str:
        if self._is_figure and not self.units.is_metric:
            return format_small(value, self.units, fine=True)
        return format_length(value, self.units)

    def meant(self, text: str) -> str | None:
        """Return the same number with its unit, where it fits the field as metres."""
        metres = meant_in_metres(text)
        fits = metres is not None and self.limit.admits(parse_length(metres).mm)
        return metres if fits else None


class NumberInput(Field[float]):
    """A number with a unit that is always the same, such as degrees."""

    def __init__(
        self,
        label: str,
        value: float | None = None,
        *,
        limit: Limit,
        hint: str = "",
        optional: bool = False,
        id: str | None = None,
    ) -> None:
        """The unit of the ``limit`` is shown after the number and may be typed after it."""
        self.unit, self.limit = limit.unit, limit
        super().__init__(label, value, hint=hint, optional=optional, id=id)

    def read(self, text: str) -> tuple[float, str | None]:
        bare = text.removesuffix(self.unit).strip().replace("\N{MINUS SIGN}", "-")
        try:
            number = float(bare.replace(",", ".", 1))
        except ValueError:
            raise BadInput(f'"{text}" is not a number; write it as {self.write(1.5)}') from None
        if not self.limit.admits(number):
            raise BadInput(f"{self.write(number)} must lie {self.limit.words(self.write)}")
        return number, None

    def write(self, value: float) -> str:
        space = "" if self.unit == "°" else " "
        return f"{round(value, 2):g}{space}{self.unit}"


class ValueEntry(Field[float]):
    """Enter hands the value on and makes room for the next."""

    @dataclass
    class Entered(Message):
        """A value was entered, in the words in which it was typed."""

        entry: ValueEntry
        value: float
        text: str

        @property
        def control(self) -> ValueEntry:
            return self.entry

    @on(Input.Submitted)
    def _hand_on(self, event: Input.Submitted) -> None:
        event.stop()
        event.prevent_default()
        if self.is_corrected(event):
            return
        if self.value is None:
            self.complain()
            return
        value, text = self.value, event.value.strip()
        self.put(None)
        self.post_message(self.Entered(self, value, text))


class NumberEntry(ValueEntry, NumberInput):
    """Numbers with a unit that is always the same."""


class LengthEntry(ValueEntry, LengthInput):
    """Lengths, mm.

    Where another ``bare_unit`` than the millimetre is given, numbers without a unit are in that,
    for they are a meter's.
    """

    def __init__(
        self,
        label: str,
        *,
        units: Units,
        limit: Limit = LENGTH,
        bare_unit: str | None = None,
        hint: str = "",
        id: str | None = None,
    ) -> None:
        """``units`` are those of the limits where a length lies outside."""
        self.bare_unit = bare_unit
        super().__init__(label, units=units, limit=limit, hint=hint, id=id)

    def read(self, text: str) -> tuple[float, str | None]:
        if self.bare_unit in (None, "mm"):
            return super().read(text)
        from witnessmark.meters.text import typed_distance  # noqa: PLC0415 - reads all that meters write

        return typed_distance(text, self.bare_unit)
