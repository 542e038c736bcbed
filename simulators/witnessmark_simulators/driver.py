"""The driver of ``sim:``, a simulated meter in a simulated room, without any line between.

``sim:?seed=3&every=0.5&count=8`` walks round both cabinets of the demo's room and takes a shot
every half second, eight in all; the same seed brings the same bytes. The demo and tests give the
driver a ``RehearsalRoom`` instead, and press the button themselves.
"""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import math
from collections.abc import AsyncGenerator, Awaitable, Callable, Iterator

import numpy as np

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.port import (
    Clock,
    Driver,
    Fault,
    FoundMeter,
    MeterLost,
    Noise,
    Report,
    utc_now,
)
from witnessmark.model import Reading
from witnessmark_simulators.meter import Answer
from witnessmark_simulators.rehearsal_room import Answers, RehearsalRoom
from witnessmark_simulators.scenario import demo_scenario, rounds


class SimulatedMeter(Driver):
    """Reports what the simulated meter sends: on a timer, or as its button is pressed in a room."""

    scheme = "sim"

    def __init__(
        self,
        address: Address,
        clock: Clock = utc_now,
        room: RehearsalRoom | None = None,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        """Check the address; with a room its options have no say.

        Raises:
            BadInput: when there is a target, an unknown option or an option out of range.
        """
        super().__init__(address, clock)
        if address.target:
            raise BadInput(
                f'meter address "{address.text}": sim: takes options alone, such as sim:?seed=3'
            )
        address.allow_options("seed", "every", "count")
        self._seed = _whole_number(address, "seed", least=0) or 0
        self._count = _whole_number(address, "count", least=1)
        self._every_s = _seconds(address, "every", default=1.0)
        self._room = room
        self._sleep = sleep

    async def reports(self) -> AsyncGenerator[Report, None]:
        """Yield what the meter sends; endless unless ``count`` was given.

        Raises:
            MeterUnreachable: when the room's meter is unplugged.
            MeterLost: when the room's meter becomes unplugged.
        """
        answers = self._timed() if self._room is None else _pressed(self._room.open())
        async with contextlib.aclosing(answers):
            yield self.opened("simulated meter connected")
            async for answer in answers:
                if answer.raw:
                    yield self._report(answer)

    @classmethod
    async def discover(cls) -> list[FoundMeter]:
        """Return the simulated meter, which is always at hand."""
        return [FoundMeter("sim:", "a simulated meter in a simulated room")]

    def _report(self, answer: Answer) -> Report:
        at, meter = self.clock(), self.address.text
        if answer.distance_mm is not None:
            return Reading(answer.distance_mm, at, meter, answer.raw)
        if answer.fault is not None:
            return Fault(answer.fault, at, meter, answer.raw)
        return Noise("the simulated meter sent bytes without meaning", at, meter, answer.raw)

    async def _timed(self) -> AsyncGenerator[Answer, None]:
        for answer in itertools.islice(self._demo_answers(), self._count):
            await self._sleep(self._every_s)
            yield answer

    def _demo_answers(self) -> Iterator[Answer]:
        rng = np.random.default_rng(self._seed)
        person = demo_scenario(rng).person(rng)
        return (answer for _, answer in person.walk(rounds()))


async def _pressed(answers: Answers) -> AsyncGenerator[Answer, None]:
    while (answer := await answers.get()) is not None:
        yield answer
    raise MeterLost("the simulated meter was unplugged")


def _whole_number(address: Address, name: str, *, least: int) -> int | None:
    text = address.options.get(name)
    if text is None:
        return None
    if not (text.isascii() and text.isdigit()) or int(text) < least:
        raise BadInput(
            f'meter address "{address.text}": {name} is a whole number from {least} up, '
            f'not "{text}"'
        )
    return int(text)


def _seconds(address: Address, name: str, *, default: float) -> float:
    text = address.options.get(name)
    if text is None:
        return default
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 <= seconds <= 3600:
        raise BadInput(
            f'meter address "{address.text}": {name} is a number of seconds from 0 to 3600, '
            f'not "{text}"'
        )
    return seconds
