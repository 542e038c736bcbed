"""Every call into a driver: whatever it does or lacks is told with its name, and ends nothing else.

What a driver yields is awaited in a task of its own, so that one that takes no cancelling, or whose
clean-up never ends, can be left behind: its task then belongs to nobody, and the next meter, and
the end of the program, do not wait for it.
"""

from __future__ import annotations

import asyncio
import contextlib
import sys
from collections.abc import AsyncGenerator, Callable, Generator
from datetime import datetime
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from witnessmark import ending
from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.driver_faults import DriverFailed, driver_faults_told
from witnessmark.meters.port import CanFire, Clock, Driver, MeterError, TakesLines, utc_now
from witnessmark.meters.running import LET_GO_S, TellFault, ended, leave_behind

if TYPE_CHECKING:  # what is taught loads what reads profiles, which nobody waits for
    from witnessmark.meters.capture import OffersRawFrames, Question
    from witnessmark.meters.profile import Bluetooth, Serial

T = TypeVar("T")


def made(make: Callable[[Address, Clock], Driver], address: Address, clock: Clock) -> Driver:
    """Return a driver that has all that every driver has.

    Raises:
        BadInput: when the address cannot be right.
        MeterError: when the driver fails, or lacks something.
    """
    with driver_faults_told(address.scheme):
        driver = make(address, clock)
        is_there = {
            "scheme": isinstance(getattr(driver, "scheme", None), str),
            "address": isinstance(getattr(driver, "address", None), Address),
            "clock": callable(getattr(driver, "clock", None)),
        }
        if lacks := [name for name, there in is_there.items() if not there]:
            raise TypeError(f"it has no {', no '.join(lacks)}")
        return driver


def scheme_of(driver: object) -> str:
    """Return what a driver is called, whatever it lacks: what its meter was opened by."""
    address = _asked(lambda: driver.address)  # type: ignore[attr-defined]
    scheme = _asked(lambda: driver.scheme)  # type: ignore[attr-defined]
    if isinstance(address, Address):
        return address.scheme
    return scheme if isinstance(scheme, str) else type(driver).__name__


def meter_of(driver: object) -> str:
    """Return the address of a driver's meter, whatever the driver lacks."""
    text = _asked(lambda: driver.address.text)  # type: ignore[attr-defined]
    return text if isinstance(text, str) else f"{scheme_of(driver)}:"


def time_of(driver: object) -> datetime:
    """Return the time by a driver's clock, else by that of this computer."""
    at = _asked(lambda: driver.clock())  # type: ignore[attr-defined] # noqa: PLW0108 - it may have none
    return at if isinstance(at, datetime) and at.tzinfo is not None else utc_now()


def _asked(question: Callable[[], object]) -> object:
    try:
        with driver_faults_told(""):
            return question()
    except (BadInput, MeterError, StopAsyncIteration):
        return None


def waits_to_be_asked(driver: Driver | None) -> bool:
    """Return whether a meter measures only when it is asked to.

    Raises:
        DriverFailed: when the driver cannot say so.
    """
    if driver is None:
        return False
    with driver_faults_told(scheme_of(driver)):
        return isinstance(driver, CanFire) and bool(driver.waits)


def fire(driver: Driver | None) -> None:
    """Have a meter measure now, if it can be made to.

    Raises:
        MeterError: when the driver fails.
    """
    if driver is None:
        return
    with driver_faults_told(scheme_of(driver)):
        if isinstance(driver, CanFire):
            driver.fire()


def takes_lines(driver: object) -> TakesLines | None:
    """Return a driver that is handed what is typed; None when it is no such driver."""
    return driver if _asked(lambda: isinstance(driver, TakesLines)) else None  # type: ignore[return-value]


def takes_more_lines(driver: TakesLines) -> bool:
    """Return whether a driver has room for another line; one that does not say so always has."""
    return not _asked(lambda: getattr(driver, "is_full", False))


def submit(driver: TakesLines, line: str | None) -> None:
    """Hand a line to a driver; None: nothing more will be typed.

    Raises:
        BadInput, MeterError: when the driver does not take it.
    """
    with driver_faults_told(scheme_of(driver)):
        if line is None:
            driver.end()
        else:
            driver.submit(line)


def teachable(driver: object) -> OffersRawFrames | None:
    """Return a driver from whose meter one can learn; None when it is no such driver."""
    from witnessmark.meters.capture import OffersRawFrames  # noqa: PLC0415

    return driver if _asked(lambda: isinstance(driver, OffersRawFrames)) else None  # type: ignore[return-value]


