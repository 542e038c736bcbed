"""One shot after another from a meter whose bytes nobody can read yet."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator
from datetime import UTC, datetime

import pytest

from witnessmark.errors import BadInput
from witnessmark.meters import listening
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.listening import listening_to
from witnessmark.meters.port import Link, LinkState, MeterLost
from witnessmark.meters.profile import Serial

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)


class Meter:
    """A meter that says what is put into its queue; None is the end of the link."""

    def __init__(self) -> None:
        self.says: asyncio.Queue[bytes | None] = asyncio.Queue()

    async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        yield Link(LinkState.OPEN, "open", AT, "meter")
        while (data := await self.says.get()) is not None:
            yield RawFrame(data, AT)
        raise MeterLost("the meter is gone")

    def transport(self, channel: str) -> Serial:
        return Serial()


@pytest.fixture(autouse=True)
def in_a_hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("SETTLE_S", "QUIET_S", "STREAM_S"):
        monkeypatch.setattr(listening, name, 0.05)


def data(frames: tuple[RawFrame, ...]) -> list[bytes]:
    return [frame.data for frame in frames]


async def test_what_comes_together_is_one_shot() -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        meter.says.put_nowait(b"one")
        meter.says.put_nowait(b"and more")
        assert data(await heard.shot()) == [b"one", b"and more"]
        meter.says.put_nowait(b"two")
        assert data(await heard.shot()) == [b"two"]


async def test_what_a_meter_says_by_itself_is_no_shot() -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        meter.says.put_nowait(b"charge 87")
        await heard.settle()
        meter.says.put_nowait(b"charge 87")
        asyncio.get_running_loop().call_later(0.12, meter.says.put_nowait, b"1.512 m")
        assert data(await heard.shot()) == [b"charge 87", b"1.512 m"]


async def test_a_stretch_begins_now() -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        meter.says.put_nowait(b"before")
        await asyncio.sleep(0)
        asyncio.get_running_loop().call_later(0.01, meter.says.put_nowait, b"after")
        assert data(await heard.stretch()) == [b"after"]


async def test_a_lost_meter_ends_the_waiting() -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        meter.says.put_nowait(None)
        with pytest.raises(MeterLost, match="the meter is gone"):
            await heard.shot()


async def test_a_meter_that_never_falls_quiet_is_told_apart(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(listening, "_ENDLESS_S", 0.0)
    meter = Meter()
    async with listening_to(meter) as heard:
        for _ in range(3):
            meter.says.put_nowait(b"1.512 m")
        with pytest.raises(BadInput, match="--streaming"):
            await heard.shot()
