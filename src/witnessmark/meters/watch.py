"""Watching a meter: silence and a lost link become reports, and a lost meter is tried again."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator, Awaitable, Callable, Sequence
from typing import Final

from witnessmark.meters.driver_calls import meter_of, streaming, time_of
from witnessmark.meters.driver_reports import checked_report
from witnessmark.meters.port import Driver, Link, LinkState, MeterError, Report
from witnessmark.meters.running import LET_GO_S, TellFault

PAUSES_S: Final = (0.5, 1.0, 2.0, 4.0, 8.0)


async def watch(
    driver: Driver,
    *,
    quiet_after_s: float | None = 30.0,
    pauses_s: Sequence[float] = PAUSES_S,
    retry: bool = True,
    sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    left_behind: TellFault | None = None,
    let_go_s: float = LET_GO_S,
) -> AsyncGenerator[Report, None]:
    """Yield all that a driver reports, each once and in order, and the states of its link.

    ``Link(QUIET)`` once nothing has come from the open meter for ``quiet_after_s``, and again only
    after something came (None: never). ``Link(LOST)`` when the meter cannot be opened or is gone,
    once for as long as the words stay the same; it is tried again after each of ``pauses_s``, then
    always after the last, starting again when the meter has said something. ``Link(CLOSED)`` last,
    when the source ended by itself; without ``retry`` the end is the first ``Link(LOST)``.

    A driver that raises what it must not is lost in this sense too, and what it must not yield is
    noise; both name the driver.

    Closing this generator, or cancelling the task that waits for it, closes the driver's. One that
    does not close within ``let_go_s`` is left behind, and ``left_behind`` is told.

    Raises:
        BadInput: when the driver finds its source wrong.
    """
    attempts = 0
    lost_words = None
    while True:
        try:
            async with contextlib.aclosing(
                _with_silence(driver, quiet_after_s, left_behind, let_go_s)
            ) as reports:
                async for report in reports:
                    lost_words = None
                    if not isinstance(report, Link):
                        attempts = 0
                    yield report
        except MeterError as error:
            words = str(error)
        else:
            yield _link(driver, LinkState.CLOSED, "the meter closed")
            return
        if words != lost_words:
            yield _link(driver, LinkState.LOST, words)
        if not retry:
            return
        lost_words = words
        await sleep(pauses_s[min(attempts, len(pauses_s) - 1)])
        attempts += 1


async def _with_silence(
    driver: Driver, quiet_after_s: float | None, left_behind: TellFault | None, let_go_s: float
) -> AsyncGenerator[Report, None]:
    patience_s = None
    async with streaming(
        driver,
        lambda: driver.reports(),  # noqa: PLW0108 - the look for it is guarded, too
        left_behind=left_behind,
        let_go_s=let_go_s,
    ) as reports:
        while True:
            if not await reports.comes_within(patience_s):
                yield _link(driver, LinkState.QUIET, f"No reading for {patience_s:g} s")
            try:
                report = checked_report(driver, await reports.next())
            except StopAsyncIteration:
                return
            patience_s = quiet_after_s
            yield report


def _link(driver: Driver, state: LinkState, words: str) -> Link:
    return Link(state, words, time_of(driver), meter_of(driver))
