"""From a meter to the journal and on: nothing is handed on before it is on disk."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncGenerator, Callable

from witnessmark.meters.port import CanFire, Driver, Link, LinkState, Report
from witnessmark.meters.watch import watch
from witnessmark.store.journal import Journal

OpenDriver = Callable[[str], Driver]
"""Gives the driver for an address; the meter is not touched yet."""


async def journaled(
    driver: Driver, journal: Journal, round_id: Callable[[], int | None]
) -> AsyncGenerator[Report, None]:
    """All that a meter brings, each report after it was committed to the journal.

    ``round_id`` gives the round that a report is journaled under when it comes. A meter that waits
    to be asked is asked as it is opened, when nobody holds it to anything: what it answers then is
    journaled outside any round, and not handed on.

    Raises:
        StoreError: when a report cannot be stored; it is not handed on then.
        BadInput: when the driver finds its source wrong.
    """
    asked_by_nobody = False
    async with contextlib.aclosing(watch(driver)) as reports:
        async for report in reports:
            if isinstance(report, Link):
                is_open = report.state is LinkState.OPEN
                asked_by_nobody = is_open and isinstance(driver, CanFire) and driver.waits
            elif asked_by_nobody:
                asked_by_nobody = False
                await journal.append(None, report)
                continue
            else:
                await journal.append(round_id(), report)
            yield report
