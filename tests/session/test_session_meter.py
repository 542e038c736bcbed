"""From a meter to the journal and on: a meter that waits, and one that sends by itself."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from evening import ATTIC, Evening, evening
from patience import until

from witnessmark.errors import StoreError
from witnessmark.meters.address import Address
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import Driver, LinkState, Report
from witnessmark.model import BY_TAPE, Cabinet, Pair, Reading, Room, Seat, Setup
from witnessmark.session.events import Came, Crashed, Failed, LinkChanged, Part
from witnessmark.session.meter import Destination, journaled_reports
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store

AT = datetime(2026, 6, 3, 19, 30, tzinfo=UTC)
CABINET = Cabinet(264.0, 380.0)
SETUP = Setup(Room.rectangular(4900.0, 6500.0), Pair(CABINET, CABINET), Seat(4300.0, 2450.0))


class Sender(Driver):
    """Sends three distances once it is open."""

    scheme = "sender"

    async def reports(self) -> AsyncGenerator[Report, None]:
        yield self.opened()
        for distance_mm in (1000.0, 2000.0, 3000.0):
            yield Reading(distance_mm, AT, self.address.text)


class Waiter(Sender):
    """The same, but the meter measures only when it is asked."""

    scheme = "waiter"
    waits = True

    def fire(self) -> None:
        """Nothing more comes for it."""


@pytest.mark.parametrize(
    ("driver", "handed_on", "outside"),
    [(Sender, [1000.0, 2000.0, 3000.0], []), (Waiter, [2000.0, 3000.0], [1000.0])],
)
async def test_what_a_waiting_meter_answers_as_it_is_opened_is_of_no_round(
    driver: type[Sender], handed_on: list[float], outside: list[float], tmp_path: Path
) -> None:
    store = Store.open(tmp_path / "store.sqlite3")
    round_id = store.start_round(store.save_setup("Attic", SETUP, AT), AT)
    async with Journal(store) as journal:
        meter = driver(Address.parse(f"{driver.scheme}:"), lambda: AT)
        refused: list[StoreError] = []
        place = Destination(Part.ROUND, round_id)
        reading = journaled_reports(meter, journal, lambda: place, refused.append)
        async with contextlib.aclosing(reading) as reports:
            came = [report async for report, _ in reports]
        kept, beside = [await journal.run(Store.entries, place) for place in (round_id, None)]
    assert refused == []
    assert [one.distance_mm for one in came if isinstance(one, Reading)] == handed_on
    assert [one.distance_mm for one in kept if isinstance(one, Reading)] == handed_on
    assert [one.distance_mm for one in beside if isinstance(one, Reading)] == outside


class Buttons(Driver):
    """A meter whose shots a test takes; it is closed only when the test lets it be."""

    scheme = "buttons"

    def __init__(self, address: Address) -> None:
        super().__init__(address, lambda: AT)
        self.shots: asyncio.Queue[float] = asyncio.Queue()
        self.may_close = asyncio.Event()
        self.may_close.set()
        self.is_open = False

    async def reports(self) -> AsyncGenerator[Report, None]:
        self.is_open = True
        yield self.opened()
        try:
            while True:
                yield Reading(await self.shots.get(), AT, self.address.text)
        finally:
            # as the thread of a serial port: it ends when it ends, however often it is cancelled
            while not self.may_close.is_set():
                with contextlib.suppress(asyncio.CancelledError):
                    await self.may_close.wait()
            self.is_open = False


class Cupboard:
    """Gives out drivers and remembers them, the latest last."""

    def __init__(self) -> None:
        self.drivers: list[Buttons] = []

    def open(self, address: str) -> Buttons:
        self.drivers.append(Buttons(Address.parse(address)))
        return self.drivers[-1]


@pytest.fixture
def cupboard() -> Cupboard:
    return Cupboard()


BY_BUTTON = msgspec.structs.replace(ATTIC, meter_address="buttons:")


def distances(there: Evening, part: Part) -> list[float]:
    """What those who follow a part were sent."""
    came = [event.what for event in there.of(Came, part)]
    return [what.distance_mm for what in came if isinstance(what, Reading)]


async def test_another_screens_readings_are_of_no_round_and_the_meter_stays_open(
    store_file: Path, cupboard: Cupboard
) -> None:
    async with evening(store_file, workspace=BY_BUTTON, open_driver=cupboard.open) as there:
        await there.begin()
        (meter,) = cupboard.drivers
        meter.shots.put_nowait(1322.0)
        await until(lambda: there.round.readings == 1)
        states = len(there.of(LinkChanged))
        there.session.listen_for(Part.ASIDE)
        # sent once more, for who follows now has not been sent it
        assert [event.link.state for event in there.of(LinkChanged)[states:]] == [LinkState.OPEN]
        meter.shots.put_nowait(2500.0)
        await until(lambda: distances(there, Part.ASIDE) == [2500.0])
        there.session.listen_for(Part.ROUND)
        meter.shots.put_nowait(1333.0)
        await until(lambda: len(distances(there, Part.ROUND)) == 2)
        assert distances(there, Part.ROUND) == [1322.0, 1333.0]
        assert distances(there, Part.ASIDE) == [2500.0]
        await there.settle()
        assert there.round.readings == 2
        run = there.session.journal.run
        assert len(await run(Store.entries, there.session.round_id)) == 2
        (outside,) = await run(Store.entries, None)
        assert isinstance(outside, Reading)
        assert outside.distance_mm == 2500.0
        assert cupboard.drivers == [meter]


async def test_before_a_round_is_begun_the_meter_is_listened_to_for_others_alone(
    store_file: Path, cupboard: Cupboard
) -> None:
    async with evening(store_file, workspace=BY_BUTTON, open_driver=cupboard.open) as there:
        there.session.listen_for(Part.ROUND)
        assert cupboard.drivers == []
        there.session.listen_for(Part.ASIDE)
        await until(lambda: cupboard.drivers and cupboard.drivers[0].is_open)
        cupboard.drivers[0].shots.put_nowait(2500.0)
        await until(lambda: distances(there, Part.ASIDE) == [2500.0])
        await there.session.record(Reading(2501.0, AT, BY_TAPE), Part.ASIDE)
        assert distances(there, Part.ASIDE) == [2500.0, 2501.0]
        there.session.listen_for(Part.ROUND)
        await until(lambda: not cupboard.drivers[0].is_open)


async def test_what_is_chosen_instead_is_listened_to_once_the_meter_before_is_closed(
    store_file: Path, cupboard: Cupboard
) -> None:
    async with evening(store_file, workspace=BY_BUTTON, open_driver=cupboard.open) as there:
        await there.begin()
        (meter,) = cupboard.drivers
        meter.may_close.clear()
        other = msgspec.structs.replace(there.session.workspace, meter_address="buttons:?other=1")
        there.session.workspace = other
        await there.session.resume()
        await _turns()
        assert cupboard.drivers == [meter]
        meter.may_close.set()
        await until(lambda: len(cupboard.drivers) == 2 and cupboard.drivers[1].is_open)
        assert not meter.is_open


async def test_a_lent_meter_is_closed_before_and_left_alone_until_it_is_given_back(
    store_file: Path, cupboard: Cupboard
) -> None:
    async with evening(store_file, workspace=BY_BUTTON, open_driver=cupboard.open) as there:
        await there.begin()
        (meter,) = cupboard.drivers
        meter.may_close.clear()
        lending = asyncio.create_task(there.session.lend_meter("buttons:?bare=1"))
        await _turns()
        assert not lending.done()
        meter.may_close.set()
        lent = await lending
        assert lent is cupboard.drivers[-1]
        assert not meter.is_open
        await there.session.resume()
        await _turns()
        assert len(cupboard.drivers) == 2
        there.session.listen_for(Part.ROUND)
        await until(lambda: len(cupboard.drivers) == 3 and cupboard.drivers[2].is_open)


async def test_a_meter_that_closes_slowly_is_waited_for_however_often_that_is_cancelled(
    store_file: Path, cupboard: Cupboard
) -> None:
    async with evening(store_file, workspace=BY_BUTTON, open_driver=cupboard.open) as there:
        await there.begin()
        (meter,) = cupboard.drivers
        meter.may_close.clear()
        for _ in range(3):
            lending = asyncio.create_task(there.session.lend_meter("buttons:"))
            await _turns()
            lending.cancel()
            await asyncio.wait([lending])
        closing = asyncio.create_task(there.session.aclose())
        await _turns()
        assert not closing.done()
        assert meter.is_open
        meter.may_close.set()
        await closing
        assert not meter.is_open


async def test_a_meter_is_asked_only_where_it_waits_and_is_the_chosen_one(store_file: Path) -> None:
    asked: list[str] = []

    class Asked(Buttons):
        waits = True

        def fire(self) -> None:
            asked.append(self.address.text)

    def asked_meter(address: str) -> Asked:
        return Asked(Address.parse(address))

    async with evening(store_file, workspace=BY_BUTTON, open_driver=asked_meter) as there:
        assert not there.session.can_ask
        await there.begin()
        assert there.session.can_ask
        there.session.ask()
        assert asked == ["buttons:"]
        there.session.workspace = msgspec.structs.replace(BY_BUTTON, meter_address="typed:")
        assert not there.session.can_ask
        await there.session.resume()
        assert not there.session.can_ask
        there.session.ask()
        assert asked == ["buttons:"]


async def test_an_address_that_cannot_be_is_said_to_those_who_measure(store_file: Path) -> None:
    wrong = msgspec.structs.replace(ATTIC, meter_address="nosuch:meter")
    async with evening(store_file, workspace=wrong, open_driver=open_driver) as there:
        await there.session.resume()
        await until(lambda: there.of(Failed))
        assert there.of(Failed, Part.ASIDE) == []
        there.session.listen_for(Part.ASIDE)
        await until(lambda: there.of(Failed, Part.ASIDE))
        (failed,) = there.of(Failed, Part.ASIDE)
        assert "nosuch" in failed.why


async def test_a_defect_of_a_driver_is_told_with_its_name_and_ends_nothing(
    store_file: Path,
) -> None:
    class Broken(Buttons):
        async def reports(self) -> AsyncGenerator[Report, None]:
            yield self.opened()
            raise ZeroDivisionError

    def broken_meter(address: str) -> Broken:
        return Broken(Address.parse(address))

    async with evening(store_file, workspace=BY_BUTTON, open_driver=broken_meter) as there:
        await there.session.resume()
        await until(lambda: there.link is LinkState.LOST)
        assert "failed (ZeroDivisionError" in there.of(LinkChanged)[-1].link.words
        assert there.of(Crashed, Part.PROGRAM) == []


async def _turns() -> None:
    """Let everything happen that can happen without waiting."""
    for _ in range(20):
        await asyncio.sleep(0.001)
