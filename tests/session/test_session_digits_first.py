"""What follows from a reading waits until its digits can be painted, and rests in between."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from evening import evening
from patience import HUNG_S, until

from witnessmark.errors import WitnessmarkError
from witnessmark.model import Reading
from witnessmark.placing.guidance import Guidance
from witnessmark.placing.round import Event, Round
from witnessmark.session import digits_first, resume
from witnessmark.session.digits_first import DigitsFirst
from witnessmark.session.events import Came, Guided, Part, SessionEvent

AT = datetime(2026, 6, 3, 19, 30, tzinfo=UTC)


async def test_the_loop_turns_between_a_reading_and_what_follows(store_file: Path) -> None:
    """As a screen does, which paints the digits in a turn of its own."""
    happened: list[str] = []

    def follow(event: SessionEvent) -> None:
        if isinstance(event, Came):
            asyncio.get_running_loop().call_soon(happened.append, "painted")
        elif isinstance(event, Guided):
            happened.append("guided")

    async with evening(store_file) as there:
        await there.begin()
        there.session.subscribe(Part.ROUND, follow)
        for _ in range(3):
            await there.shoot()
    assert happened == ["painted", "guided"] * 3


async def test_readings_that_come_all_the_time_are_worked_out_together(
    store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with evening(store_file) as there:
        await there.begin()
        monkeypatch.setattr(digits_first, "_REST_S", 3600.0)
        await there.shoot()
        begun = len(there.of(Guided))
        monkeypatch.setattr(digits_first, "_REST_S", 0.0)
        for number in range(20):
            await there.session.record(Reading(1322.0 + number, AT, "sim:"))
        assert len(there.of(Came)) == 21
        assert len(there.of(Guided)) == begun
        assert there.session.is_behind


class Work:
    """Counts how often it was done, and takes until it is let go on."""

    def __init__(self) -> None:
        self.begun = self.done = 0
        self.may_end = asyncio.Event()
        self.may_end.set()

    async def __call__(self) -> None:
        self.begun += 1
        await self.may_end.wait()
        self.done += 1


async def test_work_is_done_once_for_all_that_ask_until_then() -> None:
    work = Work()
    pace = DigitsFirst(work, lambda _: None)
    for _ in range(5):
        pace.ask()
    assert pace.is_awaited
    assert work.done == 0
    await until(lambda: not pace.is_awaited)
    assert work.done == 1
    pace.ask()
    await until(lambda: not pace.is_awaited)
    assert work.done == 2


async def test_who_asks_while_it_is_done_has_it_done_once_more() -> None:
    work = Work()
    pace = DigitsFirst(work, lambda _: None)
    work.may_end.clear()
    pace.ask()
    await until(lambda: work.begun == 1)
    pace.ask()
    pace.ask()
    work.may_end.set()
    await until(lambda: not pace.is_awaited)
    assert work.done == 2


async def test_what_was_asked_for_is_left_undone_at_the_end() -> None:
    work = Work()
    pace = DigitsFirst(work, lambda _: None)
    pace.ask()
    pace.stop()
    await until(lambda: not pace.is_awaited)
    assert work.begun == 0


@pytest.fixture
def long_guidance(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Lets a guidance take as long as the event that is given is not set."""
    may_end = threading.Event()
    may_end.set()
    guide = resume.guide

    def guide_at_length(state: Round) -> Guidance:
        assert may_end.wait(HUNG_S)
        return guide(state)

    monkeypatch.setattr(resume, "guide", guide_at_length)
    yield may_end
    may_end.set()


async def test_readings_come_in_while_one_is_worked_out_at_length(
    store_file: Path, long_guidance: threading.Event
) -> None:
    async with evening(store_file) as there:
        await there.begin()
        guided = len(there.of(Guided))
        long_guidance.clear()
        for number in range(3):
            await there.session.record(Reading(1322.0 + number, AT, "sim:"))
        assert len(there.of(Came)) == 3
        assert len(there.of(Guided)) == guided
        long_guidance.set()
        await until(lambda: not there.session.is_behind)
        assert there.session.round is not None
        assert there.session.round.readings == 3


async def test_the_loop_turns_between_two_readings_that_are_worked_out_together(
    store_file: Path, long_guidance: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a thread is at work the loop waits for each of its turns, and a reading for them."""
    happened: list[str] = []
    async with evening(store_file) as there:
        await there.begin()
        loop, fed = asyncio.get_running_loop(), resume.fed

        def fed_in_thread(state: Round, event: Event) -> tuple[Round, WitnessmarkError | None]:
            happened.append("worked out")
            result = fed(state, event)
            loop.call_soon_threadsafe(happened.append, "turned")
            return result

        monkeypatch.setattr(resume, "fed", fed_in_thread)
        long_guidance.clear()
        for number in range(4):  # the first is held up; then the others are worked out together
            await there.session.record(Reading(1322.0 + number, AT, "sim:"))
        long_guidance.set()
        await until(lambda: not there.session.is_behind)
    assert happened == ["worked out", "turned"] * 4


async def test_a_round_that_was_left_while_it_was_worked_out_stays_left(
    store_file: Path, long_guidance: threading.Event
) -> None:
    async with evening(store_file) as there:
        await there.begin()
        long_guidance.clear()
        await there.session.record(Reading(1322.0, there.session.clock(), "sim:"))
        leaving = asyncio.create_task(there.session.begin_afresh())
        await asyncio.sleep(0)
        long_guidance.set()
        await leaving
        await until(lambda: not there.session.is_behind)
        assert there.session.round is not None
        assert there.session.round.readings == 0
        await there.session.take_up_again()
        assert there.session.round.readings == 1
