"""What every driver has to do, on its simulated transport.

Each case runs on every driver save where ``cannot`` says that it cannot happen there, and why.
"""

from __future__ import annotations

import asyncio
import functools
import os
import re
from collections.abc import AsyncGenerator
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet
from bluetooth_rigs import IN_MEMORY, ON_A_BUS, InTheAir
from cannot import CANNOT
from needs import needs
from other_rigs import Replay, Simulated, Typed
from rig import (
    AT,
    Rig,
    distances_mm,
    opened,
    take,
    told,
    until_lost,
    until_reading,
    until_state,
    watched,
)
from serial_rigs import (
    ModbusRegisters,
    Rfc2217Text,
    SerialBursts,
    SerialFrames,
    SerialPattern,
    SerialPauses,
    SerialText,
    TcpFrames,
    TcpText,
)

from witnessmark.errors import BadInput
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import Fault, LinkState, MeterLost, MeterUnreachable, Noise
from witnessmark.model import Reading

ON_LINES: tuple[type[Rig], ...] = (
    SerialText,
    TcpText,
    Rfc2217Text,
    SerialPattern,
    SerialPauses,
    SerialFrames,
    SerialBursts,
    TcpFrames,
    ModbusRegisters,
)
RIGS: tuple[type[Rig], ...] = (
    *(ON_LINES if os.name == "posix" else (TcpText, Rfc2217Text, TcpFrames)),
    *IN_MEMORY,
    *ON_A_BUS,
    Replay,
    Typed,
    Simulated,
)


def param_of(rig: type[Rig]) -> ParameterSet:
    if not issubclass(rig, InTheAir):
        return pytest.param(rig, id=rig.kind)
    if not rig.on_a_bus:
        return pytest.param(rig, id=f"{rig.kind}, memory")
    return pytest.param(rig, id=f"{rig.kind}, bus", marks=needs("message bus"))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    cannot = CANNOT.get(metafunc.function.__name__, {})
    if "rig" in metafunc.fixturenames:
        rigs = [param_of(rig) for rig in RIGS if rig.kind not in cannot]
        metafunc.parametrize("rig", rigs, indirect=True)
    if "wrong_address" in metafunc.fixturenames:
        wrong = dict.fromkeys(pair for rig in RIGS for pair in rig.wrong)
        metafunc.parametrize(("wrong_address", "words"), wrong, ids=[one for one, _ in wrong])


