"""Meters read by profile: which characteristic is read, which takes requests, and learning both."""

from __future__ import annotations

import contextlib
import functools
from collections.abc import AsyncGenerator
from pathlib import Path

import pytest
from air import (
    AT,
    ONE,
    OTHER,
    SERVICE,
    THIRD,
    THOUSANDTHS,
    Air,
    MakeAir,
    meter_of,
    notifying,
    refusal,
    take,
    told_open,
)

from witnessmark.errors import BadInput
from witnessmark.meters.capture import OffersRawFrames, Question, RawFrame
from witnessmark.meters.port import CanFire, Fault, Link, MeterError, MeterLost
from witnessmark.meters.profile import Request
from witnessmark.meters.profile_values import Octets, Uuid
from witnessmark.model import Reading
from witnessmark_drivers.ble import BleMeter
from witnessmark_simulators.bluetooth.gatt import NOTIFY, WRITE, WRITE_SILENTLY, Characteristic
from witnessmark_simulators.bluetooth.meters import (
    ADDRESS,
    FIRE,
    READINGS,
    REQUESTS,
    Speech,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.peripheral import Deed, Peripheral, Refusal


def save_profile(folder: Path, bluetooth: str) -> str:
    text = f"""
        format = "witnessmark profile 1"
        [bluetooth]
        {bluetooth}
        [text]
    """
    (folder / "mine.toml").write_text(text)
    return "?profile=mine"


async def test_a_profile_chooses_its_characteristic(air_of: MakeAir, profiles: Path) -> None:
    options = save_profile(profiles, f'characteristic = "{OTHER}"')
    meter = meter_of(notifying(ONE, THOUSANDTHS), notifying(OTHER))
    async with air_of(meter) as air, air.opened(meter, options) as reports:
        assert not meter.send(b"\xe8\x03", ONE)
        meter.send(b"1513 mm\r\n", OTHER)
        reading = await anext(reports)
    assert reading == Reading(1513.0, AT, f"ble:{ADDRESS}{options}", b"1513 mm")


async def test_a_profile_for_another_meter_says_so(air_of: MakeAir, profiles: Path) -> None:
    options = save_profile(profiles, f'characteristic = "{THIRD}"')
    meter = meter_of(notifying(ONE))
    async with air_of(meter) as air:
        words = await refusal(air, meter, options)
    assert f'the profile "mine" is not for this meter, which does not notify {THIRD}' in words


REQUEST = f"""
    characteristic = "{READINGS}"
    request_characteristic = "{REQUESTS}"
    request = {{ bytes = "{FIRE.hex()}", every = 0.05 }}
"""


async def test_a_meter_is_fired_as_its_profile_says(air_of: MakeAir, profiles: Path) -> None:
    options = save_profile(profiles, REQUEST)
    written: list[bytes] = []

    def answer(data: bytes) -> None:
        written.append(data)
        meter.send(b"%d mm\r\n" % (1511 + len(written)))

    meter = simulated_meter(Speech.TEXT, on_write=answer)
    async with air_of(meter) as air, air.opened(meter, options) as reports:
        readings = await take(reports, 3)
    assert [one.distance_mm for one in readings if isinstance(one, Reading)] == [1512, 1513, 1514]
    assert written[:3] == [FIRE] * 3


async def test_a_meter_is_fired_when_the_person_says(air_of: MakeAir, profiles: Path) -> None:
    options = save_profile(profiles, REQUEST.replace(", every = 0.05", ""))
    meter = simulated_meter(Speech.TEXT, on_write=lambda _data: say_it())
    shots = iter(range(1512, 1520))

    def say_it() -> None:
        meter.send(b"%d mm\r\n" % next(shots))

    async with air_of(meter) as air:
        driver = air.driver(meter, options)
        assert isinstance(driver, CanFire)
        async with contextlib.aclosing(driver.reports()) as reports:
            await told_open(reports)
            for mm in (1512, 1513):  # the first when the meter is opened
                reading = await anext(reports)
                assert isinstance(reading, Reading)
                assert reading.distance_mm == mm
                driver.fire()


async def test_a_refused_request_is_a_fault_and_readings_still_come(
    air_of: MakeAir, profiles: Path
) -> None:
    options = save_profile(profiles, REQUEST.replace(", every = 0.05", ""))
    meter = simulated_meter(Speech.TEXT)
    meter.refuse(Deed.WRITE, Refusal.FAILED)
    async with air_of(meter) as air, air.opened(meter, options) as reports:
        fault = await anext(reports)
        meter.send(b"1512 mm\r\n")
        assert isinstance(await anext(reports), Reading)
    assert isinstance(fault, Fault)
    assert "does not take the request" in fault.fault


async def test_one_can_learn_from_all_that_a_meter_notifies(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE, THOUSANDTHS), notifying(OTHER))
    async with air_of(meter) as air:
        driver = air.driver(meter)
        assert isinstance(driver, OffersRawFrames)
        async with contextlib.aclosing(driver.raw_frames()) as frames:
            assert isinstance(await anext(frames), Link)
            meter.send(b"\xe8\x03", ONE)
            meter.send(b"\xff\x00", OTHER)
            meter.leave()
            assert await anext(frames) == RawFrame(b"\xe8\x03", AT, ONE)
            assert await anext(frames) == RawFrame(b"\xff\x00", AT, OTHER)
            with pytest.raises(MeterLost):
                await anext(frames)
        table = driver.transport(OTHER)
    assert (table.characteristic, table.service) == (OTHER, SERVICE)


