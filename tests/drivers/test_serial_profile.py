"""What is particular to a serial line that is read by a profile, or raw for learning one.

What such a meter has in common with every other is in ``test_driver_behaviour``.
"""

from __future__ import annotations

import asyncio
import contextlib
import functools
import itertools
import os
from collections.abc import AsyncGenerator, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from patience import until
from serial_rigs import HEAD, PARTS, SerialBursts

from witnessmark.errors import BadInput
from witnessmark.meters.capture import OffersRawFrames, Question, RawFrame
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import (
    CanFire,
    Link,
    LinkState,
    Noise,
    Report,
)
from witnessmark.meters.profile import Request, Serial
from witnessmark.meters.profile_values import Baud, Uuid
from witnessmark.model import Reading
from witnessmark_drivers import serial_port
from witnessmark_simulators.asked import answering
from witnessmark_simulators.binary import (
    Moment,
    frame,
)
from witnessmark_simulators.line import Line
from witnessmark_simulators.serial_line import SerialLine
from witnessmark_simulators.tcp import TcpLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)


@pytest.fixture(params=[SerialLine, TcpLine])
def line(request: pytest.FixtureRequest) -> Iterator[Line]:
    with request.param() as line:
        yield line


@pytest.fixture
def profiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(tmp_path))
    return tmp_path


@contextlib.asynccontextmanager
async def opened(
    line: Line, profiles: Path, profile: str
) -> AsyncGenerator[AsyncGenerator[Report, None], None]:
    (profiles / "mine.toml").write_text(profile)
    driver = open_driver(f"{line.address}?profile=mine", clock=lambda: AT)
    async with contextlib.aclosing(driver.reports()) as reports:
        link = await anext(reports)
        assert isinstance(link, Link)
        assert link.state is LinkState.OPEN
        yield reports


async def take(reports: AsyncGenerator[Report, None], count: int) -> list[Report]:
    return [await anext(reports) for _ in range(count)]


def mm(reports: list[Report]) -> list[float]:
    return [report.distance_mm for report in reports if isinstance(report, Reading)]


