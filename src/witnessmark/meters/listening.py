"""Hearing one shot after another from a meter whose bytes nobody can read yet.

A meter that waits to be asked is asked for each shot. It may first say that it has understood, and
measure then, so that longer silence has to follow before its answer is complete. What it says by
itself is no shot: what it said before the first, and what comes again and again at an even pace.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator
from itertools import pairwise
from typing import Final

from witnessmark.errors import BadInput
from witnessmark.meters.capture import OffersRawFrames, Question, RawFrame
from witnessmark.meters.driver_calls import ask, scheme_of, streaming
from witnessmark.meters.driver_faults import DriverFailed
from witnessmark.meters.driver_reports import checked_frame
from witnessmark.meters.port import Link, MeterError, MeterLost
from witnessmark.meters.running import TellFault

SETTLE_S: Final = 0.5
"""Time after opening, seconds, in which a meter may report its charge and similar by itself."""
QUIET_S: Final = 0.4
"""Time without a frame, seconds, after which a press of the button has brought all it brings."""
BEAT_S: Final = 2.5
"""Longest time, seconds, between two lines by which a meter shows that it is still there; common
practice, no source: a second or two."""
STREAM_S: Final = 1.0
UNDER_WAY_S: Final = 0.3
"""Time, seconds, after which all has come that was under way: a piece of a stream is collected for
up to a fifth of a second, and brought by a thread."""
ANSWER_S: Final = 10.0
"""Time that a meter may take to answer, seconds."""
ANSWERED_S: Final = 1.5
"""Time without a frame, seconds, after which an answer is complete."""
_ENDLESS_S: Final = 3.0
MOST_FRAMES: Final = 1000
"""Frames that are kept of one shot, and that wait to be taken; a meter that sends more of them
does not stop by itself."""
_MOST_SENT: Final = 500
"""Different frames of which it is known when they came; those heard longest ago are forgotten."""
_MOST_TIMES: Final = 20

_UNEVEN: Final = 0.25
"""Part of its pace by which such a line may be late or early."""
_Sent = tuple[str, bytes]
"""A channel and what came there."""


class Beats:
    """Tells what a meter sends again and again by itself, by when it came.

    The same bytes three times at an even pace are sent by no hand. All times are in seconds from
    when the meter was opened.
    """

    def __init__(self) -> None:
        self._times: dict[_Sent, list[float]] = {}

    def note(self, sent: _Sent, at_s: float) -> None:
        """Take note of when something came."""
        times = self._times.pop(sent, [])[1 - _MOST_TIMES :]
        self._times[sent] = [*times, at_s]
        if len(self._times) > _MOST_SENT:
            del self._times[next(iter(self._times))]

    def has(self, sent: _Sent) -> bool:
        """Return whether something came three times at an even pace."""
        paces = self._paces(sent)
        return any(
            QUIET_S <= one <= BEAT_S and abs(next_ - one) <= _UNEVEN * one
            for one, next_ in pairwise(paces)
        )

    def known_at_s(self, sent: _Sent) -> float:
        """Return when it is known whether something that came is a beat.

        It would have come before if it were one, once the meter has been open for long enough.
        """
        times, paces = self._times.get(sent), self._paces(sent)
        if times is None:
            return 0.0  # so much has come since then that it was no beat
        if not paces:
            return times[0] if times[0] > BEAT_S else times[0] + BEAT_S
        return times[-1] + (1 + _UNEVEN) * paces[-1] if QUIET_S <= paces[-1] <= BEAT_S else 0.0

    def _paces(self, sent: _Sent) -> list[float]:
        return [later - one for one, later in pairwise(self._times.get(sent, ()))]


class NoAnswer(MeterError):
    """Nothing has come of a question; the meter is open all the same."""


class Listening:
    """A meter that is open, with its frames in a queue. Made by ``listening_to``."""

    def __init__(self, driver: OffersRawFrames) -> None:
        self._driver = driver
        self._heard: asyncio.Queue[RawFrame | Exception] = asyncio.Queue()
        self._chatter: set[_Sent] = set()
        self._beats = Beats()
        self._opened_s = asyncio.get_running_loop().time()
        self._patience: asyncio.TimerHandle | None = None
        self._is_flooded = False

    def take(self, frame: object) -> None:
        """Put what comes into the queue.

        Raises:
            DriverFailed: when it is nothing that could be learnt from.
        """
        checked = checked_frame(self._driver, frame)
        if isinstance(checked, RawFrame):
            self._beats.note((checked.channel, checked.data), self._now_s)
            self._keep(checked)

    def end(self, error: Exception) -> None:
        """Put what ended it into the queue, to be raised where frames are awaited."""
        is_over = isinstance(error, StopAsyncIteration)
        self._heard.put_nowait(MeterLost("the meter closed") if is_over else error)

    def _keep(self, frame: RawFrame) -> None:
        if self._heard.qsize() >= MOST_FRAMES:
            self._forget()
            self._is_flooded = True
        self._heard.put_nowait(frame)

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
            MeterError: when the driver fails.
        """
        ask(self._driver, question)
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
        quiet_s = QUIET_S
        while not self._own(heard):
            del heard[:-1]  # of what came by itself, once is enough
            await self._hear_next(heard)
            if self._own(heard):
                quiet_s = ANSWERED_S if self._stop_waiting() else quiet_s
                await self._hear_out(heard, quiet_s)
                await self._hear_beats(heard)
        return tuple(heard)

    def _own(self, heard: list[RawFrame]) -> list[_Sent]:
        """Return what is not known to come by itself."""
        every = ((frame.channel, frame.data) for frame in heard)
        return [one for one in every if not (one in self._chatter or self._beats.has(one))]

    async def _hear_out(self, heard: list[RawFrame], quiet_s: float) -> None:
        """Add what follows, until nothing but what comes by itself has come for so long.

        Raises:
            BadInput: when it never falls quiet.
        """
        begun_s = last_s = self._now_s
        with contextlib.suppress(TimeoutError, NoAnswer):  # it may have come in the last moment
            while True:
                async with asyncio.timeout(last_s + quiet_s - self._now_s):
                    await self._hear_next(heard)
                if self._own(heard[-1:]):
                    last_s = self._now_s
                if self._now_s - begun_s > _ENDLESS_S:
                    raise _endless()

    async def _hear_next(self, heard: list[RawFrame]) -> None:
        """Add the next frame.

        Raises:
            BadInput: when there are more than any shot brings.
        """
        frame = await self._next()
        if self._is_flooded or len(heard) >= MOST_FRAMES:
            raise _endless()
        heard.append(frame)

    async def _hear_beats(self, heard: list[RawFrame]) -> None:
        """Add what follows, until all is known to come by itself, or something not to."""
        while own := self._own(heard):
            known_s = min(self._beats.known_at_s(one) for one in own)
            if known_s <= self._now_s:
                return
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(known_s - self._now_s):
                    await self._hear_next(heard)

    @property
    def _now_s(self) -> float:
        return asyncio.get_running_loop().time() - self._opened_s

    async def stretch(self) -> tuple[RawFrame, ...]:
        """Return what a meter that sends all the time says within a second.

        It begins with what was sent from now on, or since the meter was asked.

        Raises:
            MeterLost: when the meter is gone.
            BadInput: when that is more than can be learnt from.
        """
        if not self._stop_waiting():
            await asyncio.sleep(UNDER_WAY_S)
            self._forget()
        return tuple(await self._within(STREAM_S))

    def _forget(self) -> None:
        """Leave aside what came before now; an error stays."""
        self._is_flooded = False
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
                while len(heard) < MOST_FRAMES:
                    heard.append(await self._next())
                raise BadInput(
                    f"the meter sends more than {MOST_FRAMES} messages a second, which is more "
                    "than can be learnt from; have it send fewer"
                )
        return heard

    async def _next(self) -> RawFrame:
        heard = await self._heard.get()
        if isinstance(heard, Exception):
            raise heard
        return heard


def _endless() -> BadInput:
    return BadInput("the meter sends all the time; learn it with --streaming")


@contextlib.asynccontextmanager
async def listening_to(
    driver: OffersRawFrames, left_behind: TellFault | None = None
) -> AsyncGenerator[Listening, None]:
    """Give the opened meter, and close it at the end; ``left_behind`` is told where that fails.

    Raises:
        MeterUnreachable: when it cannot be opened.
    """
    async with streaming(
        driver,
        lambda: driver.raw_frames(),  # noqa: PLW0108 - the look for it is guarded, too
        left_behind=left_behind,
    ) as frames:
        try:
            first = checked_frame(driver, await frames.next())
        except StopAsyncIteration:
            first = None
        if not isinstance(first, Link):
            raise DriverFailed.because(scheme_of(driver), "it did not say that its meter is open")
        listening = Listening(driver)
        frames.hand_on(listening.take, listening.end)
        try:
            yield listening
        finally:
            listening.close()
