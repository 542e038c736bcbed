"""What a stranger's driver may do wrong: raise anything, and yield anything.

Both are reported under the driver's name and end nothing: what it raises becomes a ``MeterError``
like a lost link, which is tried again, and what is no report of a meter becomes ``Noise``.
"""

from __future__ import annotations

import asyncio
import contextlib
import numbers
from collections.abc import AsyncGenerator, Generator
from datetime import UTC, datetime
from typing import Any, Final, TypeVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.meters.port import (
    CanFire,
    Driver,
    Fault,
    Link,
    LinkState,
    MeterError,
    Noise,
    Report,
)
from witnessmark.model import Reading
from witnessmark.model.limits import DISTANCE, LONGEST_MESSAGE

_LONGEST_TEXT: Final = 4000
T = TypeVar("T")


class DriverFailed(MeterError):
    """The driver itself is at fault, not the meter."""


@contextlib.contextmanager
def driver_faults_told(name: str) -> Generator[None]:
    """Put into a sentence what a driver raises that the port does not allow it to raise.

    Raises:
        DriverFailed: in its place, naming the driver by its scheme.
    """
    try:
        yield
    except (BadInput, MeterError, StopAsyncIteration):
        raise
    except (Exception, SystemExit) as error:
        raise DriverFailed(
            f'the driver for "{name}:" failed ({error_words(error)}); that is a fault of the '
            "driver, not of the meter: update or replace the package that brings it"
        ) from error


def error_words(error: BaseException) -> str:
    """Return what kind of error it is and what it says, in one short line."""
    try:
        return printable(f"{type(error).__name__}: {error}", 200)
    except Exception:  # noqa: BLE001 - even that may be a stranger's code
        return type(error).__name__


async def next_of(driver: Driver, reports: AsyncGenerator[T, None]) -> T:
    """Return the next that a driver yields.

    Raises:
        StopAsyncIteration: when nothing more comes.
        BadInput, MeterError: when the driver raises them.
        DriverFailed: when it raises anything else.
    """
    with driver_faults_told(driver.scheme):
        try:
            return await anext(reports)
        except asyncio.CancelledError:
            task = asyncio.current_task()
            if task is not None and task.cancelling():
                raise
            raise RuntimeError("it cancelled itself") from None
        except GeneratorExit:
            raise RuntimeError("it ended itself") from None


@contextlib.asynccontextmanager
async def closing(
    driver: Driver, reports: AsyncGenerator[T, None]
) -> AsyncGenerator[AsyncGenerator[T, None], None]:
    """Close what a driver yields at the end, whatever that raises: nothing more is asked of it."""
    try:
        yield reports
    finally:
        with contextlib.suppress(MeterError, BadInput), driver_faults_told(driver.scheme):
            await reports.aclose()


def waits_to_be_asked(driver: Driver | None) -> bool:
    """Return whether a meter measures only when it is asked to.

    Raises:
        DriverFailed: when the driver cannot say so.
    """
    with driver_faults_told(driver.scheme if driver else ""):
        return isinstance(driver, CanFire) and bool(driver.waits)


def fire(driver: Driver | None) -> None:
    """Have a meter measure now, if it can be made to.

    Raises:
        MeterError: when the driver fails.
    """
    with driver_faults_told(driver.scheme if driver else ""):
        if isinstance(driver, CanFire):
            driver.fire()


def checked_report(driver: Driver, report: object) -> Report:
    """Return a report if it is one that a meter can bring, else ``Noise`` that says why not."""
    try:
        why = _wrong(report)
    except Exception as error:  # noqa: BLE001 - as above
        why = error_words(error)
    if not why:
        return _plain(report)
    raw = getattr(report, "raw", b"")
    words = f'the driver for "{driver.scheme}:" reported {why}'
    kept = raw[:LONGEST_MESSAGE] if isinstance(raw, bytes) else b""
    return Noise(printable(words), driver.clock(), driver.address.text, kept)


def _plain(report: Any) -> Report:  # noqa: ANN401 - it was checked
    if isinstance(report, Reading) and type(report.distance_mm) is not float:
        return msgspec.structs.replace(report, distance_mm=float(report.distance_mm))
    checked: Report = report
    return checked


def _wrong(report: object) -> str:
    """Return what is wrong with a report; nothing where it is as it should be."""
    if not isinstance(report, Report):
        return f"{printable(repr(report), 40)}, which is nothing that a meter brings"
    if not (_is_text(report.meter) and _is_time(report.at)):
        return "no meter and time in UTC"
    raw = getattr(report, "raw", b"")
    if not (isinstance(raw, bytes) and len(raw) <= LONGEST_MESSAGE):
        return "no bytes of a message"
    return _wrong_distance(report.distance_mm) if isinstance(report, Reading) else _untold(report)


def _wrong_distance(mm: object) -> str:
    if not isinstance(mm, numbers.Real) or isinstance(mm, bool):
        return f"{printable(repr(mm), 40)} for a distance"
    return (
        "" if DISTANCE.admits(float(mm)) else f"a distance of {float(mm):g} mm, which none can be"
    )


def _untold(report: Fault | Noise | Link) -> str:
    match report:
        case Fault(fault=words) | Noise(why=words):
            is_told = _is_text(words)
        case Link(state=state, words=words):
            is_told = isinstance(state, LinkState) and _is_text(words)
    return "" if is_told else f"no sentence of up to {_LONGEST_TEXT} signs"


def _is_text(words: object) -> bool:
    return isinstance(words, str) and len(words) <= _LONGEST_TEXT


def _is_time(at: object) -> bool:
    if not isinstance(at, datetime) or at.utcoffset() is None:
        return False
    at.astimezone(UTC)  # raises past the last year
    return True
