"""Fields for lengths and for plain numbers."""

from __future__ import annotations

from witnessmark.app.widgets.field import Field
from witnessmark.errors import BadInput
from witnessmark.lengths import Units, format_length, parse_length


class LengthInput(Field[float]):
    """A length in any of the ways that people write one, shown in their units; its value is in mm.

    Lengths outside ``least_mm`` to ``most_mm`` are refused. Where less than zero is allowed, a sign
    may stand in front.
    """

    def __init__(
        self,
        label: str,
        value_mm: float | None = None,
        *,
        units: Units,
        least_mm: float = 0.0,
        most_mm: float = 100_000.0,
        hint: str = "",
        optional: bool = False,
        id: str | None = None,  # noqa: A002
    ) -> None:
        """``units`` are those in which a value is shown, not those in which it must be typed."""
        self.units, self.least_mm, self.most_mm = units, least_mm, most_mm
        super().__init__(label, value_mm, hint=hint, optional=optional, id=id)

    def show_in(self, units: Units) -> None:
        """Show the same length in other units; what cannot be read stays as it was typed."""
        self.units = units
        if self.value is not None:
            self.put(self.value)

    def read(self, text: str) -> tuple[float, str | None]:
        """The length that was typed, mm, and a note on it."""
        mm, note = parse_length(text, signed=self.least_mm < 0)
        if not self.least_mm <= mm <= self.most_mm:
            least, most = (
                format_length(limit, self.units) for limit in (self.least_mm, self.most_mm)
            )
            raise BadInput(f"{format_length(mm, self.units)} must lie between {least} and {most}")
        return mm, note

    def write(self, value: float) -> str:
        """The length in the person's units."""
        return format_length(value, self.units)


class NumberInput(Field[float]):
    """A number with a unit that is always the same, such as degrees."""

    def __init__(
        self,
        label: str,
        value: float | None = None,
        *,
        unit: str,
        least: float,
        most: float,
        hint: str = "",
        optional: bool = False,
        id: str | None = None,  # noqa: A002
    ) -> None:
        """``unit`` is shown after the number and may be typed after it."""
        self.unit, self.least, self.most = unit, least, most
        super().__init__(label, value, hint=hint, optional=optional, id=id)

    def read(self, text: str) -> tuple[float, str | None]:
        """The number that was typed."""
        bare = text.removesuffix(self.unit).strip().replace("\N{MINUS SIGN}", "-")
        try:
            number = float(bare.replace(",", ".", 1))
        except ValueError:
            raise BadInput(f'"{text}" is not a number; write it as {self.write(1.5)}') from None
        if not self.least <= number <= self.most:
            raise BadInput(
                f"{self.write(number)} must lie between "
                f"{self.write(self.least)} and {self.write(self.most)}"
            )
        return number, None

    def write(self, value: float) -> str:
        """The number to two decimals at most, with its unit."""
        space = "" if self.unit == "°" else " "
        return f"{round(value, 2):g}{space}{self.unit}"
