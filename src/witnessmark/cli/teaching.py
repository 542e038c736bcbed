"""Asking for the shots of a lesson on the command line, until what they say is clear."""

from __future__ import annotations

import asyncio
import contextlib
import sys
from collections.abc import Callable, Sequence
from typing import Final, Self, TypeVar

import msgspec

from witnessmark.cli.echo import echo
from witnessmark.cli.shooting import Refusals, keyboard_for, tell_fault
from witnessmark.errors import BadInput, TooFewShots
from witnessmark.lengths import Units, format_length, parse_length
from witnessmark.meters.capture import OffersRawFrames, Question, RawFrame
from witnessmark.meters.driver_calls import transport
from witnessmark.meters.learning.samples import check_known
from witnessmark.meters.learning.verdict import Learnt, OneMore
from witnessmark.meters.lesson import Lesson, MeterLimits, told_error
from witnessmark.meters.listening import Listening, NoAnswer, listening_to
from witnessmark.meters.port import MeterError
from witnessmark.words.cautions import LASER
from witnessmark.words.lesson import (
    HOW_TO_KNOW_IN_SHORT,
    LEAFLET_MAY_SAY,
    LIMITS_ASKED,
    failed_words,
    known_words,
)

_MOST_WAITING: Final = 256

T = TypeVar("T")


class NotLearnt(MeterError):
    """No decoding explains the meter's bytes."""


class Teaching:
    """One lesson with a person at the keyboard and at the meter.

    Args:
        question: by what the meter is asked for each shot; None: it sends by itself.
        limits: what was said of the meter already; who sits at a terminal is asked for the rest.
        shows_failure: whether one shot that fails is shown, too.
        streaming: whether the meter sends all the time.
    """

    def __init__(
        self,
        question: Question | None,
        limits: MeterLimits,
        *,
        shows_failure: bool,
        streaming: bool,
    ) -> None:
        self.lesson = Lesson(limits=limits)
        self._question = question
        self._shows_failure = shows_failure
        self._streaming = streaming
        self._typed = _TypedAnswers()

    async def take(self, driver: OffersRawFrames, known_mm: Sequence[float]) -> Learnt:
        """Open the meter and learn.

        Raises:
            NotLearnt: when no decoding explains every shot.
            TooFewShots: when one more was needed and not given.
            MeterError: when the meter cannot be reached, is gone, or does not answer.
            BadInput: when the question cannot be put to this meter.
        """
        async with listening_to(driver, tell_fault) as meter:
            transport(driver, "", self._question)  # refuses what cannot be asked before any shot
            echo(LASER, err=True)
            echo(HOW_TO_KNOW_IN_SHORT)
            with self._typed:
                if not self._streaming:
                    await meter.settle()
                for number, known in enumerate(known_mm, start=1):
                    await self._show(meter, known, f"{number} of {len(known_mm)}")
                if self._shows_failure:
                    await self._fail(meter)
                learnt = await self._conclude(meter)
                for line in known_words(self.lesson, Units.TENTH_MM):
                    echo(f"  {line}")
                if sys.stdin.isatty():
                    await self._ask_limits()
                    await self._try_out(meter)
                return learnt

    async def _try_out(self, meter: Listening) -> None:
        """Take one further shot on trial.

        Raises:
            NotLearnt: when the person says that what it reads is wrong.
        """
        frames = await self._heard_or_passed(meter, "on trial: measure anything else", or_end=True)
        if not frames:
            return
        read = " and ".join(format_length(mm, Units.TENTH_MM) for mm in self.lesson.reads(frames))
        answer = await self._typed.answer(
            f"  it reads {read or 'no distance'}; Enter to save, or no where that is wrong:"
        )
        if answer and answer.casefold() in {"n", "no"}:
            raise NotLearnt(
                "nothing was saved, because the trial was read wrongly; teach it again with more "
                "known distances"
            )

    async def _ask_limits(self) -> None:
        """Ask for what was not said of the meter; an empty line is that nobody knows."""
        echo(LEAFLET_MAY_SAY)
        for field, what in LIMITS_ASKED.items():
            if not getattr(self.lesson.limits, field):
                await self._ask_limit(field, what)

    async def _ask_limit(self, field: str, what: str) -> None:
        def limits_with(text: str) -> MeterLimits:
            mm = parse_length(text).mm
            value = (mm,) if field == "fault_values_mm" else mm
            limits = msgspec.structs.replace(self.lesson.limits, **{field: value})
            limits.check([sample.known_mm for sample in self.lesson.samples])
            return limits

        limits = await self._typed.read(what, limits_with)
        if limits is not None:
            self.lesson = msgspec.structs.replace(self.lesson, limits=limits)

    async def _conclude(self, meter: Listening) -> Learnt:
        """Return what the shots say, with more of them where they say more than one thing."""
        while not isinstance(learnt := self.lesson.learnt, Learnt):
            if not isinstance(learnt, OneMore):
                for line in failed_words(self.lesson, Units.TENTH_MM):
                    echo(line)
                raise NotLearnt(learnt.why if learnt else "too few shots were shown")
            otherwise = learnt.otherwise
            end = "accept it" if otherwise else "give up"
            known = await self._one_more(learnt.why, end)
            if known is not None:
                await self._show(meter, known, "one more")
            elif otherwise:
                return otherwise
            else:
                raise TooFewShots(learnt.why)
        return learnt

    async def _show(self, meter: Listening, known: float, which: str) -> None:
        """Ask for the shot at a known distance, again where the meter itself says it failed."""
        place = format_length(known, Units.TENTH_MM)
        while told := told_error(frames := await self._heard(meter, f"{which}: measure {place}")):
            echo(f"  the meter says {told}; measure again")
        self.lesson = self.lesson.with_shot(known, frames)

    async def _fail(self, meter: Listening) -> None:
        """Ask for a shot that fails, until one tells something or is passed over."""
        what = "a failed shot: cover the meter's window, and measure"
        while True:
            frames = await self._heard_or_passed(meter, what)
            try:
                self.lesson = self.lesson.with_failure(frames)
            except BadInput as error:
                echo(f"  {error}; measure again")
            else:
                return

    async def _heard_or_passed(
        self, meter: Listening, what: str, *, or_end: bool = False
    ) -> tuple[RawFrame, ...]:
        """Return what comes of such a shot; nothing where none comes, or Enter is pressed."""
        if self._streaming or self._question:
            with contextlib.suppress(NoAnswer):
                return await self._heard(meter, what)
            return ()
        echo(f"{what}; press Enter to go on without")
        shot = asyncio.create_task(meter.shot())
        enter = asyncio.create_task(self._typed.enter(or_end=or_end))
        try:
            await asyncio.wait({shot, enter}, return_when=asyncio.FIRST_COMPLETED)
            return _told(shot.result()) if shot.done() else ()
        finally:
            shot.cancel()
            enter.cancel()
            await asyncio.gather(shot, enter, return_exceptions=True)

    async def _heard(self, meter: Listening, what: str) -> tuple[RawFrame, ...]:
        if self._streaming:
            await self._typed.answer(f"{what}, and press Enter during that")
            if self._question:
                meter.ask(self._question)
            return _told(await meter.stretch())
        if self._question:
            return _told(await self._answer(meter, self._question, what))
        echo(what)
        return _told(await meter.shot())

    async def _answer(
        self, meter: Listening, question: Question, what: str
    ) -> tuple[RawFrame, ...]:
        """Return what the meter answers once Enter is pressed, asked again for as long as it is."""
        while (
            await self._typed.answer(f"{what}; press Enter to make the meter measure") is not None
        ):
            meter.ask(question)
            try:
                return await meter.shot()
            except NoAnswer as silence:
                echo(f"  {silence}")
        raise NoAnswer(
            "the keyboard is closed, so nobody can press Enter to make the meter measure"
        )

    async def _one_more(self, why: str, end: str) -> float | None:
        """Return a further known distance from the keyboard; None when there is none."""

        def read(text: str) -> float:
            more = parse_length(text).mm
            check_known([*(sample.known_mm for sample in self.lesson.samples), more])
            return more

        echo(why)
        return await self._typed.read(f"one more known distance, or Enter to {end}:", read)


