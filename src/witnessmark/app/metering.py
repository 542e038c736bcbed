"""From a meter to the journal and on: nothing is handed on before it is on disk."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Callable

from witnessmark.meters.port import Driver, Fault, Noise, Report
from witnessmark.meters.watch import watch
from witnessmark.model import Reading
from witnessmark.store.journal import Journal

OpenDriver = Callable[[str], Driver]
"""Gives the driver for an address; the meter is not touched yet."""


async def journaled(
    driver: Driver, journal: Journal, round_id: Callable[[], int | None]
) -> AsyncIterator[Report]:
    """All that a meter brings, each report after it was committed to the journal.

    ``round_id`` gives the round that a report is journaled under when it comes.

    Raises:
        StoreError: when a report cannot be stored; it is not handed on then.
        BadInput: when the driver finds its source wrong.
    """
    async with contextlib.aclosing(watch(driver)) as reports:
        async for report in reports:
            if isinstance(report, Reading | Fault | Noise):
                await journal.append(round_id(), report)
            yield report
