"""Which of a meter's characteristics is read, by profile or without, and what it refuses."""

from __future__ import annotations

import asyncio

import pytest
from air import (
    AT,
    ONE,
    OTHER,
    SERVICE,
    THIRD,
    THOUSANDTHS,
    MakeAir,
    cpf,
    meter_of,
    notifying,
    refusal,
    take,
    told_open,
)
from patience import until

from witnessmark.meters.port import MeterLost, MeterUnreachable, Noise
from witnessmark.model import Reading
from witnessmark_drivers import ble_link
from witnessmark_simulators.bluetooth.gatt import (
    INDICATE,
    NOTIFY,
    READ,
    WRITE,
    Characteristic,
    Descriptor,
    Service,
    short_uuid,
)
from witnessmark_simulators.bluetooth.meters import (
    ADDRESS,
    Speech,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.peripheral import Deed, Peripheral, Refusal

KILOGRAMS = (0x06, -3, 0x2702, 0, 0)
TEXT = (0x19, 0, 0x2700, 0, 0)
TEXT_IN_FEET = (0x19, 0, 0x27A3, 0, 0)


@pytest.mark.parametrize("flag", [NOTIFY, INDICATE])
async def test_what_says_that_it_is_a_length_goes_before_text(air_of: MakeAir, flag: str) -> None:
    meter = meter_of(notifying(ONE), notifying(OTHER, THOUSANDTHS, flag))
    async with air_of(meter) as air:
        reports = air.driver(meter).reports()
        assert (await told_open(reports)) == 'Meter connected, value "right"'
        assert not meter.send(b"1512 mm\r\n", ONE)
        assert meter.send((1513).to_bytes(2, "little"), OTHER)
        reading = await anext(reports)
        await reports.aclose()
    assert isinstance(reading, Reading)
    assert reading.distance_mm == 1513.0


async def test_of_two_lengths_the_person_says_which(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE, THOUSANDTHS), notifying(OTHER, THOUSANDTHS))
    async with air_of(meter) as air:
        words = await refusal(air, meter)
        assert f"{ONE} (right) and {OTHER} (right); add the one" in words
        async with air.opened(meter, f"?characteristic={OTHER}"):
            assert not meter.send(b"\xe8\x03", ONE)
            assert meter.send(b"\xe8\x03", OTHER)
        assert "has no characteristic" in await refusal(air, meter, f"?characteristic={THIRD}")


async def test_a_number_with_a_unit_of_length_wins_over_a_bare_one(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE), notifying(OTHER))
    async with air_of(meter) as air, air.opened(meter) as reports:
        meter.send(b"87\r\n", ONE)
        charge = await anext(reports)
        meter.send(b"1512 mm\r\n", OTHER)
        reading = await anext(reports)
    assert isinstance(charge, Noise)
    assert reading == Reading(1512.0, AT, reading.meter, b"1512 mm")


async def test_of_two_that_tell_other_lengths_the_person_says_which(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE), notifying(OTHER))
    async with air_of(meter) as air:
        async with air.opened(meter) as reports:
            meter.send(b"2410 mm\r\n", ONE)
            meter.send(b"1512 mm\r\n", OTHER)
            with pytest.raises(MeterUnreachable, match=f"{ONE} and {OTHER}; add the one"):
                await anext(reports)
        async with air.opened(meter, f"?characteristic={OTHER}") as reports:
            meter.send(b"1512 mm\r\n", OTHER)
            assert isinstance(await anext(reports), Reading)


async def test_a_meter_that_never_pauses_is_read_before_long(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE), notifying(OTHER))
    async with air_of(meter) as air, air.opened(meter) as reports:
        for mm in (1512, 1513, 1514):
            meter.send(b"%d mm\r\n" % mm, ONE)
        seen = await take(reports, 3)
    assert [one.distance_mm for one in seen if isinstance(one, Reading)] == [1512, 1513, 1514]


async def test_a_length_that_can_only_be_read_is_read_when_it_changes(
    air_of: MakeAir, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ble_link, "_POLL_S", 0.01)
    form = Descriptor(short_uuid(0x2904), cpf(*THOUSANDTHS))
    meter = meter_of(Characteristic(ONE, (READ,), b"\xe8\x05", (form,)))
    async with air_of(meter) as air:
        reports = air.driver(meter).reports()
        assert "read whenever it changes" in await told_open(reports)
        waiting = asyncio.create_task(anext(reports))
        await until(lambda: meter.reads[ONE] > 1)
        assert not waiting.done()  # it may be of an earlier shot
        meter.hold((1513).to_bytes(2, "little"), ONE)
        reading = await waiting
        await reports.aclose()
    assert isinstance(reading, Reading)
    assert reading.distance_mm == 1513.0


async def test_what_says_that_it_is_something_else_is_never_read(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE, KILOGRAMS), notifying(OTHER))
    async with air_of(meter) as air, air.opened(meter) as reports:
        assert not meter.send(b"1512 mm\r\n", ONE)
        assert meter.send(b"1513 mm\r\n", OTHER)
        reading = await anext(reports)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == 1513.0


async def test_a_value_of_double_length_is_none(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE, THOUSANDTHS))
    async with air_of(meter) as air, air.opened(meter) as reports:
        meter.send(b"\xe8\x05\xe9\x05")
        noise = await anext(reports)
    assert isinstance(noise, Noise)
    assert "a value of 4 bytes" in noise.why


