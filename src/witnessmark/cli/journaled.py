"""What a meter brings to a command: on disk before it is printed, and what its link is like."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncGenerator
from typing import TYPE_CHECKING

from witnessmark.cli.echo import echo
from witnessmark.cli.keyboard import shooting_by_keyboard
from witnessmark.meters.port import Link, LinkState, MeterUnreachable
from witnessmark.sentences import refusal
from witnessmark.words.cautions import LASER

if TYPE_CHECKING:
    from witnessmark.errors import StoreError
    from witnessmark.meters.port import Driver, Report


@contextlib.asynccontextmanager
async def shooting(
    driver: Driver, *, with_unasked: bool = False
) -> AsyncGenerator[AsyncGenerator[Report, None], None]:
    """Give what a meter brings while the keyboard is its own or its button; see ``journaled``."""
    with shooting_by_keyboard(driver):
        async with contextlib.aclosing(journaled(driver, with_unasked=with_unasked)) as reports:
            yield reports


class LinkPrinter:
    """Prints on the standard error what becomes of a meter's link."""

    def __init__(self) -> None:
        self._was_open = False

    def show(self, link: Link) -> bool:
        """Print it, at first with the caution about the beam; return whether this was the first.

        Raises:
            MeterUnreachable: when the meter could not be opened in the first place.
        """
        if self._was_open:
            echo(f"{link.state}: {link.words}", err=True)
            return False
        if link.state is LinkState.LOST:
            raise MeterUnreachable(link.words)
        self._was_open = True
        echo(f"{link.state}: {link.words}", err=True)
        echo(LASER, err=True)
        return True


async def journaled(driver: Driver, *, with_unasked: bool = False) -> AsyncGenerator[Report, None]:
    """Yield all that a meter brings, each report after it was committed, outside any round.

    What cannot be stored is reported and not handed on. ``with_unasked`` is that of
    ``journaled_reports``.

    Raises:
        BadInput: when the driver finds its source wrong.
        StoreError: when the store cannot be opened.
    """
    from witnessmark.session.events import Part  # the store, only where used
    from witnessmark.session.meter import Destination, journaled_reports
    from witnessmark.store.journal import Journal
    from witnessmark.store.store import Store

    beside = Destination(Part.ASIDE, None)
    async with Journal(Store.open()) as journal:
        reports = journaled_reports(
            driver, journal, lambda: beside, _refuse, with_unasked=with_unasked
        )
        async with contextlib.aclosing(reports):
            async for report, _ in reports:
                yield report


def _refuse(error: StoreError) -> None:
    echo(f"not used, as it could not be stored: {refusal(error)}", err=True)
