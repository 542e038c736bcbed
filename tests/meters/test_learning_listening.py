"""One shot after another from a meter whose bytes nobody can read yet."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator
from datetime import UTC, datetime

import pytest
from patience import until

from witnessmark.errors import BadInput
from witnessmark.meters import listening
from witnessmark.meters.capture import Question, RawFrame
from witnessmark.meters.listening import Beats, NoAnswer, listening_to
from witnessmark.meters.port import Link, LinkState, MeterLost
from witnessmark.meters.profile import Request, Serial

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
QUESTION = Question(Request(text="D"))


class Meter:
    """A meter that says what is put into its queue; None is the end of the link.

    Asked, it says at once what is among its answers.
    """

    def __init__(self, *answers: bytes) -> None:
        self.says: asyncio.Queue[bytes | None] = asyncio.Queue()
        self.answers = answers

    async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        yield Link(LinkState.OPEN, "open", AT, "meter")
        while (data := await self.says.get()) is not None:
            yield RawFrame(data, AT)
        raise MeterLost("the meter is gone")

    def ask(self, question: Question) -> None:
        assert question == QUESTION
        for answer in self.answers:
            self.says.put_nowait(answer)

    def transport(self, channel: str, question: Question | None = None) -> Serial:
        return Serial()


@pytest.fixture(autouse=True)
def in_a_hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("SETTLE_S", "QUIET_S", "STREAM_S", "BEAT_S"):
        monkeypatch.setattr(listening, name, 0.05)
    monkeypatch.setattr(listening, "ANSWERED_S", 0.2)
    monkeypatch.setattr(listening, "UNDER_WAY_S", 0.03)


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening, "ANSWER_S", 0.05)


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


async def test_a_line_that_a_meter_sends_again_and_again_by_itself_is_no_shot(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(listening, "BEAT_S", 2.0)
    monkeypatch.setattr(listening, "_UNEVEN", 10.0)  # a busy computer is no metronome
    meter = Meter()
    async with listening_to(meter) as heard:
        shot = asyncio.create_task(heard.shot())
        for _ in range(4):
            await asyncio.sleep(0.06)
            meter.says.put_nowait(b"STATUS 1850")
        await asyncio.sleep(0.06)
        assert not shot.done()
        heard._opened_s -= 10.0  # as if it had been open for long
        meter.says.put_nowait(b"1.512 m")
        assert data(await shot) == [b"STATUS 1850", b"1.512 m"]


def test_what_comes_three_times_at_an_even_pace_comes_by_itself(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.undo()
    beats, status, pressed = Beats(), ("", b"STATUS 1850"), ("", b"1.512 m")
    for at_s in (0.7, 1.7):
        beats.note(status, at_s)
    assert not beats.has(status)
    assert beats.known_at_s(status) == pytest.approx(2.95)
    beats.note(status, 2.75)
    assert beats.has(status)
    for at_s in (1.0, 2.2, 5.9, 12.0):
        beats.note(pressed, at_s)
    assert not beats.has(pressed)


@pytest.mark.parametrize(("at_s", "known_s"), [(0.3, 2.8), (2.4, 4.9), (2.6, 2.6), (60.0, 60.0)])
def test_what_would_have_come_before_if_it_came_by_itself_is_a_shot_at_once(
    monkeypatch: pytest.MonkeyPatch, at_s: float, known_s: float
) -> None:
    monkeypatch.undo()
    beats = Beats()
    beats.note(("", b"1.512 m"), at_s)
    assert beats.known_at_s(("", b"1.512 m")) == pytest.approx(known_s)


async def test_a_stretch_begins_now() -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        meter.says.put_nowait(b"before")
        await asyncio.sleep(0)
        loop = asyncio.get_running_loop()
        loop.call_soon(meter.says.put_nowait, b"under way before")
        loop.call_later(0.07, meter.says.put_nowait, b"after")
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


async def test_a_meter_that_waits_is_asked_and_answers() -> None:
    meter = Meter(b"1.512 m")
    async with listening_to(meter) as heard:
        for _ in range(2):
            heard.ask(QUESTION)
            assert data(await heard.shot()) == [b"1.512 m"]


async def test_a_meter_that_first_says_that_it_has_understood_is_heard_out() -> None:
    meter = Meter(b"ok")
    async with listening_to(meter) as heard:
        heard.ask(QUESTION)
        asyncio.get_running_loop().call_later(0.1, meter.says.put_nowait, b"1.512 m")
        assert data(await heard.shot()) == [b"ok", b"1.512 m"]


async def test_what_came_before_a_question_is_not_its_answer() -> None:
    meter = Meter(b"1.512 m")
    async with listening_to(meter) as heard:
        meter.says.put_nowait(b"1.511 m")
        await asyncio.sleep(0)
        heard.ask(QUESTION)
        assert data(await heard.shot()) == [b"1.512 m"]


async def test_what_a_meter_says_by_itself_is_no_answer(impatient: None) -> None:
    meter = Meter(b"charge 87")
    async with listening_to(meter) as heard:
        meter.says.put_nowait(b"charge 87")
        await heard.settle()
        heard.ask(QUESTION)
        with pytest.raises(NoAnswer, match=r"no answer within 0\.05 s"):
            await heard.shot()


async def test_a_meter_that_did_not_answer_can_be_asked_again(
    impatient: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        heard.ask(QUESTION)
        with pytest.raises(NoAnswer):
            await heard.shot()
        monkeypatch.setattr(listening, "ANSWER_S", 10.0)
        meter.answers = (b"1.512 m",)
        heard.ask(QUESTION)
        assert data(await heard.shot()) == [b"1.512 m"]


async def test_a_meter_that_is_lost_stays_lost_when_asked() -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        meter.says.put_nowait(None)
        await asyncio.sleep(0)
        heard.ask(QUESTION)
        with pytest.raises(MeterLost, match="the meter is gone"):
            await heard.shot()


async def test_one_that_sends_all_the_time_once_asked_is_heard_for_a_stretch(
    impatient: None,
) -> None:
    meter = Meter(b"1.512 m", b"1.512 m")
    async with listening_to(meter) as heard:
        heard.ask(QUESTION)
        assert data(await heard.stretch()) == [b"1.512 m", b"1.512 m"]
        await asyncio.sleep(0.1)  # past the time after which a silence would be told
        asyncio.get_running_loop().call_soon(meter.says.put_nowait, b"1.513 m")
        assert data(await heard.shot()) == [b"1.513 m"]


async def test_an_answer_in_the_last_moment_is_one(impatient: None) -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        heard.ask(QUESTION)
        meter.says.put_nowait(b"1.512 m")
        time.sleep(0.1)  # noqa: ASYNC251 - so that both are there when the loop looks again
        assert data(await heard.shot()) == [b"1.512 m"]


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening, "MOST_FRAMES", 20)


async def test_of_a_flood_between_two_shots_a_bounded_number_is_kept(few: None) -> None:
    meter = Meter()
    async with listening_to(meter) as heard:
        for number in range(100):
            meter.says.put_nowait(b"%d" % number)
        await until(meter.says.empty)
        assert heard._heard.qsize() <= 20
        with pytest.raises(BadInput, match="--streaming"):
            await heard.shot()
        asyncio.get_running_loop().call_later(0.05, meter.says.put_nowait, b"1.512 m")
        assert data(await heard.stretch()) == [b"1.512 m"]


async def test_a_shot_or_a_stretch_that_is_a_flood_says_so(few: None) -> None:
    class Flood(Meter):
        async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
            yield Link(LinkState.OPEN, "open", AT, "meter")
            while True:
                yield RawFrame(b"1.512 m", AT)

    async with listening_to(Flood()) as heard:
        with pytest.raises(BadInput, match="--streaming"):
            await heard.shot()
        with pytest.raises(BadInput, match="more than 20 messages"):
            await heard.stretch()


def test_when_different_frames_came_is_forgotten_in_time() -> None:
    beats = Beats()
    for number in range(10_000):
        beats.note(("", b"%d" % number), number / 1000)
        beats.note(("", b"STATUS"), number / 1000)
    assert sum(len(times) for times in beats._times.values()) < 1000
    assert beats.known_at_s(("", b"0")) == 0.0
    assert not beats.has(("", b"0"))