@pytest.mark.parametrize(
    ("form", "options", "value", "mm"),
    [
        (TEXT, "", b"2.514 m", 2514.0),
        (TEXT, "?unit=m", b"2.514", 2514.0),
        (TEXT_IN_FEET, "", b"8.25", 2514.6),
        (TEXT_IN_FEET, "?unit=m", b"8.25", 2514.6),
    ],
)
async def test_text_that_describes_itself_is_a_value_in_each_notification(
    air_of: MakeAir,
    form: tuple[int, int, int, int, int],
    options: str,
    value: bytes,
    mm: float,
) -> None:
    meter = meter_of(notifying(ONE, form))
    async with air_of(meter) as air, air.opened(meter, options) as reports:
        meter.send(value)
        reading = await anext(reports)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(mm)


async def test_a_meter_that_tells_its_readings_twice_counts_once(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE), notifying(OTHER), notifying(THIRD))
    async with air_of(meter) as air, air.opened(meter) as reports:
        meter.send(b"ready\r\n", ONE)
        for mm in (1512, 1513):
            meter.send(b"%d mm\r\n" % mm, OTHER)
            meter.send(b"%d mm\r\n" % mm, THIRD)
        noise, *readings = await take(reports, 3)
    assert isinstance(noise, Noise)
    assert [one.distance_mm for one in readings if isinstance(one, Reading)] == [1512, 1513]


async def test_a_descriptor_that_may_not_be_read_is_told(air_of: MakeAir) -> None:
    meter = simulated_meter(Speech.DESCRIBED)
    meter.refuse(Deed.READ, Refusal.NOT_PAIRED)
    async with air_of(meter) as air:
        words = await refusal(air, meter)
    assert "paired first; pair it with this computer" in words


async def test_a_descriptor_of_another_size_describes_nothing(air_of: MakeAir) -> None:
    odd = Characteristic(ONE, (NOTIFY,), descriptors=(Descriptor(short_uuid(0x2904), b"\x06"),))
    meter = meter_of(odd)
    async with air_of(meter) as air, air.opened(meter) as reports:
        meter.send(b"1512 mm\r\n")
        assert isinstance(await anext(reports), Reading)


@pytest.mark.parametrize(
    "services",
    [
        (),
        (Service(SERVICE, (Characteristic(ONE, (READ, WRITE)),)),),
        (Service(SERVICE, (notifying(ONE, KILOGRAMS),)),),
        (Service(short_uuid(0x180A), (notifying(ONE),)),),
    ],
)
async def test_a_device_without_readings_says_so(
    air_of: MakeAir, services: tuple[Service, ...]
) -> None:
    meter = Peripheral(ADDRESS, "Lamp", services, speaks=ONE)
    async with air_of(meter) as air:
        assert "is it a meter, and does it need a profile" in await refusal(air, meter)
        assert not meter.connected


async def test_a_meter_that_says_nothing_of_itself_goes_by_its_address(air_of: MakeAir) -> None:
    meter = meter_of(notifying(ONE), name=None)
    async with air_of(meter) as air:
        reports = air.driver(meter).reports()
        assert await told_open(reports) == f"{ADDRESS} connected"
        await reports.aclose()


async def test_a_battery_level_that_cannot_be_is_not_told(air_of: MakeAir) -> None:
    meter = simulated_meter(Speech.TEXT, battery=b"\xff")
    async with air_of(meter) as air:
        reports = air.driver(meter).reports()
        assert "battery" not in await told_open(reports)
        await reports.aclose()


@pytest.mark.parametrize(
    ("deed", "reason", "words"),
    [
        (Deed.CONNECT, Refusal.FAILED, "cannot be opened .* switch it off and on again"),
        (Deed.CONNECT, Refusal.SILENCE, "does not answer; switch it off and on again"),
        (Deed.SUBSCRIBE, Refusal.FAILED, "cannot be opened .* switch it off and on again"),
        (Deed.SUBSCRIBE, Refusal.NOT_PAIRED, "paired first; pair it with this computer"),
        (Deed.SUBSCRIBE, Refusal.SILENCE, "does not answer; switch it off and on again"),
    ],
)
async def test_a_refusal_is_told_and_leaves_no_link(
    air_of: MakeAir,
    monkeypatch: pytest.MonkeyPatch,
    deed: Deed,
    reason: Refusal,
    words: str,
) -> None:
    monkeypatch.setattr(ble_link, "_OPENING_S", 0.2)
    meter = simulated_meter(Speech.TEXT)
    meter.refuse(deed, reason)
    async with air_of(meter) as air:
        with pytest.raises(MeterUnreachable, match=f"^{ADDRESS}: .*{words}"):
            await anext(air.driver(meter).reports())
        assert not meter.connected
        meter.refuse(deed, None)
        async with air.opened(meter):
            assert meter.connected


async def test_a_radio_that_is_switched_off_loses_the_meter_and_says_so(air_of: MakeAir) -> None:
    meter = simulated_meter(Speech.TEXT)
    async with air_of(meter) as air, air.opened(meter) as reports:
        meter.send(b"1512 mm\r\n")
        air.radio.switch(on=False)
        assert isinstance(await anext(reports), Reading)
        with pytest.raises(MeterLost):
            await anext(reports)
        await air.noticed()
        assert "Bluetooth is switched off" in await refusal(air, meter)
        air.radio.switch(on=True)
        await air.noticed()
        async with air.opened(meter):
            assert meter.connected
