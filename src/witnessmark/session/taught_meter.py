"""The meter of a lesson: opened, heard shot by shot, and asked where it waits for that.

What happens is handed to whoever leads the lesson.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from witnessmark.errors import BadInput
from witnessmark.meters.capture import OffersRawFrames, Question, RawFrame
from witnessmark.meters.driver_calls import meter_of, teachable, transport
from witnessmark.meters.listening import Listening, NoAnswer, listening_to
from witnessmark.meters.port import Driver
from witnessmark.meters.profile import Bluetooth, Serial
from witnessmark.meters.running import TellFault


class TaughtMeter:
    """A meter that is listened to for as long as ``hear`` runs; ``post`` takes what happens."""

    @dataclass
    class Ready:
        """The meter is open, and what it says by itself is known; ``streams`` if it never stops."""

        streams: bool

    @dataclass
    class ShotFrames:
        """What one press of the meter's button, or one question, brought."""

        frames: tuple[RawFrame, ...]

    @dataclass
    class Silence:
        """The meter was asked and did not answer; ``why`` says so."""

        why: str

    def __init__(self, post: Callable[[TaughtMeterEvent], object]) -> None:
        self.question: Question | None = None
        """By what it was asked last."""
        self._post = post
        self._driver: OffersRawFrames | None = None
        self._listening: Listening | None = None
        self._told_to_listen = asyncio.Event()

    async def hear(self, driver: Driver, left_behind: TellFault) -> None:
        """Open the driver's meter and post what comes, until cancelled.

        ``left_behind`` is told of a driver that does not let go of its meter then.

        Raises:
            BadInput: when there is nothing to learn from such a meter.
            MeterError: when it cannot be opened, or is gone.
        """
        taught_from = teachable(driver)
        if taught_from is None:
            raise BadInput(
                f"{meter_of(driver)}: it cannot be taught; go back and choose a meter on a "
                "serial port or Bluetooth"
            )
        self._driver, self.question = taught_from, None
        async with listening_to(taught_from, left_behind) as self._listening:
            await self._listening.settle()
            self._post(self.Ready(streams=False))
            await self._hear_shots(self._listening)

    def measure(self, question: Question | None) -> None:
        """Have it measure: asked if there is a question, listened to if it never stops.

        Raises:
            BadInput: when the question cannot be put to this meter.
        """
        if question and self._listening:
            self._listening.ask(question)
        self.question = question
        self._told_to_listen.set()

    def transport(self, channel: str) -> Serial | Bluetooth:
        """Return how its frames from this channel are come by, once something came by it.

        Raises:
            MeterError: when the driver fails.
        """
        assert self._driver is not None  # noqa: S101 - frames came from it
        return transport(self._driver, channel, self.question)

    async def _hear_shots(self, listening: Listening) -> None:
        try:
            while True:
                await self._hear_shot(listening)
        except BadInput:  # it never falls quiet, so the person has to say when
            self._told_to_listen.clear()
            self._post(self.Ready(streams=True))
        while True:
            await self._told_to_listen.wait()
            self._told_to_listen.clear()
            self._post(self.ShotFrames(await listening.stretch()))

    async def _hear_shot(self, listening: Listening) -> None:
        try:
            self._post(self.ShotFrames(await listening.shot()))
        except NoAnswer as silence:
            self._post(self.Silence(str(silence)))


TaughtMeterEvent: TypeAlias = TaughtMeter.Ready | TaughtMeter.ShotFrames | TaughtMeter.Silence