@pytest.fixture
async def rig(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> AsyncGenerator[Rig, None]:
    """The meter's end of each driver."""
    async with request.param(tmp_path, monkeypatch) as plugged_in:
        yield plugged_in


def test_what_is_left_out_is_a_case_and_a_driver_that_there_are() -> None:
    kinds = {rig.kind for rig in (*ON_LINES, *RIGS)}
    for case, reasons in CANNOT.items():
        assert case in globals()
        assert reasons.keys() <= kinds
        assert all(len(reason) > 20 for reason in reasons.values())


async def test_readings_come_in_order_each_once(rig: Rig) -> None:
    sent = range(1100, 1100 + rig.many)
    seen = await told(rig, *(functools.partial(rig.say, mm) for mm in sent))
    assert distances_mm(seen) == pytest.approx(list(sent), abs=1e-3)


async def test_a_reading_says_when_from_where_and_what_came(rig: Rig) -> None:
    (reading,) = await told(rig, lambda: rig.say(1512.0))
    assert reading == Reading(pytest.approx(1512.0, abs=1e-3), AT, rig.address, rig.raw(1512.0))


async def test_an_error_of_the_meter_is_a_fault_and_no_distance(rig: Rig) -> None:
    fault, reading = await told(rig, rig.fail, lambda: rig.say(1512.0))
    assert isinstance(fault, Fault)
    assert fault.fault
    assert fault.raw
    assert isinstance(reading, Reading)


async def test_garbage_is_told_and_never_a_distance(rig: Rig) -> None:
    async with opened(rig, rig.garble) as reports:
        first = await anext(reports)
        rig.say(1512.0)
        rest, mm = await until_reading(reports)
    noise = [first, *rest]
    assert [type(one) for one in noise] == [Noise] * len(noise)
    assert b"".join(one.raw for one in noise if isinstance(one, Noise)) == rig.garbage
    assert mm == pytest.approx(1512.0, abs=1e-3)


async def test_silence_is_a_state_and_no_loss(rig: Rig) -> None:
    async with watched(rig, quiet_after_s=0.1) as reports:
        seen = await until_state(reports, LinkState.OPEN)
        seen += await until_state(reports, LinkState.QUIET)
        rig.say(1512.0)
        seen += await until_state(reports, LinkState.QUIET)
    assert distances_mm(seen)[-1] == pytest.approx(1512.0, abs=1e-3)
    assert all(isinstance(one, Reading) for one in seen)


async def test_a_frame_that_breaks_off_never_joins_the_next(rig: Rig) -> None:
    async with opened(rig) as reports:
        part = rig.begin(1512.0)
        noise = await anext(reports)
        assert isinstance(noise, Noise)
        assert noise.raw == part
        rig.say(2345.0)
        rest, mm = await until_reading(reports)
    assert rest == []
    assert mm == pytest.approx(2345.0, abs=1e-3)


async def test_the_late_rest_of_a_frame_is_no_distance(rig: Rig) -> None:
    async with opened(rig) as reports:
        rig.begin(1512.0)
        assert isinstance(await anext(reports), Noise)
        rig.end(1512.0)
        assert isinstance(await anext(reports), Noise)
        rig.say(1513.0)
        rest, mm = await until_reading(reports)
    assert all(isinstance(one, Noise) for one in rest)
    assert mm == pytest.approx(1513.0, abs=1e-3)


async def test_two_frames_in_one_packet_are_both_read(rig: Rig) -> None:
    async with opened(rig, lambda: rig.say_together(1512.0, 1513.0)) as reports:
        assert distances_mm(await take(reports, 2)) == pytest.approx([1512.0, 1513.0], abs=1e-3)


async def test_a_frame_may_come_byte_by_byte(rig: Rig) -> None:
    async with opened(rig, lambda: rig.say_byte_by_byte(1512.0)) as reports:
        assert distances_mm([await anext(reports)]) == pytest.approx([1512.0], abs=1e-3)


async def test_unplugging_in_mid_frame_loses_the_meter_and_makes_no_distance(rig: Rig) -> None:
    async with opened(rig, lambda: rig.say(1512.0)) as reports:
        assert isinstance(await anext(reports), Reading)
        part = rig.begin(1513.0)
        await rig.taken()
        rig.unplug()
        before, words = await until_lost(reports)
    assert "is gone; plug it in" in words or "is gone; switch it on" in words
    assert all(isinstance(one, Noise) for one in before)
    # the loss may overtake bytes, and a Modbus answer that it cuts off is not told apart
    assert part.startswith(b"".join(one.raw for one in before if isinstance(one, Noise)))


async def test_an_unplugged_meter_is_lost(rig: Rig) -> None:
    async with opened(rig, lambda: rig.say(1512.0)) as reports:
        assert isinstance(await anext(reports), Reading)
        rig.unplug()
        with pytest.raises(MeterLost):
            await anext(reports)


async def test_a_meter_that_is_not_there_is_told(rig: Rig) -> None:
    rig.unplug()
    words = "no such port|nothing answers|no such meter in range|cannot be read|is unplugged"
    with pytest.raises(rig.absent, match=words):
        await anext(rig.driver().reports())


async def test_plugging_in_again_carries_on(rig: Rig) -> None:
    async with watched(rig, pauses_s=(0.01,)) as reports:
        await until_state(reports, LinkState.OPEN)
        await rig.settle(reports)
        for mm in (1512.0, 1513.0):
            rig.say(mm)
            assert distances_mm([await anext(reports)]) == pytest.approx([mm], abs=1e-3)
            rig.unplug()
            # first that it is gone, then that it is not there
            for _ in range(2):
                assert await until_state(reports, LinkState.LOST) == []
            rig.plug_in()
            assert await until_state(reports, LinkState.OPEN) == []
            await rig.settle(reports)


async def test_closing_while_reading_frees_the_meter(rig: Rig) -> None:
    for mm in (1512.0, 1513.0):
        async with opened(rig, functools.partial(rig.say, mm)) as reports:
            assert isinstance(await anext(reports), Reading)


async def test_cancelling_while_reading_frees_the_meter(rig: Rig) -> None:
    async with opened(rig) as reports:
        waiting = asyncio.create_task(anext(reports))
        await asyncio.sleep(0)
        waiting.cancel()
        await asyncio.gather(waiting, return_exceptions=True)
    async with opened(rig, lambda: rig.say(1512.0)) as reports:
        assert isinstance(await anext(reports), Reading)


def test_an_address_that_cannot_be_right_is_told(wrong_address: str, words: str) -> None:
    with pytest.raises(BadInput, match=re.escape(words)) as caught:
        open_driver(wrong_address)
    assert "\n" not in str(caught.value)


async def test_a_port_in_use_is_told(rig: Rig) -> None:
    words = "in use by another program; close that one first|close other programs and phones"
    with rig.occupied(), pytest.raises(MeterUnreachable, match=words):
        await anext(rig.driver().reports())
    async with opened(rig):
        pass


async def test_what_is_not_permitted_is_told(rig: Rig) -> None:
    words = "not permitted; let your user|not permitted for this program; allow it|Permission den"
    async with rig.forbidden():
        with pytest.raises(rig.absent, match=words):
            await anext(rig.driver().reports())
