"""A stranger's driver may raise and yield anything: told with its name, and nothing else ends."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import math
from collections.abc import AsyncGenerator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from patience import until

from witnessmark.cli.shooting import keyboard_for
from witnessmark.errors import StoreError
from witnessmark.meters.address import Address
from witnessmark.meters.capture import Question, RawFrame
from witnessmark.meters.driver_calls import fire, made, transport, waits_to_be_asked
from witnessmark.meters.driver_faults import DriverFailed
from witnessmark.meters.listening import listening_to
from witnessmark.meters.port import Driver, Fault, Link, LinkState, MeterLost, Noise, Report
from witnessmark.meters.profile import Request, Serial
from witnessmark.meters.watch import watch
from witnessmark.model import Reading
from witnessmark.session.events import Part
from witnessmark.session.meter import Destination, SessionMeter, journaled_reports
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
GOOD = Reading(1512.0, AT, "odd:", b"1.512 m")


class Unspeakable(Exception):
    """An error that cannot even say what it is."""

    def __str__(self) -> str:
        raise ValueError("no words")


class RawRaises:
    """Nothing that a meter brings, and it cannot even be asked."""

    @property
    def raw(self) -> bytes:
        raise RuntimeError("no bytes")

    def __repr__(self) -> str:
        return "RawRaises()"


class Odd(Driver):
    """Yields, or raises where it is an error, one thing after another."""

    scheme = "odd"

    def __init__(self, *things: object) -> None:
        super().__init__(Address.parse("odd:"), clock=lambda: AT)
        self.things = list(things)

    async def reports(self) -> AsyncGenerator[Report, None]:
        yield self.opened()
        while self.things:
            thing = self.things.pop(0)
            if isinstance(thing, BaseException):
                raise thing
            yield thing  # type: ignore[misc]


async def no_time(_: float) -> None:
    await asyncio.sleep(0)


async def seen(driver: Driver) -> list[Report]:
    async with asyncio.timeout(10):
        return [report async for report in watch(driver, sleep=no_time)]


@pytest.mark.parametrize(
    "error",
    [
        ValueError("odd bytes \x1b[2J"),
        KeyError("x"),
        RecursionError(),
        StoreError("not the driver's to raise"),
        Unspeakable(),
        SystemExit(0),
        asyncio.CancelledError(),
        TimeoutError(),
        GeneratorExit(),
        StopAsyncIteration(),
        AssertionError("x" * 1_000_000),
    ],
    ids=lambda error: type(error).__name__,
)
async def test_whatever_it_raises_is_told_with_its_name_and_it_is_tried_again(
    error: BaseException,
) -> None:
    reports = await seen(Odd(error, GOOD))
    lost = [one for one in reports if isinstance(one, Link) and one.state is LinkState.LOST]
    assert len(lost) == 1
    assert 'the driver for "odd:" failed' in lost[0].words
    assert len(lost[0].words) < 500
    assert "\x1b" not in lost[0].words
    assert GOOD in reports


@pytest.mark.parametrize(
    "thing",
    [
        None,
        "1.512 m",
        ["1.512 m"],
        *(Reading(mm, AT, "odd:", b"") for mm in (math.nan, math.inf, -5.0, 0.0, 1e9, -1e308)),
        Reading("1512", AT, "odd:", b""),  # type: ignore[arg-type]
        Reading(True, AT, "odd:", b""),
        Reading(1512.0, AT.replace(tzinfo=None), "odd:", b""),
        Reading(1512.0, "today", "odd:", b""),  # type: ignore[arg-type]
        Reading(1512.0, AT, None, b""),  # type: ignore[arg-type]
        Reading(1512.0, AT, "odd:", "text"),  # type: ignore[arg-type]
        Reading(1512.0, AT, "odd:", b"x" * 20_000_000),
        Fault("x" * 20_000_000, AT, "odd:"),
        Fault(7, AT, "odd:"),  # type: ignore[arg-type]
        Noise(None, AT, "odd:"),  # type: ignore[arg-type]
        Noise("no unit", AT, "odd:", b"", 7),  # type: ignore[arg-type]
        Noise("no unit", AT, "odd:", b"", "1" * 20_000_000),
        Fault("half a sign: \ud800", AT, "odd:"),
        RawRaises(),
        Link("open", "words", AT, "odd:"),  # type: ignore[arg-type]
    ],
    ids=lambda thing: repr(thing)[:60],
)
async def test_what_is_no_report_is_noise_with_its_name_and_the_next_is_heard(
    thing: object,
) -> None:
    _, noise, good, closed = await seen(Odd(thing, GOOD))
    assert isinstance(noise, Noise)
    assert noise.why.startswith('the driver for "odd:" reported ')
    assert len(noise.why) < 400
    assert len(noise.raw) <= 64_000
    assert good == GOOD
    assert isinstance(closed, Link)


async def test_numbers_of_other_kinds_are_distances_all_the_same() -> None:
    mm = np.float32(1512.5)
    _, reading, _ = await seen(Odd(Reading(mm, AT, "odd:", b"")))  # type: ignore[arg-type]
    assert isinstance(reading, Reading)
    assert type(reading.distance_mm) is float
    assert reading.distance_mm == 1512.5


async def test_one_that_gives_no_generator_is_told() -> None:
    class Plain(Odd):
        def reports(self) -> AsyncGenerator[Report, None]:
            if self.things:
                return self.things.pop()  # type: ignore[return-value]
            return super().reports()

    words = [one.words for one in await seen(Plain([1.0])) if isinstance(one, Link)]
    assert 'the driver for "odd:" failed' in words[0]


async def test_an_error_while_it_is_closed_hides_nothing() -> None:
    class Slamming(Odd):
        async def reports(self) -> AsyncGenerator[Report, None]:
            try:
                yield GOOD
                await asyncio.Event().wait()
            finally:
                raise ValueError("while closing")

    async with contextlib.aclosing(watch(Slamming())) as reports:
        assert await anext(reports) == GOOD


async def test_nothing_of_it_reaches_the_journal_as_a_distance(tmp_path: Path) -> None:
    journal = Journal(Store.open(tmp_path / "store.sqlite3"))
    driver = Odd(Reading(float("nan"), AT, "odd:", b"\x01"), Reading(-5.0, AT, "odd:"), GOOD)
    refused: list[StoreError] = []
    place = Destination(Part.ROUND, None)
    reports = journaled_reports(driver, journal, lambda: place, refused.append)
    kinds = [type(report) async for report, _ in reports]
    entries = await journal.run(Store.entries, None)
    await journal.aclose()
    assert refused == []
    assert kinds == [Link, Noise, Noise, Reading, Link]
    assert [type(entry) for entry in entries] == [Noise, Noise, Reading]


class Refusing(Odd):
    """Fails wherever it is asked something."""

    @property
    def waits(self) -> bool:
        raise ValueError("no answer")

    def fire(self) -> None:
        raise ValueError("no answer")


def test_asking_it_tells_its_name() -> None:
    for ask in (waits_to_be_asked, fire):
        with pytest.raises(DriverFailed, match='the driver for "odd:" failed'):
            ask(Refusing())


class Bare(Driver):
    """Has neither scheme nor clock nor address, as it says nothing to its base."""

    def __init__(self, *_: object) -> None:
        pass

    async def reports(self) -> AsyncGenerator[Report, None]:
        yield GOOD
        raise ValueError("on and on")


async def test_one_that_lacks_everything_is_told_by_what_it_is() -> None:
    async with contextlib.aclosing(watch(Bare(), sleep=no_time)) as reports:
        assert await anext(reports) == GOOD
        lost = await anext(reports)
    assert isinstance(lost, Link)
    assert 'the driver for "Bare:" failed (ValueError: on and on)' in lost.words
    assert lost.meter == "Bare:"


def test_one_that_lacks_something_is_not_made() -> None:
    with pytest.raises(DriverFailed, match=r'"odd:" failed .*it has no scheme, no address, no cl'):
        made(Bare, Address.parse("odd:"), lambda: AT)


class Clinging(Odd):
    """Takes no cancelling: it holds on to its meter until it is told that it may go."""

    def __init__(self, *things: object) -> None:
        super().__init__(*things)
        self.may_go = asyncio.Event()
        self.held = 0

    async def reports(self) -> AsyncGenerator[Report, None]:
        yield self.opened()
        while not self.may_go.is_set():
            with contextlib.suppress(asyncio.CancelledError):
                self.held += 1
                await self.may_go.wait()


async def clung_to(driver: Clinging, told: list[DriverFailed]) -> None:
    """Listen to such a meter, and stop that."""
    watching = watch(driver, left_behind=told.append, let_go_s=0.01)
    async with contextlib.aclosing(watching) as reports:
        assert isinstance(await anext(reports), Link)
        waiting = asyncio.ensure_future(anext(reports))
        await until(lambda: driver.held)
        waiting.cancel()
        await asyncio.wait({waiting})


async def test_one_that_does_not_let_go_is_left_behind_and_told() -> None:
    told: list[DriverFailed] = []
    driver = Clinging()
    await clung_to(driver, told)
    assert asyncio.all_tasks() == {asyncio.current_task()}
    (failed,) = told
    assert 'the driver for "odd:" failed (it did not let go of its meter within' in str(failed)
    driver.may_go.set()


def test_the_program_ends_all_the_same_and_without_a_word_more(
    caplog: pytest.LogCaptureFixture,
) -> None:
    told: list[DriverFailed] = []

    async def program() -> None:
        await clung_to(Clinging(), told)

    asyncio.run(program())
    gc.collect()
    assert len(told) == 1
    assert caplog.text == ""


async def test_the_next_meter_is_opened_after_one_that_does_not_let_go(
    tmp_path: Path,
) -> None:
    journal = Journal(Store.open(tmp_path / "store.sqlite3"))
    clinging, failed, taken = Clinging(), list[str](), list[Report]()
    meter = SessionMeter(
        journal,
        lambda address: clinging if address == "odd:" else Odd(GOOD),
        lambda: AT,
        place=lambda: Destination(Part.ASIDE, None),
        take=lambda report, _: taken.append(report),
        fail=lambda error: failed.append(str(error)),
        watch_over=lambda _: None,
        let_go_s=0.01,
    )
    meter.listen("odd:")
    await until(lambda: clinging.held)
    meter.listen("other:")
    await until(lambda: GOOD in taken)
    await meter.let_go()
    await journal.aclose()
    (words,) = failed
    assert "did not let go" in words
    clinging.may_go.set()


class Untaught(Odd):
    """Is taught from, and is as odd then."""

    async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        for thing in self.things:
            yield thing  # type: ignore[misc]

    def ask(self, question: Question) -> None:
        raise ValueError("no answer")

    def transport(self, channel: str, question: Question | None = None) -> Serial:
        raise SystemExit(1)


OPEN = Link(LinkState.OPEN, "open", AT, "odd:")


@pytest.mark.parametrize("things", [(), (RawFrame(b"1", AT),)])
async def test_one_that_does_not_say_that_it_is_open_teaches_nothing(
    things: tuple[object, ...],
) -> None:
    with pytest.raises(DriverFailed, match="it did not say that its meter is open"):
        async with listening_to(Untaught(*things)):
            pass


@pytest.mark.parametrize(
    "frame",
    [
        7,
        RawFrame("text", AT),  # type: ignore[arg-type]
        RawFrame(b"1", "now"),  # type: ignore[arg-type]
        RawFrame(b"1", AT, None),  # type: ignore[arg-type]
        RawFrame(b"1" * 20_000_000, AT),
    ],
    ids=lambda frame: repr(frame)[:40],
)
async def test_what_is_no_frame_teaches_nothing(frame: object) -> None:
    async with listening_to(Untaught(OPEN, frame)) as heard:
        with pytest.raises(DriverFailed, match='the driver for "odd:" failed') as told:
            await heard.shot()
    assert len(str(told.value)) < 400


async def test_whatever_it_does_when_it_is_taught_from_is_told() -> None:
    driver = Untaught(OPEN)
    async with listening_to(driver) as heard:
        with pytest.raises(DriverFailed, match="no answer"):
            heard.ask(Question(Request(text="D")))
        with pytest.raises(MeterLost, match="the meter closed"):
            await heard.shot()
    with pytest.raises(DriverFailed, match="SystemExit"):
        transport(driver, "", None)


async def test_one_that_does_not_take_what_is_typed_is_told(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    class Deaf(Odd):
        def submit(self, line: str) -> None:
            raise ValueError(line)

        def end(self) -> None:
            raise SystemExit

    file = tmp_path / "typed"
    file.write_bytes(b"1.2m\n1.3m\n")
    with file.open("rb") as source, keyboard_for(Deaf(), source):
        pass
    told = capsys.readouterr().err.splitlines()
    assert [line.partition(")")[0] for line in told] == [
        'the driver for "odd:" failed (ValueError: 1.2m',
        'the driver for "odd:" failed (ValueError: 1.3m',
        'the driver for "odd:" failed (SystemExit:',
    ]
