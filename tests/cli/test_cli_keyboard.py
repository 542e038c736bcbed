from __future__ import annotations

import asyncio
import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import pytest
from patience import HUNG_S, until

from witnessmark.cli import shooting
from witnessmark.cli.shooting import keyboard_for
from witnessmark.cli.teaching import Teaching
from witnessmark.errors import BadInput
from witnessmark.lengths import parse_length
from witnessmark.meters.lesson import MeterLimits


class Listener:
    """Takes lines and notes them; the end is None."""

    def __init__(self) -> None:
        self.taken: asyncio.Queue[str | None] = asyncio.Queue()

    def submit(self, line: str) -> None:
        self.taken.put_nowait(line)

    def end(self) -> None:
        self.taken.put_nowait(None)

    async def all(self) -> list[str | None]:
        lines = [await self.taken.get()]
        while lines[-1] is not None:
            lines.append(await self.taken.get())
        return lines


@pytest.fixture
def pipe() -> Iterator[tuple[int, io.BufferedReader]]:
    reading, writing = os.pipe()
    with os.fdopen(reading, "rb") as source:
        yield writing, source


async def come_through(source: BinaryIO) -> None:
    """Wait until the loop has seen that there is something to read, and leave it there."""
    seen = asyncio.Event()
    with os.fdopen(os.dup(source.fileno()), "rb") as same:
        asyncio.get_running_loop().add_reader(same, seen.set)
        await seen.wait()
        asyncio.get_running_loop().remove_reader(same)


async def test_lines_come_as_they_are_typed(pipe: tuple[int, io.BufferedReader]) -> None:
    writing, source = pipe
    listener = Listener()
    with keyboard_for(listener, source):
        os.write(writing, b"1512\n15")
        assert await listener.taken.get() == "1512"
        os.write(writing, b"13\n1514")
        assert await listener.taken.get() == "1513"
        os.close(writing)
        assert await listener.all() == ["1514", None]


async def test_a_terminal_is_read_without_a_thread_and_may_hang_up() -> None:
    master, slave = os.openpty()
    listener = Listener()
    with os.fdopen(slave, "rb") as source, keyboard_for(listener, source):
        os.write(master, b"1512\n")
        assert await listener.taken.get() == "1512"
        os.close(master)
        assert await listener.all() == [None]


async def test_leaving_stops_the_reading(pipe: tuple[int, io.BufferedReader]) -> None:
    writing, source = pipe
    listener = Listener()
    with keyboard_for(listener, source):
        pass
    os.write(writing, b"1512\n")
    await come_through(source)
    os.close(writing)
    assert listener.taken.empty()


@pytest.fixture(params=["file", "memory"])
def two_lines(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[BinaryIO]:
    text = b"1512\n1513"
    (tmp_path / "typed").write_bytes(text)
    is_file = request.param == "file"
    with (tmp_path / "typed").open("rb") if is_file else io.BytesIO(text) as source:
        yield source


async def test_what_is_no_terminal_is_read_to_its_end(two_lines: BinaryIO) -> None:
    listener = Listener()
    with keyboard_for(listener, two_lines):
        assert await listener.all() == ["1512", "1513", None]


async def test_a_line_without_end_is_not_kept_and_told_as_none(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = []
    feed = shooting._LineCutter.feed

    def looked_at(cutter: shooting._LineCutter, data: bytes) -> None:
        feed(cutter, data)
        kept.append(len(cutter._pending))

    monkeypatch.setattr(shooting._LineCutter, "feed", looked_at)
    listener = Listener()
    with keyboard_for(listener, io.BytesIO(b"1512" + b" " * 100_000 + b"13\n1514\n")):
        assert await listener.all() == ["1514", None]
    assert max(kept) < 5000
    assert capsys.readouterr().err == "a line of over 4000 signs is left out\n"


async def test_a_driver_that_takes_no_lines_leaves_the_keyboard_alone(
    pipe: tuple[int, io.BufferedReader],
) -> None:
    writing, source = pipe
    os.write(writing, b"1512\n")
    with keyboard_for(object(), source):
        await come_through(source)
    os.close(writing)
    assert source.read() == b"1512\n"


class Hesitant(Listener):
    """Takes one line at a time."""

    @property
    def is_full(self) -> bool:
        return not self.taken.empty()


async def test_what_is_not_taken_yet_waits_where_it_comes_from(
    pipe: tuple[int, io.BufferedReader],
) -> None:
    writing, source = pipe
    listener = Hesitant()
    with keyboard_for(listener, source):
        os.write(writing, b"1512\n")
        await until(listener.taken.qsize)
        os.write(writing, b"1513\n1514\n")
        async with asyncio.timeout(HUNG_S):
            await come_through(source)
        assert listener.taken.qsize() == 1
        os.close(writing)
        assert await listener.all() == ["1512", "1513", "1514", None]


async def test_a_program_that_answers_wrongly_on_and_on_is_stopped(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"y\n" * 10_000)))
    teaching = Teaching(None, MeterLimits(), shows_failure=False, streaming=False)
    with (
        teaching._typed,
        pytest.raises(BadInput, match="the last 20 lines of the standard input were no length"),
    ):
        await teaching._one_more("it is not clear yet", "give up")
    assert capsys.readouterr().err.count('"y" is not a length') == 20


async def test_wrong_answers_with_right_ones_in_between_stop_nobody(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answers = b"y\n" * 15 + b"1.5 m\n" + b"y\n" * 15 + b"2.5 m\n"
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(answers)))
    teaching = Teaching(None, MeterLimits(), shows_failure=False, streaming=False)
    with teaching._typed as typed:
        read = [await typed.read("how far?", lambda text: parse_length(text).mm) for _ in range(2)]
    assert read == [1500.0, 2500.0]