def said(distance_mm: float) -> bytes:
    return frame(PARTS, Moment(distance_mm, count=int(distance_mm) // 3))


async def test_a_shipped_profile(line: Line, profiles: Path) -> None:
    driver = open_driver(f"{line.address}?profile=text-feet")
    async with contextlib.aclosing(driver.reports()) as reports:
        await anext(reports)
        line.send(b"8.25\n")
        assert mm([await anext(reports)]) == pytest.approx([2514.6])


async def test_what_comes_at_the_opening_may_be_half_a_burst(
    profiles: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # so long a pause ends a burst that no halt of a busy machine does
    monkeypatch.setattr(serial_port, "READ_S", 1.0)
    with SerialLine() as line:
        (profiles / "mine.toml").write_text(HEAD + SerialBursts.profile)
        driver = open_driver(f"{line.address}?profile=mine")
        stop = asyncio.Event()

        async def chatter() -> None:
            for distance in itertools.count(1000):
                line.send(said(distance))
                await asyncio.sleep(0.005)
                if stop.is_set():
                    return

        talking = asyncio.create_task(chatter())
        async with contextlib.aclosing(driver.reports()) as reports:
            await anext(reports)
            await until(lambda: not line.unread)
            stop.set()
            await talking
            first = await anext(reports)
            assert isinstance(first, Noise)
            assert "before the meter was opened" in first.why
            line.send(said(2514))
            assert mm([await anext(reports)]) == [2514.0]


async def test_the_meter_is_fired_once_so_often_and_when_told_to(profiles: Path) -> None:
    request = 'request = { text = "take\\r", every = 0.1 }\n'
    with SerialLine() as line:
        (profiles / "mine.toml").write_text(HEAD + f"[serial]\n{request}[text]\n")
        driver = open_driver(f"{line.address}?profile=mine")
        assert isinstance(driver, CanFire)
        async with contextlib.aclosing(driver.reports()) as reports:
            await anext(reports)
            waiting = asyncio.ensure_future(anext(reports))
            heard = b""
            while heard.count(b"take\r") < 3:
                heard += line.receive()
                await asyncio.sleep(0.01)
            driver.fire()
            line.send(b"1.512 m\n")
            assert mm([await waiting]) == [1512.0]
        assert set(heard.split(b"\r")) == {b"take", b""}


async def test_without_every_the_meter_is_fired_once(profiles: Path) -> None:
    with SerialLine() as line:
        text = HEAD + '[serial]\nrequest = { bytes = "10 01" }\n[text]\n'
        async with opened(line, profiles, text) as reports:
            line.send(b"1.512 m\n")
            await anext(reports)
            line.send(b"1.513 m\n")
            await anext(reports)
            assert line.receive() == b"\x10\x01"


async def test_a_question_is_written_to_the_line_and_kept_in_its_profile(tmp_path: Path) -> None:
    question = Question(Request(text="take\r"))
    with SerialLine() as line:
        driver = open_driver(f"{line.address}?baud=19200", clock=lambda: AT)
        assert isinstance(driver, OffersRawFrames)
        async with contextlib.aclosing(driver.raw_frames()) as frames:
            assert isinstance(await anext(frames), Link)
            with answering(line, b"take\r", lambda: [b"1.512 m\r\n"]):
                for _ in range(2):
                    driver.ask(question)
                    assert await anext(frames) == RawFrame(b"1.512 m\r\n", AT)
    asked = Serial(baud=Baud(19200), request=question.request)
    assert driver.transport("", question) == asked


async def test_a_question_that_nobody_heard_is_not_asked_of_the_next_link() -> None:
    with SerialLine() as line:
        driver = open_driver(line.address)
        assert isinstance(driver, OffersRawFrames)
        driver.ask(Question(Request(text="take\r")))
        async with contextlib.aclosing(driver.raw_frames()) as frames:
            await anext(frames)
            line.send(b"1.512 m\r\n")
            await anext(frames)
        assert line.receive() == b""


def test_a_characteristic_is_for_bluetooth() -> None:
    question = Question(Request(text="D"), Uuid("00002ac5-0000-1000-8000-00805f9b34fb"))
    driver = open_driver("serial:/dev/ttyUSB0")
    assert isinstance(driver, OffersRawFrames)
    for put in (driver.ask, functools.partial(driver.transport, "")):
        with pytest.raises(BadInput, match="a serial line has no characteristics; leave 00002ac5"):
            put(question)


async def test_raw_frames_are_what_comes_between_pauses(line: Line) -> None:
    driver = open_driver(f"{line.address}?baud=19200", clock=lambda: AT)
    assert isinstance(driver, OffersRawFrames)
    assert driver.transport("") == Serial(baud=Baud(19200))
    async with contextlib.aclosing(driver.raw_frames()) as frames:
        assert isinstance(await anext(frames), Link)
        for data in (said(1512), b"\0\xff\r\n", b"x" * 40):
            line.send(data)
            assert await anext(frames) == RawFrame(data, AT)


async def test_a_stream_without_pauses_comes_in_pieces(line: Line) -> None:
    driver = open_driver(line.address)
    assert isinstance(driver, OffersRawFrames)
    async with contextlib.aclosing(driver.raw_frames()) as frames:
        await anext(frames)
        line.send(bytes(1000))
        heard = b""
        while len(heard) < 1000:
            piece = await anext(frames)
            assert isinstance(piece, RawFrame)
            heard += piece.data
    assert heard == bytes(1000)


def test_a_wrong_profile_is_told_before_anything_is_opened(profiles: Path) -> None:
    (profiles / "mine.toml").write_text(HEAD + "[text]\nunit = 'ells'\n")
    with pytest.raises(BadInput, match=r"mine.toml: text.unit"):
        open_driver("serial:/dev/ttyNONE?profile=mine")
