"""Standard input as the keyboard of a driver that takes typed lines."""

from __future__ import annotations

import asyncio
import contextlib
import io
import sys
import threading
from collections.abc import Callable, Iterator
from typing import BinaryIO, cast

from witnessmark.cli.echo import echo
from witnessmark.meters.driver_faults import fire, waits_to_be_asked
from witnessmark.meters.port import Driver, MeterError, TakesLines


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
    if not isinstance(driver, TakesLines):
        yield
        return
    buffer = cast("io.BufferedReader", source or sys.stdin.buffer)
    with _reading(buffer, _LineCutter(driver)):
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
            self._driver.submit(line.decode(errors="replace"))
        if not data:
            self._driver.end()


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
