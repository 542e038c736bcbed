"""Which shots are needed is worked out beside the typing, and only what was asked last is told."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator

import msgspec
import pytest
from textual.app import App, ComposeResult
from textual.widgets import Input

from witnessmark.app.widgets import shot_advice
from witnessmark.app.widgets.shot_advice import ShotAdvice
from witnessmark.model import Setup


class AdviceApp(App[None]):
    """The sentence, and a field to type in."""

    def compose(self) -> ComposeResult:
        yield Input()
        yield ShotAdvice()

    @property
    def told(self) -> str:
        return str(self.query_one(ShotAdvice).content)


class Slow:
    """Stands in for the planning; each answer waits until it is let go."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.begun = threading.Semaphore(0)
        self.go = threading.Semaphore(0)

    def __call__(self, setup: Setup) -> tuple[str, ...]:
        self.asked.append(f"{setup.temperature_c:g}")
        self.begun.release()
        self.go.acquire()
        return (f"planned for {setup.temperature_c:g}",)


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Iterator[Slow]:
    planning = Slow()
    monkeypatch.setattr(shot_advice, "_needed", planning)
    yield planning
    for _ in range(9):
        planning.go.release()


def at(setup: Setup, temperature_c: float) -> Setup:
    return msgspec.structs.replace(setup, temperature_c=temperature_c)


async def test_typing_goes_on_meanwhile_and_the_latest_question_wins(
    setup: Setup, slow: Slow
) -> None:
    app = AdviceApp()
    async with app.run_test() as pilot:
        advice = app.query_one(ShotAdvice)
        advice.ask(at(setup, 1))
        await asyncio.to_thread(slow.begun.acquire)
        for temperature_c in (2, 3, 4):
            advice.ask(at(setup, temperature_c))
        await pilot.press("2", "6", "2")
        assert app.query_one(Input).value == "262"
        assert app.told == ""
        slow.go.release()
        await asyncio.to_thread(slow.begun.acquire)
        assert app.told == ""
        slow.go.release()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert slow.asked == ["1", "4"]
        assert app.told.endswith("Planned for 4.")


async def test_the_same_is_not_worked_out_twice_and_nothing_is_told_of_gaps(
    setup: Setup, slow: Slow
) -> None:
    app = AdviceApp()
    async with app.run_test() as pilot:
        advice = app.query_one(ShotAdvice)
        slow.go.release()
        for _ in range(3):
            advice.ask(at(setup, 5))
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert slow.asked == ["5"]
        assert app.told.endswith("Planned for 5.")
        advice.ask(None)
        assert app.told == ""
