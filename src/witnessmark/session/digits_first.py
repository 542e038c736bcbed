"""When a reading is worked out: after its digits are painted, and with rests in between.

A person waits for the digits after each press of the button, and what follows from a reading takes
longer than to paint them. So it is put off by the time that painting takes; and where a meter sends
all the time it is worked out now and then, or the digits would wait for what it paints.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

_PAINT_DELAY_S = 0.004
"""Delay before a reading is worked out, so that its digits are painted first, seconds."""
_REST_S = 0.06
"""Least time from the end of one working out to the next, seconds."""


class DigitsFirst:
    """Does some work soon after it was asked for, once for all that ask until then."""

    def __init__(
        self, work: Callable[[], Awaitable[None]], watch_over: Callable[[asyncio.Task[None]], None]
    ) -> None:
        """``watch_over`` is called with each task that is to do the work."""
        self._work = work
        self._watch_over = watch_over
        self._task: asyncio.Task[None] | None = None
        self._is_asked = False
        self._rests_until = 0.0

    @property
    def is_awaited(self) -> bool:
        """Whether work was asked for and is not done."""
        return self._task is not None and not self._task.done()

    def ask(self) -> None:
        """Have the work done soon, once more where it is being done."""
        self._is_asked = True
        if not self.is_awaited:
            self._task = asyncio.create_task(self._work_soon(), name="what follows")
            self._watch_over(self._task)

    def stop(self) -> None:
        """Leave undone what was asked for."""
        if self._task is not None:
            self._task.cancel()

    async def _work_soon(self) -> None:
        now = asyncio.get_running_loop().time
        while self._is_asked:
            await asyncio.sleep(max(_PAINT_DELAY_S, self._rests_until - now()))
            self._is_asked = False
            await self._work()
            self._rests_until = now() + _REST_S
