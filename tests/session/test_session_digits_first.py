"""What follows from a reading waits until its digits can be painted, and rests in between."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from pathlib import Path

import pytest
from evening import evening
from patience import until

from witnessmark.model import Reading
from witnessmark.session import digits_first
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


async def test_work_is_done_once_for_all_that_ask_until_then() -> None:
    done: list[int] = []
    pace = DigitsFirst(lambda: done.append(1), lambda _: None)
    for _ in range(5):
        pace.ask()
    assert pace.is_awaited
    assert done == []
    await until(lambda: not pace.is_awaited)
    assert done == [1]
    pace.ask()
    await until(lambda: not pace.is_awaited)
    assert done == [1, 1]


async def test_what_was_asked_for_is_left_undone_at_the_end() -> None:
    done: list[int] = []
    pace = DigitsFirst(lambda: done.append(1), lambda _: None)
    pace.ask()
    pace.stop()
    await until(lambda: not pace.is_awaited)
    assert done == []
