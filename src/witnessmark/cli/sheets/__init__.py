"""``witnessmark sheet``: what is printed, one file a sheet."""

from __future__ import annotations

from types import MappingProxyType

import click

from witnessmark.cli.table import CommandTable


class Sheets(CommandTable):
    """Every sheet there is."""

    package = "witnessmark.cli.sheets"
    table = MappingProxyType(
        {
            "layout": ("layout:layout_sheet", "The plan to scale with its tape marks."),
            "card": ("card:card_sheet", "How to put a mark back with a tape, on one page."),
            "template": ("template:template_sheet", "What a cabinet covers, at full size."),
            "report": ("report:report_sheet", "An evening: trials, grades, marks, symmetry."),
        }
    )


@click.group(cls=Sheets)
def sheet_group() -> None:
    """Make a sheet to print, as PDF or as SVG.

    Print at full size (100 %), never fitted to the page, and check the bars with a ruler.
    """
