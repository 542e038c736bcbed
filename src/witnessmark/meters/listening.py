"""Hearing one shot after another from a meter whose bytes nobody can read yet."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator
from typing import Final

from witnessmark.errors import BadInput
from witnessmark.meters.capture import OffersRawFrames, RawFrame
from witnessmark.meters.port import Link

SETTLE_S: Final = 0.5
"""A meter that has just been opened may tell its charge and the like by itself."""
QUIET_S: Final = 0.4
"""So long without a frame, and what a press of the button brought is complete."""
STREAM_S: Final = 1.0
_ENDLESS_S: Final = 3.0


class Listening:
    """A meter that is open, with its frames in a queue. Made by ``listening_to``."""

    def __init__(self, frames: AsyncGenerator[Link | RawFrame, None]) -> None:
        self._frames = frames
        self._heard: asyncio.Queue[RawFrame | Exception] = asyncio.Queue()
        self._chatter: set[tuple[str, bytes]] = set()

    async def pump(self) -> None:
        """Put what comes into the queue, and last the error that ended it."""
        try:
            async for frame in self._frames:
                if isinstance(frame, RawFrame):
                    self._heard.put_nowait(frame)
        except Exception as error:  # noqa: BLE001 - raised where the frames are awaited
            self._heard.put_nowait(error)

    async def settle(self) -> None:
        """Learn what the meter says without having been asked, so that it is not taken for a shot.

        Raises:
            MeterLost: when the meter is gone.
        """
        for frame in await self._within(SETTLE_S):
            self._chatter.add((frame.channel, frame.data))

    async def shot(self) -> tuple[RawFrame, ...]:
        """What one press of the meter's button brings, however long it takes to come.

        Raises:
            MeterLost: when the meter is gone.
            BadInput: when it never falls quiet.
        """
        heard: list[RawFrame] = []
        while all((frame.channel, frame.data) in self._chatter for frame in heard):
            heard.append(await self._next())
        begun = asyncio.get_running_loop().time()
        with contextlib.suppress(TimeoutError):
            while True:
                async with asyncio.timeout(QUIET_S):
                    heard.append(await self._next())
                if asyncio.get_running_loop().time() - begun > _ENDLESS_S:
                    raise BadInput("the meter sends all the time; learn it with --streaming")
        return tuple(heard)

    async def stretch(self) -> tuple[RawFrame, ...]:
        """What a meter that sends all the time says within a second from now.

        Raises:
            MeterLost: when the meter is gone.
        """
        while not self._heard.empty():
            await self._next()
        return tuple(await self._within(STREAM_S))

    async def _within(self, seconds: float) -> list[RawFrame]:
        heard: list[RawFrame] = []
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                while True:
                    heard.append(await self._next())
        return heard

    async def _next(self) -> RawFrame:
        heard = await self._heard.get()
        if isinstance(heard, Exception):
            raise heard
        return heard


@contextlib.asynccontextmanager
async def listening_to(driver: OffersRawFrames) -> AsyncGenerator[Listening, None]:
    """The meter, opened; closed at the end.

    Raises:
        MeterUnreachable: when it cannot be opened.
    """
    async with contextlib.aclosing(driver.raw_frames()) as frames:
        await anext(frames)
        listening = Listening(frames)
        pump = asyncio.create_task(listening.pump(), name="listening to the meter")
        try:
            yield listening
        finally:
            pump.cancel()
            await asyncio.gather(pump, return_exceptions=True)