def _told(frames: tuple[RawFrame, ...]) -> tuple[RawFrame, ...]:
    echo(f"  {sum(len(frame.data) for frame in frames)} bytes")
    return frames


class _TypedAnswers:
    """The lines that are typed, from the first question on until this is left."""

    def __init__(self) -> None:
        self._lines: asyncio.Queue[str | None] = asyncio.Queue()
        self._keyboard = contextlib.ExitStack()
        self._refusals = Refusals("length")
        self._listens = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exc: object) -> None:
        self._keyboard.close()

    @property
    def is_full(self) -> bool:
        return self._lines.qsize() >= _MOST_WAITING

    def submit(self, line: str) -> None:
        self._lines.put_nowait(line.strip())

    def end(self) -> None:
        self._lines.put_nowait(None)

    async def answer(self, question: str) -> str | None:
        """Return what is typed next; None when nothing more will be."""
        echo(question)
        return await self._next()

    async def read(self, question: str, read: Callable[[str], T]) -> T | None:
        """Return what ``read`` makes of an answer, asked again until it can; None for an empty one.

        Raises:
            BadInput: when a program goes on and on answering wrongly.
        """
        while text := await self.answer(question):
            try:
                value = read(text)
            except BadInput as error:
                echo(str(error), err=True)
                self._refusals.note(True)
            else:
                self._refusals.note(False)
                return value
        return None

    async def enter(self, *, or_end: bool = False) -> None:
        """Wait for a line; when there will be none, for ever, or no longer with ``or_end``."""
        if await self._next() is None and not or_end:
            await asyncio.Event().wait()

    async def _next(self) -> str | None:
        if not self._listens:
            self._keyboard.enter_context(keyboard_for(self))
            self._listens = True
        line = await self._lines.get()
        if line is None:
            self.end()
        return line
