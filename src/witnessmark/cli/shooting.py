"""A meter in a command: what is typed goes to it, and what it brings is kept, then printed."""

from __future__ import annotations

import asyncio
import contextlib
import io
import sys
import threading
from collections.abc import AsyncGenerator, Callable, Iterator
from typing import TYPE_CHECKING, BinaryIO, cast

from witnessmark.cli.echo import echo
from witnessmark.ending import at_the_last
from witnessmark.errors import WitnessmarkError
from witnessmark.meters.driver_calls import fire, submit, takes_lines, waits_to_be_asked
from witnessmark.meters.port import (
    Driver,
    Link,
    LinkState,
    MeterError,
    MeterUnreachable,
    TakesLines,
)
from witnessmark.sentences import refusal
from witnessmark.session.events import Part
from witnessmark.words.cautions import LASER

if TYPE_CHECKING:
    from witnessmark.errors import StoreError
    from witnessmark.meters.port import Driver, Report


@contextlib.contextmanager
def shooting_by_keyboard(driver: Driver) -> Iterator[None]:
    """While this is entered, typed lines are the meter's, or each of them has it measure.

    A line says so where it is the latter.
    """
    keyboard: object = driver
    if waits_to_be_asked(driver):
        echo("Press Enter to make the meter measure", err=True)
        keyboard = _AskedByEnter(driver)
    with keyboard_for(keyboard):
        yield


class _AskedByEnter:
    """Every line that is typed asks the meter."""

    def __init__(self, driver: Driver) -> None:
        self._driver = driver

    def submit(self, _line: str) -> None:
        try:
            fire(self._driver)
        except MeterError as error:
            echo(str(error), err=True)

    def end(self) -> None:
        """What was asked comes all the same."""


@contextlib.contextmanager
def keyboard_for(driver: object, source: BinaryIO | None = None) -> Iterator[None]:
    """While this is entered, the lines of standard input go to ``driver`` if it takes lines.

    ``source`` is read instead where given. No thread is left waiting for a key, save on Windows,
    where that cannot be helped.
    """
    taker = takes_lines(driver)
    if taker is None:
        yield
        return
    buffer = cast("io.BufferedReader", source or sys.stdin.buffer)
    with _reading(buffer, _LineCutter(taker)):
        yield


class _LineCutter:
    """Cuts what is typed into lines and submits them; no bytes are the end."""

    def __init__(self, driver: TakesLines) -> None:
        self._driver = driver
        self._pending = b""

    def feed(self, data: bytes) -> None:
        *lines, self._pending = (self._pending + data).split(b"\n")
        if not data:
            lines = [self._pending] if self._pending else []
        for line in lines:
            self._hand_in(line.decode(errors="replace"))
        if not data:
            self._hand_in(None)

    def _hand_in(self, line: str | None) -> None:
        try:
            submit(self._driver, line)
        except WitnessmarkError as error:
            echo(str(error), err=True)


@contextlib.contextmanager
def _reading(source: io.BufferedReader, lines: _LineCutter) -> Iterator[None]:
    loop = asyncio.get_running_loop()

    def read_what_is_there() -> None:
        data = _read(source)
        if not data:
            loop.remove_reader(source)
        lines.feed(data)

    def feed_from_thread(data: bytes) -> None:
        loop.call_soon_threadsafe(lines.feed, data)

    watched = False
    try:
        loop.add_reader(source, read_what_is_there)
        watched = True
    except (PermissionError, ValueError):  # a file, or no file at all: ready at any time
        _read_to_the_end(source, lines.feed)
    except NotImplementedError:
        arguments = (source, feed_from_thread)
        threading.Thread(target=_read_to_the_end, args=arguments, daemon=True).start()
    try:
        yield
    finally:
        if watched:
            loop.remove_reader(source)


def _read_to_the_end(source: io.BufferedReader, feed: Callable[[bytes], None]) -> None:
    while data := _read(source):
        feed(data)
    feed(b"")


def _read(source: io.BufferedReader) -> bytes:
    try:
        return source.read1(4096)
    except OSError:  # the terminal was closed
        return b""


@contextlib.asynccontextmanager
async def shooting(
    driver: Driver, *, with_unasked: bool = False
) -> AsyncGenerator[AsyncGenerator[Report, None], None]:
    """Give what a meter brings while the keyboard is its own or its button; see ``journaled``."""
    with shooting_by_keyboard(driver):
        async with contextlib.aclosing(journaled(driver, with_unasked=with_unasked)) as reports:
            yield reports


class LinkPrinter:
    """Prints on the standard error what becomes of a meter's link."""

    def __init__(self) -> None:
        self._was_open = False

    def show(self, link: Link) -> bool:
        """Print it, at first with the caution about the beam; return whether this was the first.

        Raises:
            MeterUnreachable: when the meter could not be opened in the first place.
        """
        if self._was_open:
            echo(f"{link.state}: {link.words}", err=True)
            return False
        if link.state is LinkState.LOST:
            raise MeterUnreachable(link.words)
        self._was_open = True
        echo(f"{link.state}: {link.words}", err=True)
        echo(LASER, err=True)
        return True


async def journaled(driver: Driver, *, with_unasked: bool = False) -> AsyncGenerator[Report, None]:
    """Yield all that a meter brings, each report after it was committed, outside any round.

    What cannot be stored is reported and not handed on. ``with_unasked`` is that of
    ``journaled_reports``.

    Raises:
        BadInput: when the driver finds its source wrong.
        StoreError: when the store cannot be opened.
    """
    # the store, only where used
    from witnessmark.session.meter import Destination, journaled_reports
    from witnessmark.store.journal import Journal
    from witnessmark.store.store import Store

    beside = Destination(Part.ASIDE, None)
    async with Journal(Store.open()) as journal:
        with at_the_last(journal.close):
            reports = journaled_reports(
                driver,
                journal,
                lambda: beside,
                _refuse,
                with_unasked=with_unasked,
                left_behind=tell_fault,
            )
            async with contextlib.aclosing(reports):
                async for report, _ in reports:
                    yield report


def tell_fault(words: object) -> None:
    """Say what a driver did wrong, beside what is printed."""
    echo(words, err=True)


def _refuse(error: StoreError) -> None:
    echo(f"not used, as it could not be stored: {refusal(error)}", err=True)
