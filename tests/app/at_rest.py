"""When an app has nothing left to do, whatever the machine has to do besides.

Textual's pilot waits until the process spends little of its time computing. On a busy machine that
comes too early, for the process gets little time, and on any machine it takes 20 ms at least.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from functools import partial
from typing import Any

from patience import HUNG_S, until
from textual.app import App
from textual.message_pump import MessagePump
from textual.screen import Screen

from witnessmark.app.app import WitnessmarkApp

_paint = Screen._compositor_refresh
_SOON_S = 0.1
"""A timer as short as this belongs to what is under way; a longer one is for later."""


async def loop_at_rest(*_: float) -> None:
    """Wait until every task waits for a timer, a thread or what comes from outside."""
    loop: Any = asyncio.get_running_loop()
    quiet = 0
    while quiet < 2:  # twice, for what has come from outside is seen between two rounds
        await asyncio.sleep(0)
        quiet = 0 if loop._ready else quiet + 1


async def at_rest(app: App[Any]) -> None:
    """Wait until all is handled and laid out, short timers have run out and workers are done.

    Workers that listen to a meter go on as long as it does.
    """
    async with asyncio.timeout(HUNG_S):
        await loop_at_rest()
        while app._exception is None and (step := _next(app)):
            await step()
            await loop_at_rest()


async def until_in(app: App[Any], happened: Callable[[], object]) -> None:
    """Wait until something has happened that may be seen on the screen alone."""

    def looked() -> object:
        return happened() or (_lay_out(app) and happened())

    await until(looked)


def put_off_painting(screen: Screen[Any]) -> None:
    """Leave painting to ``paint``: nobody looks at most frames."""
    screen._dirty_widgets.clear()


def paint(app: App[Any]) -> None:
    """Send the terminal all that was put off."""
    if app.is_running and app.screen._compositor._dirty_regions:
        _paint(app.screen)


def _next(app: App[Any]) -> Callable[[], Awaitable[object]] | None:
    passing = [worker for worker in app.workers if worker.group != "meter"]
    if passing:
        # some wait for the first frame
        is_due = isinstance(app, WitnessmarkApp) and not app.painted.is_set() and _lay_out(app)
        return loop_at_rest if is_due else partial(app.workers.wait_for_complete, passing)
    pumps: list[MessagePump] = [app, *app._registry]
    session = getattr(app, "session", None)  # not every app of a test has one
    if (session and session.is_behind) or any(_is_busy(pump) for pump in pumps):
        return _a_moment
    if _lay_out(app):
        return loop_at_rest
    timers = [timer for pump in pumps for timer in pump._timers]
    if any(timer._active.is_set() and timer._interval < _SOON_S for timer in timers):
        return _a_moment
    if app.animator._animations or app.animator._scheduled:
        return app.animator.wait_until_complete
    return None


def _is_busy(pump: MessagePump) -> bool:
    """Whether a message is being handled, or lies there to be."""
    ready: Any = pump._message_queue.ready_event
    return pump.is_running and (ready.is_set() or not ready._waiters)


def _lay_out(app: App[Any]) -> bool:
    """Begin the next frame, if one is due."""
    is_due = bool(app.screen_stack) and _is_stale(app.screen)
    if is_due:
        app.screen._on_timer_update()
    return is_due


def _is_stale(screen: Screen[Any]) -> bool:
    return bool(
        screen._layout_required
        or screen._scroll_required
        or screen._repaint_required
        or screen._recompose_required
        or screen._dirty_widgets
        or screen._callbacks
    )


async def _a_moment() -> None:
    await asyncio.sleep(0.001)
