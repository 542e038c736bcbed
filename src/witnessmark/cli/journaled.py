"""What a meter brings to a command: on disk before it is on the screen, as in the program."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncGenerator
from typing import TYPE_CHECKING

from witnessmark.cli.echo import echo
from witnessmark.sentences import refusal

if TYPE_CHECKING:
    from witnessmark.errors import StoreError
    from witnessmark.meters.port import Driver, Report


async def journaled(driver: Driver, *, with_unasked: bool = False) -> AsyncGenerator[Report, None]:
    """Yield all that a meter brings, each report after it was committed, outside any round.

    What cannot be stored is told and not handed on. ``with_unasked`` is that of
    ``journaled_reports``.

    Raises:
        BadInput: when the driver finds its source wrong.
        StoreError: when the store cannot be opened.
    """
    from witnessmark.session.events import Part  # noqa: PLC0415 - the store, only where used
    from witnessmark.session.meter import Destination, journaled_reports  # noqa: PLC0415
    from witnessmark.store.journal import Journal  # noqa: PLC0415
    from witnessmark.store.store import Store  # noqa: PLC0415

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
