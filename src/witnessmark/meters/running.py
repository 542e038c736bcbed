"""Running what listens to meters up to its end, which no driver puts off.

A driver may leave tasks, generators and threads behind that take no cancelling, raise what ends an
event loop, or stop the loop itself. All of that is told with the driver's name, and ends nothing.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from functools import partial
from types import TracebackType
from typing import Any, Final, TypeVar

from witnessmark import ending
from witnessmark.meters.driver_faults import DriverFailed, error_words

T = TypeVar("T")

LET_GO_S: Final = 6.0
"""Longest time, seconds, that a driver may take to close its meter; Bluetooth may take five."""
TellFault = Callable[[DriverFailed], object]
"""Is told what a driver did for which nobody waits."""


def run(
    main: Coroutine[Any, Any, T],
    tell: TellFault,
    *,
    leave: ending.Leave | None = None,
    let_go_s: float = LET_GO_S,
) -> T:
    """Run ``main`` in an event loop of its own, and return what it returns.

    A signal cancels it, or has ``leave`` called in the loop. ``tell`` is told what drivers leave
    behind beside their meter, and what their own tasks raise.

    Raises:
        KeyboardInterrupt: when Ctrl-C cancelled it.
        Terminated: when the system did.
        DriverFailed: when a driver did.
    """
    runner, left = asyncio.Runner(), list[asyncio.Task[Any]]()
    loop = runner.get_loop()
    loop.set_exception_handler(partial(_tell_of_loop, tell))
    task = loop.create_task(_to_its_end(main, left, let_go_s), name="all")
    signals: list[int] = []

    def hear(number: int) -> None:
        ending.heard()
        signals.append(number)
        if leave is None:
            task.cancel()
        else:
            leave(number)

    with ending.asked_by(
        lambda number: loop.call_soon_threadsafe(hear, number), lambda: asyncio.current_task(loop)
    ):
        _run_through(runner, task, tell)
    if left:
        _leave_all(runner, left, tell)
    else:
        runner.close()
    if task.cancelled():
        if signals:
            raise ending.interruption(signals[0])
        if failed := DriverFailed.of_any("it cancelled what is not its own"):
            raise failed
    return task.result()


def _run_through(runner: asyncio.Runner, task: asyncio.Task[T], tell: TellFault) -> None:
    """Run a task to its end, although somebody's own task or callback stops or ends its loop."""
    while not task.done():
        try:
            runner.get_loop().run_until_complete(task)
        except BaseException as error:
            if task.done():
                return
            failed = DriverFailed.of_any(error_words(error))
            if failed is None:
                runner.close()
                raise
            tell(failed)


def _leave_all(runner: asyncio.Runner, left: list[asyncio.Task[Any]], tell: TellFault) -> None:
    # those of a driver are called by it
    named = dict.fromkeys(name for task in left if (name := _driver_of(task)))
    why = "it left something behind that does not end"
    failed = DriverFailed.of(named, why) if named else DriverFailed.of_any(why)
    ending.keep_left((runner, left), str(failed or ""))
    if failed is not None:
        tell(failed)


def _driver_of(task: asyncio.Task[Any]) -> str:
    name, is_of_driver, _ = task.get_name().partition(": ")
    return name if is_of_driver else ""


async def _to_its_end(
    main: Coroutine[Any, Any, T], left: list[asyncio.Task[Any]], let_go_s: float
) -> T:
    """Return what ``main`` returns, when nothing else runs any more; ``left`` gets what does."""
    try:
        return await main
    finally:
        others = asyncio.all_tasks() - {asyncio.current_task()}
        closing = asyncio.create_task(_end_all(others), name="closing")
        cancelled = await ended(closing, let_go_s)
        left += (task for task in (*others, closing) if not task.done())
        for task in left:
            leave_behind(task)
        if cancelled is not None:
            raise cancelled


async def _end_all(tasks: set[asyncio.Task[Any]]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    loop = asyncio.get_running_loop()
    await loop.shutdown_asyncgens()
    await loop.shutdown_default_executor()


def _tell_of_loop(
    tell: TellFault, loop: asyncio.AbstractEventLoop, context: dict[str, Any]
) -> None:
    """Tell what a task or callback raised for which nobody waits, if it may be a driver's."""
    error = context.get("exception")
    # it raised as it was closed, when nothing more is asked of it; or it was told already
    if "asyncgen" in context or isinstance(error, SystemExit | KeyboardInterrupt):
        return
    failed = None
    if isinstance(error, BaseException) and not _is_ours(error.__traceback__):
        failed = DriverFailed.of_any(error_words(error))
    if failed is not None:
        tell(failed)
    else:
        loop.default_exception_handler(context)


def _is_ours(trace: TracebackType | None) -> bool:
    while trace is not None:
        if str(trace.tb_frame.f_globals.get("__name__")).startswith("witnessmark"):
            return True
        trace = trace.tb_next
    return False


async def ended(task: asyncio.Task[Any], within_s: float) -> asyncio.CancelledError | None:
    """Wait for a task, however often that is cancelled, but no longer than so long.

    The last cancelling is returned, for who waits to raise it afterwards.
    """
    loop = asyncio.get_running_loop()
    until_s, cancelled = loop.time() + within_s, None
    while not task.done() and (left_s := until_s - loop.time()) > 0:
        try:
            await asyncio.wait({task}, timeout=left_s)
        except asyncio.CancelledError as error:
            cancelled = error
    return cancelled


def leave_behind(task: asyncio.Task[Any], failed: DriverFailed | None = None) -> None:
    """Have nobody wait for a task any more, neither the loop as it ends; ``failed`` tells why."""
    asyncio._unregister_task(task)  # noqa: SLF001 - documented, under "Extending"
    task._log_destroy_pending = False  # type: ignore[attr-defined] # noqa: SLF001 - it was told
    forget = ending.keep_left(task, str(failed or ""))

    def end(late: asyncio.Task[Any]) -> None:
        forget()
        if not late.cancelled():
            late.exception()

    task.add_done_callback(end)
