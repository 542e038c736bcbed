"""Hearing one shot after another from a meter whose bytes nobody can read yet.

A meter that waits to be asked is asked for each shot. It may first say that it has understood, and
measure then, so that longer silence has to follow before its answer is complete.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator
from typing import Final

from witnessmark.errors import BadInput
from witnessmark.meters.capture import OffersRawFrames, Question, RawFrame
from witnessmark.meters.driver_faults import driver_faults_told
from witnessmark.meters.port import Driver, Link, MeterError

SETTLE_S: Final = 0.5
"""Time after opening, seconds, in which a meter may report its charge and similar by itself."""
QUIET_S: Final = 0.4
"""Time without a frame, seconds, after which a press of the button has brought all it brings."""
STREAM_S: Final = 1.0
ANSWER_S: Final = 10.0
"""Time that a meter may take to answer, seconds."""
ANSWERED_S: Final = 1.5
"""Time without a frame, seconds, after which an answer is complete."""
_ENDLESS_S: Final = 3.0


class NoAnswer(MeterError):
    """Nothing has come of a question; the meter is open all the same."""


class Listening:
    """A meter that is open, with its frames in a queue. Made by ``listening_to``."""

    def __init__(
        self, driver: OffersRawFrames, frames: AsyncGenerator[Link | RawFrame, None]
    ) -> None:
        self._driver = driver
        self._frames = frames
        self._heard: asyncio.Queue[RawFrame | Exception] = asyncio.Queue()
        self._chatter: set[tuple[str, bytes]] = set()
        self._patience: asyncio.TimerHandle | None = None

    async def pump(self) -> None:
        """Put what comes into the queue, and last the error that ended it."""
        try:
            with driver_faults_told(_scheme(self._driver)):
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

    def ask(self, question: Question) -> None:
        """Have the meter measure; ``shot`` or ``stretch`` gives what that brings.

        Raises:
            BadInput: when the question cannot be put to this meter.
        """
        self._driver.ask(question)
        self._forget()
        self._stop_waiting()
        self._patience = asyncio.get_running_loop().call_later(ANSWER_S, self._give_up)

    async def shot(self) -> tuple[RawFrame, ...]:
        """Return what one press of the meter's button, or one question, brings.

        However long a press takes to come is waited for.

        Raises:
            MeterLost: when the meter is gone.
            NoAnswer: when it was asked, and nothing came.
            BadInput: when it never falls quiet.
        """
        heard: list[RawFrame] = []
        while all((frame.channel, frame.data) in self._chatter for frame in heard):
            heard.append(await self._next())
        begun = asyncio.get_running_loop().time()
        quiet_s = ANSWERED_S if self._stop_waiting() else QUIET_S
        with contextlib.suppress(TimeoutError, NoAnswer):  # it may have come in the last moment
            while True:
                async with asyncio.timeout(quiet_s):
                    heard.append(await self._next())
                if asyncio.get_running_loop().time() - begun > _ENDLESS_S:
                    raise BadInput("the meter sends all the time; learn it with --streaming")
        return tuple(heard)

    async def stretch(self) -> tuple[RawFrame, ...]:
        """Return what a meter that sends all the time says within a second from now.

        Raises:
            MeterLost: when the meter is gone.
        """
        self._stop_waiting()
        self._forget()
        return tuple(await self._within(STREAM_S))

    def _forget(self) -> None:
        """Leave aside what came before now; an error stays."""
        for _ in range(self._heard.qsize()):
            heard = self._heard.get_nowait()
            if isinstance(heard, Exception):
                self._heard.put_nowait(heard)

    def _give_up(self) -> None:
        self._patience = None
        silence = f"no answer within {ANSWER_S:g} s; check the request"
        self._heard.put_nowait(NoAnswer(silence))

    def _stop_waiting(self) -> bool:
        """Wait no longer for an answer; whether one was waited for."""
        waiting, self._patience = self._patience, None
        if waiting is not None:
            waiting.cancel()
        return waiting is not None

    def close(self) -> None:
        """Wait for nothing more."""
        self._stop_waiting()

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
    """Give the opened meter, and close it at the end.

    Raises:
        MeterUnreachable: when it cannot be opened.
    """
    async with contextlib.aclosing(driver.raw_frames()) as frames:
        with driver_faults_told(_scheme(driver)):
            await anext(frames)
        listening = Listening(driver, frames)
        pump = asyncio.create_task(listening.pump(), name="listening to the meter")
        try:
            yield listening
        finally:
            listening.close()
            pump.cancel()
            await asyncio.gather(pump, return_exceptions=True)


def _scheme(driver: object) -> str:
    return driver.scheme if isinstance(driver, Driver) else type(driver).__name__
