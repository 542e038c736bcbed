"""What options take: lengths, units and dates as people write them."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any, TypeVar

import click

from witnessmark.cli.echo import echo
from witnessmark.errors import BadInput, LengthError
from witnessmark.lengths import Units, parse_length

T = TypeVar("T")


class LengthType(click.ParamType[float]):
    """A length with its unit, or a bare number of mm; gives mm. Notes go to the standard error."""

    name = "length"

    def convert(
        self, value: str | float, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Read the length.

        Raises:
            LengthError: naming the option.
        """
        if not isinstance(value, str):
            return value
        where = param.opts[0] if param else "length"
        try:
            length = parse_length(value)
        except LengthError as error:
            raise LengthError(f"{where}: {error}") from None
        if length.note and not (ctx and ctx.resilient_parsing):
            echo(f"{where}: {length.note}", err=True)
        return length.mm


class Written(click.ParamType[T]):
    """A value as a person writes it, read by a function of the option's name and the text."""

    def __init__(self, name: str, read: Callable[[str, str], T]) -> None:
        self.name = name
        self._read = read

    def convert(
        self, value: str | T, param: click.Parameter | None, ctx: click.Context | None
    ) -> T:
        """Read the text; what is no text was read before."""
        if not isinstance(value, str):
            return value
        return self._read(param.opts[0] if param else self.name, value)


def _units(where: str, text: str) -> Units:
    """Return units by their text, in which spaces may be left out, as in ``1/16in``."""
    for units in Units:
        if text.replace(" ", "") == units.replace(" ", ""):
            return units
    raise BadInput(f'{where}: "{text}" is not one of {", ".join(Units)}')


def _moment(where: str, text: str, *, is_end: bool = False) -> datetime:
    """Return a time in UTC, of a date alone its first moment.

    For the end of a period that is the first moment of the day after.
    """
    try:
        moment = datetime.fromisoformat(text.strip())
        whole_day = len(text.strip()) <= len("2026-05-17")
        moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        moment = moment.astimezone(UTC)
        return moment + timedelta(days=1) if is_end and whole_day else moment
    except (ValueError, OverflowError):
        raise BadInput(
            f'{where}: "{text}" is not a date; write 2026-05-17 or 2026-05-17T21:30'
        ) from None


class FiniteRange(click.FloatRange):
    """A number in a range, in which click would let lie what is no number at all."""

    def convert(
        self,
        value: Any,  # noqa: ANN401 - as click has it
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> float:
        """Read the number."""
        number = float(super().convert(value, param, ctx))
        if math.isnan(number):
            self.fail(f"{value} is not a number", param, ctx)
        return number


LENGTH = LengthType()
COUNT = click.IntRange(1, 2**63 - 1)
"""How many, or which one: no more than a store can number."""
UNITS = Written("units", _units)
SINCE, UNTIL = Written("date", _moment), Written("date", partial(_moment, is_end=True))
