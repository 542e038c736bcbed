"""What options take: lengths and units as people write them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import click

from witnessmark.cli.echo import echo
from witnessmark.errors import BadInput, LengthError
from witnessmark.lengths import Units, parse_length


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


class UnitsType(click.ParamType[Units]):
    """What lengths are printed in; spaces may be left out, as in ``1/16in``."""

    name = "units"

    def convert(
        self,
        value: str | Units,
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Units:
        """Find the units by their text.

        Raises:
            BadInput: naming the units there are.
        """
        for units in Units:
            if value.replace(" ", "") == units.replace(" ", ""):
                return units
        raise BadInput(f'--units: "{value}" is not one of {", ".join(Units)}')


class MomentType(click.ParamType[datetime]):
    """A date, or a date and time, in UTC where no other zone is given.

    A date alone is its first moment; for the end of a period, the first of the day after.
    """

    name = "date"

    def __init__(self, *, is_end: bool = False) -> None:
        self._is_end = is_end

    def convert(
        self,
        value: str | datetime,
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> datetime:
        """Read the time.

        Raises:
            BadInput: naming the option.
        """
        if isinstance(value, datetime):
            return value
        try:
            moment = datetime.fromisoformat(value.strip())
            whole_day = len(value.strip()) <= len("2026-05-17")
            moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
            moment = moment.astimezone(UTC)
            return moment + timedelta(days=1) if self._is_end and whole_day else moment
        except (ValueError, OverflowError):
            where = param.opts[0] if param else "date"
            raise BadInput(
                f'{where}: "{value}" is not a date; write 2026-05-17 or 2026-05-17T21:30'
            ) from None


LENGTH = LengthType()
UNITS = UnitsType()
SINCE, UNTIL = MomentType(), MomentType(is_end=True)
