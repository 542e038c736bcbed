"""What options take: lengths and units as people write them."""

from __future__ import annotations

import click

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
            click.echo(f"{where}: {length.note}", err=True)
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


LENGTH = LengthType()
UNITS = UnitsType()