def ask(driver: OffersRawFrames, question: Question) -> None:
    """Have the open meter measure.

    Raises:
        BadInput: when the question cannot be put to this meter.
        MeterError: when the driver fails.
    """
    with driver_faults_told(scheme_of(driver)):
        driver.ask(question)


def transport(
    driver: OffersRawFrames, channel: str, question: Question | None
) -> Serial | Bluetooth:
    """Return how frames of this channel are received.

    Raises:
        BadInput: when the question cannot be put to this meter.
        MeterError: when the driver fails.
    """
    from witnessmark.meters.profile import Bluetooth, Serial  # noqa: PLC0415

    with driver_faults_told(scheme_of(driver)):
        table = driver.transport(channel, question)
        if not isinstance(table, Serial | Bluetooth):
            raise TypeError("it does not say how its frames are received")
        return table


class DriverStream(Generic[T]):
    """What a driver yields, one after another. Made by ``streaming``."""

    def __init__(self, driver: object, items: AsyncGenerator[T, None]) -> None:
        self._name = scheme_of(driver)
        self._items = items
        self._coming: asyncio.Task[T] | None = None
        self._handing_on: asyncio.Task[None] | None = None

    async def comes_within(self, seconds: float | None) -> bool:
        """Wait for the next, and return whether it has come (None: for ever)."""
        if self._coming is None:
            self._coming = asyncio.create_task(self._next(), name=f"{self._name}: next")
        done, _ = await asyncio.wait({self._coming}, timeout=seconds)
        return bool(done)

    async def next(self) -> T:
        """Return the next that the driver yields.

        Raises:
            StopAsyncIteration: when nothing more comes.
            BadInput, MeterError: when the driver raises them.
            DriverFailed: when it raises anything else.
        """
        await self.comes_within(None)
        coming, self._coming = self._coming, None
        assert coming is not None  # noqa: S101 - begun just above
        with driver_faults_told(self._name):
            return coming.result()

    def hand_on(self, take: Callable[[T], object], end: Callable[[Exception], object]) -> None:
        """Hand on all that comes from now on, and last what ended it."""
        self._handing_on = asyncio.create_task(self._hand_on(take, end), name=f"{self._name}: all")

    async def _hand_on(
        self, take: Callable[[T], object], end: Callable[[Exception], object]
    ) -> None:
        try:
            while True:
                take(await self._next())
                await asyncio.sleep(0)  # or a driver that never waits would let nobody in
        except Exception as error:  # noqa: BLE001 - raised where what comes is awaited
            end(error)

    async def _next(self) -> T:
        with driver_faults_told(self._name):
            with _unknown_to_the_loop():
                coming = anext(self._items)
            return await coming

    async def close(self, within_s: float, left_behind: TellFault) -> None:
        """Close what the driver has open; left behind when it does not within so long."""
        closing = asyncio.create_task(self._close(), name=f"{self._name}: closing")
        cancelled = await ended(closing, within_s)
        if not closing.done() or getattr(self._items, "ag_frame", None) is not None:
            failed = DriverFailed.because(
                self._name, f"it did not let go of its meter within {within_s:g} s"
            )
            if closing.done():  # it goes on although it was closed
                ending.keep_left(self._items, str(failed))
            for task in (*self._at_work, closing):
                leave_behind(task, failed)
            left_behind(failed)
        if cancelled is not None:
            raise cancelled

    @property
    def _at_work(self) -> list[asyncio.Task[Any]]:
        return [task for task in (self._coming, self._handing_on) if task is not None]

    async def _close(self) -> None:
        for task in self._at_work:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
        # whatever that raises, nothing more is asked of it
        with (
            contextlib.suppress(MeterError, BadInput, StopAsyncIteration),
            driver_faults_told(self._name),
        ):
            await self._items.aclose()


@contextlib.contextmanager
def _unknown_to_the_loop() -> Generator[None]:
    """Keep the loop, as it ends, from closing a generator that is closed here or left behind."""
    hooks = sys.get_asyncgen_hooks()
    sys.set_asyncgen_hooks(None, None)
    try:
        yield
    finally:
        sys.set_asyncgen_hooks(*hooks)


@contextlib.asynccontextmanager
async def streaming(
    driver: object,
    begin: Callable[[], AsyncGenerator[T, None]],
    *,
    left_behind: TellFault | None = None,
    let_go_s: float = LET_GO_S,
) -> AsyncGenerator[DriverStream[T], None]:
    """Give what ``begin`` of a driver yields, and close it at the end, however often cancelled.

    Raises:
        MeterError: when it does not even begin.
    """
    with driver_faults_told(scheme_of(driver)):
        items = begin()
    stream = DriverStream(driver, items)
    try:
        yield stream
    finally:
        await stream.close(let_go_s, left_behind or (lambda _: None))
