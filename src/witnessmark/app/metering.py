"""From a meter to the journal and on: nothing is handed on before it is on disk."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncGenerator, Callable

from witnessmark.errors import StoreError
from witnessmark.meters.port import CanFire, Driver, Link, LinkState, Report
from witnessmark.meters.watch import watch
from witnessmark.store.journal import Journal

OpenDriver = Callable[[str], Driver]
"""Gives the driver for an address; the meter is not touched yet."""


async def journaled(
    driver: Driver,
    journal: Journal,
    round_id: Callable[[], int | None],
    refused: Callable[[StoreError], object],
) -> AsyncGenerator[Report, None]:
    """All that a meter brings, each report after it was committed to the journal.

    ``round_id`` gives the round that a report is journaled under when it comes. A meter that waits
    to be asked is asked as it is opened, when nobody holds it to anything: what it answers then is
    journaled outside any round, and not handed on. Nor is what cannot be stored: ``refused`` is
    told why, and the meter is listened to further, for the disk may have room again for the next.

    Raises:
        BadInput: when the driver finds its source wrong.
    """
    asked_by_nobody = False
    async with contextlib.aclosing(watch(driver)) as reports:
        async for report in reports:
            if isinstance(report, Link):
                is_open = report.state is LinkState.OPEN
                asked_by_nobody = is_open and isinstance(driver, CanFire) and driver.waits
                yield report
                continue
            is_of_none, asked_by_nobody = asked_by_nobody, False
            try:
                await journal.append(None if is_of_none else round_id(), report)
            except StoreError as error:
                refused(error)
                continue
            if not is_of_none:
                yield report
