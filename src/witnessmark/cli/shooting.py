"""A meter in a command: what is typed goes to it, and what it brings is kept, then printed."""

from __future__ import annotations

import asyncio
import contextlib
import io
import sys
import threading
from collections.abc import AsyncGenerator, Callable, Iterator
from typing import TYPE_CHECKING, BinaryIO, Final, Self, cast

from witnessmark.cli.echo import echo
from witnessmark.ending import at_the_last
from witnessmark.errors import BadInput, WitnessmarkError
from witnessmark.meters.driver_calls import (
    fire,
    submit,
    takes_lines,
    takes_more_lines,
    waits_to_be_asked,
)
from witnessmark.meters.port import (
    Driver,
    Link,
    LinkState,
    MeterError,
    MeterUnreachable,
    Noise,
    TakesLines,
)
from witnessmark.sentences import refusal
from witnessmark.session.events import Part
from witnessmark.words.cautions import LASER

if TYPE_CHECKING:
    from witnessmark.errors import StoreError
    from witnessmark.meters.port import Driver, Report


_LONGEST_LINE: Final = 4000
"""Longest line that is typed, bytes; far above any distance."""
_MOST_REFUSED: Final = 20
_PAUSE_S: Final = 0.02
_READS_A_TURN: Final = 16


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
    with _Keyboard(buffer, _LineCutter(taker)):
        yield


class _LineCutter:
    """Cuts what is typed into lines and submits them; no bytes are the end."""

    def __init__(self, driver: TakesLines) -> None:
        self._driver = driver
        self._pending = b""
        self._is_overlong = False

    @property
    def takes_more(self) -> bool:
        return takes_more_lines(self._driver)

    def feed(self, data: bytes) -> None:
        *ends, rest = data.split(b"\n")
        for end in ends:
            self._hand_in(self._pending + end)
            self._pending = b""
        # of a line without end no more is kept than shows that it is one
        self._pending = (self._pending + rest)[: _LONGEST_LINE + 1]
        if len(self._pending) > _LONGEST_LINE:
            self._tell_overlong()  # it may have no end
        if not data:
            if self._pending:
                self._hand_in(self._pending)
            self._submit(None)

    def _hand_in(self, line: bytes) -> None:
        if len(line) > _LONGEST_LINE:
            self._tell_overlong()
        else:
            self._submit(line.decode(errors="replace"))
        self._is_overlong = False

    def _tell_overlong(self) -> None:
        if not self._is_overlong:
            echo(f"a line of over {_LONGEST_LINE} signs is left out", err=True)
        self._is_overlong = True

    def _submit(self, line: str | None) -> None:
        try:
            submit(self._driver, line)
        except WitnessmarkError as error:
            echo(str(error), err=True)


class _Keyboard:
    """Reads what is typed, no faster than it is taken: the rest waits where it comes from."""

    def __init__(self, source: io.BufferedReader, lines: _LineCutter) -> None:
        self._source = source
        self._lines = lines
        self._loop = asyncio.get_running_loop()
        self._is_watched = False
        self._later: asyncio.Handle | None = None

    def __enter__(self) -> Self:
        try:
            self._watch()
        except (PermissionError, ValueError):  # a file, or no file at all: ready at any time
            self._read_on()
        except NotImplementedError:
            arguments = (self._source, self._feed_from_thread)
            threading.Thread(target=_read_to_the_end, args=arguments, daemon=True).start()
        return self

    def __exit__(self, *_exc: object) -> None:
        self._stop_watching()
        if self._later is not None:
            self._later.cancel()

    def _watch(self) -> None:
        self._loop.add_reader(self._source, self._read_what_is_there)
        self._is_watched = True

    def _stop_watching(self) -> None:
        if self._is_watched:
            self._loop.remove_reader(self._source)
        self._is_watched = False

    def _read_what_is_there(self) -> None:
        if not self._lines.takes_more:
            self._stop_watching()
            self._later = self._loop.call_later(_PAUSE_S, self._watch)
        elif not self._read_some():
            self._stop_watching()

    def _read_on(self) -> None:
        for _ in range(_READS_A_TURN):
            if not self._lines.takes_more:
                self._later = self._loop.call_later(_PAUSE_S, self._read_on)
                return
            if not self._read_some():
                return
        self._later = self._loop.call_soon(self._read_on)

    def _read_some(self) -> bytes:
        data = _read(self._source)
        self._lines.feed(data)
        return data

    def _feed_from_thread(self, data: bytes) -> None:
        self._loop.call_soon_threadsafe(self._lines.feed, data)


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
        async with (
            contextlib.aclosing(journaled(driver, with_unasked=with_unasked)) as reports,
            contextlib.aclosing(_while_typed_rightly(driver, reports)) as rightly,
        ):
            yield rightly


async def _while_typed_rightly(
    driver: Driver, reports: AsyncGenerator[Report, None]
) -> AsyncGenerator[Report, None]:
    """Hand on what comes, unless a program types what is no distance, on and on.

    Raises:
        BadInput: when it does.
    """
    refusals = Refusals("distance") if takes_lines(driver) else None
    async for report in reports:
        yield report
        if refusals is not None and not isinstance(report, Link):
            refusals.note(isinstance(report, Noise))


class Refusals:
    """Counts what is typed wrongly, one after another: no person does that for long."""

    def __init__(self, wanted: str) -> None:
        """``wanted`` is what should be typed."""
        self._wanted = wanted
        self._in_a_row = 0

    def note(self, is_refused: bool) -> None:
        """Take note of what was typed.

        Raises:
            BadInput: when too much of it was wrong, and it is no person who types.
        """
        self._in_a_row = self._in_a_row + 1 if is_refused else 0
        if self._in_a_row >= _MOST_REFUSED and not sys.stdin.isatty():
            raise BadInput(
                f"the last {self._in_a_row} lines of the standard input were no {self._wanted}; "
                "give one a line, such as 1512 mm"
            )


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
