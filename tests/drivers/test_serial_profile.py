"""A serial meter read by a profile, over a pseudo-terminal and over TCP, through pyserial."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import os
from collections.abc import AsyncGenerator, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from witnessmark.errors import BadInput
from witnessmark.meters.capture import OffersRawFrames, RawFrame
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import (
    CanFire,
    Fault,
    Link,
    LinkState,
    MeterLost,
    Noise,
    Report,
)
from witnessmark.meters.profile import Serial
from witnessmark.meters.profile_values import Baud
from witnessmark.meters.watch import watch
from witnessmark.model import Reading
from witnessmark_simulators.binary import (
    BinaryVoice,
    Moment,
    constant,
    counter,
    frame,
    status,
    sum8,
    whole_distance,
)
from witnessmark_simulators.line import Line
from witnessmark_simulators.meter import Answer, cut_off
from witnessmark_simulators.serial_line import SerialLine
from witnessmark_simulators.tcp import TcpLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
HEAD = 'format = "witnessmark profile 1"\n'
FRAMES = """
[serial]
baud = 19200
[frame]
length = 7
header = "A5"
distance = { at = 2, order = "little", type = "uint24", unit = "mm" }
status = { at = 5, ok = ["00"], faults = { 01 = "too little light comes back" } }
"""
CHECKED = FRAMES + 'checksum = { kind = "sum8" }\n'
PARTS = [
    constant(b"\xa5"),
    counter(1, "little"),
    whole_distance(3, "little", 1.0),
    status(),
    sum8(),
]


@pytest.fixture(params=[SerialLine, TcpLine])
def line(request: pytest.FixtureRequest) -> Iterator[Line]:
    with request.param() as line:
        yield line


@pytest.fixture(params=[CHECKED, FRAMES], ids=["stream", "bursts"])
def profile(request: pytest.FixtureRequest) -> str:
    return HEAD + str(request.param)


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


async def noise_to_the_end(reports: AsyncGenerator[Report, None]) -> None:
    async for report in reports:
        assert isinstance(report, Noise)


async def test_readings_come_in_order_each_once(line: Line, profiles: Path, profile: str) -> None:
    async with opened(line, profiles, profile) as reports:
        for distance in range(1000, 1200):
            line.send(said(distance))
        assert mm(await take(reports, 200)) == list(range(1000, 1200))


async def test_a_reading_says_when_from_where_and_what_came(
    line: Line, profiles: Path, profile: str
) -> None:
    async with opened(line, profiles, profile) as reports:
        line.send(said(2514))
        reading = await anext(reports)
    assert reading == Reading(2514.0, AT, f"{line.address}?profile=mine", said(2514))


async def test_frames_may_come_byte_by_byte(line: Line, profiles: Path, profile: str) -> None:
    async with opened(line, profiles, profile) as reports:
        for byte in said(2514):
            line.send(bytes([byte]))
            await asyncio.sleep(0)
        assert mm([await anext(reports)]) == [2514.0]


async def test_the_meters_own_error_is_a_fault(line: Line, profiles: Path, profile: str) -> None:
    voice = BinaryVoice(PARTS)
    async with opened(line, profiles, profile) as reports:
        line.send(voice(Answer(b"", fault="dark")).raw)
        line.send(voice(Answer(b"", distance_mm=1512.0)).raw)
        fault, reading = await take(reports, 2)
    assert isinstance(fault, Fault)
    assert fault.fault == "too little light comes back"
    assert mm([reading]) == [1512.0]


async def test_a_frame_that_breaks_off_never_joins_the_next(
    line: Line, profiles: Path, profile: str
) -> None:
    cut = cut_off(BinaryVoice(PARTS)(Answer(b"", distance_mm=1512.0))).raw
    async with opened(line, profiles, profile) as reports:
        line.send(cut)
        noise = await anext(reports)
        assert isinstance(noise, Noise)
        assert noise.raw == cut
        line.send(said(2514))
        assert mm([await anext(reports)]) == [2514.0]


async def test_garbage_is_told_and_never_a_distance(
    line: Line, profiles: Path, profile: str
) -> None:
    async with opened(line, profiles, profile) as reports:
        line.send(b"\x01\x02\xa5\xa5\x00\xff")
        assert isinstance(await anext(reports), Noise)
        line.send(said(2514))
        assert mm([await anext(reports)]) == [2514.0]


async def test_unplugging_in_mid_frame_makes_no_distance(
    line: Line, profiles: Path, profile: str
) -> None:
    async with opened(line, profiles, profile) as reports:
        line.send(said(1512))
        assert mm([await anext(reports)]) == [1512.0]
        line.send(said(2514)[:4])
        line.unplug()
        with pytest.raises(MeterLost, match="the meter is gone"):
            await noise_to_the_end(reports)


async def test_plugging_in_again_carries_on(line: Line, profiles: Path, profile: str) -> None:
    (profiles / "mine.toml").write_text(profile)
    driver = open_driver(f"{line.address}?profile=mine")
    async with contextlib.aclosing(watch(driver, pauses_s=(0.01,))) as reports:
        for distance in (1512, 1513):
            while not (isinstance(link := await anext(reports), Link) and link.state == "open"):
                pass
            line.send(said(distance))
            assert mm([await anext(reports)]) == [distance]
            line.unplug()
            line.plug_in()


async def test_closing_while_reading_frees_the_port(
    line: Line, profiles: Path, profile: str
) -> None:
    for _ in range(2):
        async with opened(line, profiles, profile):
            pass


async def test_text_by_pattern(line: Line, profiles: Path) -> None:
    profile = HEAD + "[text]\npattern = 'D=(?P<value>[0-9.]+) *'\nunit = 'ft'\n"
    async with opened(line, profiles, profile) as reports:
        line.send(b"D=8.25\r\nD=8.25 m\r\n")
        reading, noise = await take(reports, 2)
    assert mm([reading]) == pytest.approx([2514.6])
    assert isinstance(noise, Noise)


async def test_a_shipped_profile(line: Line, profiles: Path) -> None:
    driver = open_driver(f"{line.address}?profile=text-feet")
    async with contextlib.aclosing(driver.reports()) as reports:
        await anext(reports)
        line.send(b"8.25\n")
        assert mm([await anext(reports)]) == pytest.approx([2514.6])


async def test_what_comes_at_the_opening_may_be_half_a_burst(profiles: Path) -> None:
    with SerialLine() as line:
        (profiles / "mine.toml").write_text(HEAD + FRAMES)
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
            await asyncio.sleep(0.05)
            stop.set()
            await talking
            first = await anext(reports)
            assert isinstance(first, Noise)
            assert "before the meter was opened" in first.why
            line.send(said(2514))
            assert mm([await anext(reports)]) == [2514.0]


async def test_the_meter_is_fired_once_so_often_and_when_told_to(profiles: Path) -> None:
    request = 'request = { text = "D\\r", every = 0.1 }\n'
    with SerialLine() as line:
        (profiles / "mine.toml").write_text(HEAD + f"[serial]\n{request}[text]\n")
        driver = open_driver(f"{line.address}?profile=mine")
        assert isinstance(driver, CanFire)
        async with contextlib.aclosing(driver.reports()) as reports:
            await anext(reports)
            waiting = asyncio.ensure_future(anext(reports))
            heard = b""
            while heard.count(b"D\r") < 3:
                heard += line.receive()
                await asyncio.sleep(0.01)
            driver.fire()
            line.send(b"1.512 m\n")
            assert mm([await waiting]) == [1512.0]
        assert set(heard.split(b"\r")) == {b"D", b""}


async def test_without_every_the_meter_is_fired_once(profiles: Path) -> None:
    with SerialLine() as line:
        text = HEAD + '[serial]\nrequest = { bytes = "AA 80" }\n[text]\n'
        async with opened(line, profiles, text) as reports:
            line.send(b"1.512 m\n")
            await anext(reports)
            line.send(b"1.513 m\n")
            await anext(reports)
            assert line.receive() == b"\xaa\x80"


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


@pytest.mark.parametrize("baud", ["0", "fast", "9999999"])
def test_a_speed_beside_a_profile_is_checked(baud: str) -> None:
    with pytest.raises(BadInput, match="baud"):
        open_driver(f"serial:/dev/ttyUSB0?profile=text-metres&baud={baud}")


def test_a_wrong_profile_is_told_before_anything_is_opened(profiles: Path) -> None:
    (profiles / "mine.toml").write_text(HEAD + "[text]\nunit = 'ells'\n")
    with pytest.raises(BadInput, match=r"mine.toml: text.unit"):
        open_driver("serial:/dev/ttyNONE?profile=mine")
