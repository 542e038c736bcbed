"""What a stranger's driver may do wrong, put into a sentence that names it.

It may raise anything and lack anything: that becomes a ``MeterError`` like a lost link, which is
tried again, and ends nothing else. Every call into a driver is in
``witnessmark.meters.driver_calls``, and what comes out of one is checked in
``witnessmark.meters.driver_reports``.
"""

from __future__ import annotations

import asyncio
import contextlib
import functools
from collections.abc import Generator, Iterable

from witnessmark import ending
from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.meters.port import MeterError


class DriverFailed(MeterError):
    """The driver itself is at fault, not the meter."""

    @classmethod
    def because(cls, name: str, why: str) -> DriverFailed:
        """Return the sentence about the driver of this name."""
        return cls(
            f'the driver for "{name}:" failed ({why}); that is a fault of the driver, not of the '
            "meter: update or replace the package that brings it"
        )

    @classmethod
    def of_any(cls, why: str) -> DriverFailed | None:
        """Return the sentence about whichever driver was called, of several all; None: none was."""
        return cls.of(_called, why) if _called else None

    @classmethod
    def of(cls, names: Iterable[str], why: str) -> DriverFailed:
        """Return the sentence about the drivers of these names."""
        return cls.because(':" or "'.join(names), why)


_called: dict[str, None] = {}
"""The drivers that were ever called."""


@contextlib.contextmanager
def driver_faults_told(name: str) -> Generator[None]:
    """Put into a sentence what a driver raises that the port does not allow it to raise.

    Raises:
        DriverFailed: in its place, naming the driver by its scheme.
    """
    try:
        with _held_by(name) if name else contextlib.nullcontext():
            yield
    except (BadInput, MeterError, StopAsyncIteration, ending.Terminated):
        raise
    except KeyboardInterrupt as error:
        if ending.is_interrupted():
            raise
        raise DriverFailed.because(name, error_words(error)) from error
    except asyncio.CancelledError as error:
        if _is_cancelled():
            raise
        raise DriverFailed.because(name, "it cancelled itself") from error
    except GeneratorExit as error:
        if not _is_in_a_task():  # what was waiting is thrown away with its loop
            raise
        raise DriverFailed.because(name, "it ended itself") from error
    except BaseException as error:
        raise DriverFailed.because(name, error_words(error)) from error


def _held_by(name: str) -> contextlib.AbstractContextManager[None]:
    _called.setdefault(name)
    return ending.held_by(_kept_words(name), _current_task())


@functools.cache
def _kept_words(name: str) -> str:
    return str(DriverFailed.because(name, "it kept the program from ending"))


def _is_cancelled() -> bool:
    task = _current_task()
    return task is not None and task.cancelling() > 0


def _is_in_a_task() -> bool:
    return _current_task() is not None


def _current_task() -> asyncio.Task[object] | None:
    try:
        return asyncio.current_task()
    except RuntimeError:  # no loop runs
        return None


def error_words(error: BaseException) -> str:
    """Return what kind of error it is and what it says, in one short line."""
    try:
        return printable(f"{type(error).__name__}: {error}", 200)
    except Exception:  # noqa: BLE001 - even that may be a stranger's code
        return type(error).__name__