TAKES = Characteristic(OTHER, (WRITE,))
TAKES_TOO = Characteristic(THIRD, (WRITE_SILENTLY,))
QUESTION = Question(Request(bytes=Octets(FIRE)))


@contextlib.asynccontextmanager
async def listened_to(
    air: Air, meter: Peripheral
) -> AsyncGenerator[tuple[BleMeter, AsyncGenerator[Link | RawFrame, None]], None]:
    driver = air.driver(meter)
    assert isinstance(driver, OffersRawFrames)
    async with contextlib.aclosing(driver.raw_frames()) as frames:
        assert isinstance(await anext(frames), Link)
        yield driver, frames


async def test_the_one_characteristic_that_can_be_written_takes_the_question(
    air_of: MakeAir,
) -> None:
    meter = meter_of(notifying(ONE), TAKES)
    meter.on_write = lambda data: meter.send(b"to " + data)
    async with air_of(meter) as air, listened_to(air, meter) as (driver, frames):
        for _ in range(2):
            driver.ask(QUESTION)
            assert await anext(frames) == RawFrame(b"to " + FIRE, AT, ONE)
        table = driver.transport(ONE, QUESTION)
    assert (table.request, table.request_characteristic) == (QUESTION.request, OTHER)


async def test_the_characteristic_that_notifies_may_take_the_question(air_of: MakeAir) -> None:
    meter = meter_of(Characteristic(ONE, (NOTIFY, WRITE_SILENTLY)))
    meter.on_write = lambda data: meter.send(b"to " + data)
    async with air_of(meter) as air, listened_to(air, meter) as (driver, frames):
        driver.ask(QUESTION)
        assert await anext(frames) == RawFrame(b"to " + FIRE, AT, ONE)
        assert driver.transport(ONE, QUESTION).request_characteristic == ONE


async def test_of_several_that_can_be_written_one_has_to_be_named(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE), TAKES, TAKES_TOO)
    meter.on_write = lambda data: meter.send(b"to " + data)
    async with air_of(meter) as air, listened_to(air, meter) as (driver, frames):
        offered = f"these can be written: {OTHER}, {THIRD}"
        wrong = Question(QUESTION.request, Uuid(ONE))
        for put in (driver.ask, functools.partial(driver.transport, ONE)):
            with pytest.raises(BadInput, match=f"say which characteristic .*; {offered}"):
                put(QUESTION)
            with pytest.raises(BadInput, match=f"{ONE} cannot be written; {offered}"):
                put(wrong)
        driver.ask(Question(QUESTION.request, Uuid(THIRD)))
        assert await anext(frames) == RawFrame(b"to " + FIRE, AT, ONE)


async def test_a_meter_to_which_nothing_can_be_written_cannot_be_asked(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE))
    async with air_of(meter) as air, listened_to(air, meter) as (driver, _frames):
        with pytest.raises(BadInput, match="nothing can be written to it, so it cannot be asked"):
            driver.ask(QUESTION)


async def test_a_question_that_the_meter_refuses_ends_the_listening(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE), TAKES)
    meter.refuse(Deed.WRITE, Refusal.FAILED)
    async with air_of(meter) as air, listened_to(air, meter) as (driver, frames):
        driver.ask(QUESTION)
        with pytest.raises(MeterError, match=f"^{ADDRESS}: the meter does not take the request"):
            await anext(frames)


async def test_a_request_for_another_meter_is_told_when_it_is_opened(
    air_of: MakeAir, profiles: Path
) -> None:
    request = 'request = { bytes = "1001" }'
    for named, wrong in (("", ONE), (f'request_characteristic = "{THIRD}"', THIRD)):
        options = save_profile(profiles, f'characteristic = "{ONE}"\n{request}\n{named}')
        meter = meter_of(notifying(ONE), TAKES)
        async with air_of(meter) as air:
            words = await refusal(air, meter, options)
        assert f'the profile "mine" is not for this meter, to whose {wrong} nothing' in words
