"""Teaching a meter that waits to be asked, and showing one a shot that fails."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from pupil import begun
from sitting import Sitting, serial_driver

from witnessmark.app.forms.form import FormView
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.meters import listening
from witnessmark.meters.address import Address
from witnessmark.meters.port import Driver
from witnessmark.meters.profile_folder import load_profile
from witnessmark.session.workspace import Workspace
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import Backends
from witnessmark_simulators.asked import answering
from witnessmark_simulators.binary import (
    Moment,
    constant,
    counter,
    frame,
    status,
    sum8,
    whole_distance,
)
from witnessmark_simulators.bluetooth.memory import memory_backends
from witnessmark_simulators.bluetooth.meters import (
    FIRE,
    REQUESTS,
    Speech,
    binary_frame,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.radio import Radio
from witnessmark_simulators.serial_line import SerialLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
PARTS = [constant(b"\xa5"), counter(1, "big"), whole_distance(2, "big", 1.0), sum8()]


@pytest.fixture
def on_the_line(opening: Workspace, line: SerialLine) -> Workspace:
    return msgspec.structs.replace(opening, meter_address=line.address)


@pytest.fixture
def in_a_hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("SETTLE_S", "QUIET_S", "ANSWERED_S", "BEAT_S"):
        monkeypatch.setattr(listening, name, 0.3)


async def test_a_meter_that_waits_is_asked_for_each_shot_and_by_its_profile(
    sit_down: SitDown,
    on_the_line: Workspace,
    line: SerialLine,
    profiles: Path,
    in_a_hurry: None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    places = iter([1200.0, 1900.0, 2710.0, 2314.0])

    def answer() -> list[bytes]:
        return [b"?\r\n", b"D %.3f\r\n" % (next(places) / 1000)]

    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        await sitting.fill(request="10 01")
        assert 'bytes are written bytes = "10 01"' in str(sitting.field("request").note)
        with monkeypatch.context() as impatient:
            impatient.setattr(listening, "ANSWER_S", 0.2)
            await pupil.know("1200 mm")
            await pupil.until("#told", "No answer within 0.2 s; check the request")
        assert sitting.field("known").value == 1200.0
        await sitting.fill(request="D\\q")
        await sitting.press("enter")
        assert "write it as in a profile" in pupil.says("#told")
        await sitting.fill(request="take\\r")
        assert "press Enter: that asks it" in sitting.field("known").hint
        with answering(line, b"take\r", answer):
            for length in ("1200 mm", "1900 mm"):
                await pupil.ask(length)
            assert not pupil.screen.query_one(FormView).display
            assert "Learnt." in pupil.says("#ask")
            await sitting.press("ctrl+s")
            assert load_profile("my-meter").serial.request.data == b"take\r"
            await sitting.press("escape", "g")
            shown = sitting.app.screen.query_one(MeterLine)
            await sitting.until(lambda: "2710.0 mm" in shown.text)
            assert "Ctrl+R Ask" in sitting.text
            await sitting.press("ctrl+r")
            await sitting.until(lambda: "2314.0 mm" in shown.text)


async def test_on_bluetooth_the_one_characteristic_takes_requests_or_one_is_named(
    sit_down: SitDown, opening: Workspace, profiles: Path, in_a_hurry: None
) -> None:
    places = iter([1200.0, 1900.0, 7400.0, 2314.0])  # the last is asked for by the live screen
    meter = simulated_meter(Speech.BINARY, has_settings=True)
    meter.on_write = lambda _data: meter.send(binary_frame(round(next(places) * 10)))
    backends = Backends(*memory_backends(Radio([meter])))
    opening = msgspec.structs.replace(opening, meter_address=f"ble:{meter.address}")

    def radio_driver(address: str) -> Driver:
        return BleMeter(Address.parse(address), backends=backends)

    async with sit_down(opening, open_driver=radio_driver) as sitting:
        pupil = await begun(sitting, meter.send)
        await sitting.fill(request=f'bytes = "{FIRE.hex()}"')
        await pupil.know("1200 mm")
        assert "say which characteristic takes requests" in pupil.says("#told")
        assert REQUESTS in pupil.says("#told")
        await sitting.fill(characteristic="ffe")
        await sitting.press("enter")
        assert '"ffe" is not a UUID' in pupil.says("#told")
        await sitting.fill(characteristic=REQUESTS)
        for length in ("1200 mm", "1900 mm", "7400 mm"):
            await pupil.ask(length)
        assert "Learnt." in pupil.says("#ask")
        await sitting.press("ctrl+s")
    table = load_profile("my-meter").bluetooth
    assert (table.request.data, table.request_characteristic) == (FIRE, REQUESTS)


STATUS_PARTS = [*PARTS[:-1], status(0x41), sum8()]


def with_status(mm: float, code: int = 0) -> bytes:
    return frame(STATUS_PARTS, Moment(mm, count=int(mm) // 7, status=code))


async def test_a_shot_that_fails_is_offered_taken_and_then_never_a_distance(
    sit_down: SitDown, on_the_line: Workspace, line: SerialLine, profiles: Path, in_a_hurry: None
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        await pupil.show("1.2 m", with_status(1200))
        await sitting.press("ctrl+n")
        assert not pupil.screen.state.awaits_failure  # there is nothing yet to tell it from
        await pupil.show("1.9 m", with_status(1900))
        offer = pupil.says("#offer")
        assert "one profile in nine later reads some failed shot as a distance" in offer
        line.send(with_status(1900, code=3))
        await pupil.until("#told", "that shot reads 1900.0 mm")
        await sitting.press("ctrl+n")
        assert "cover the meter's window or aim far away, and press its button" in pupil.says(
            "#ask"
        )
        line.send(with_status(2314))
        await pupil.until("#told", "That shot looks just like a good one")
        assert pupil.says("#offer") == offer
        await sitting.press("ctrl+n", "ctrl+n")
        assert "Learnt." in pupil.says("#ask")
        await sitting.press("ctrl+n")
        line.send(with_status(1900, code=3))
        await pupil.until("#told", "never read as a distance")
        assert "✗  failed  6 bytes" in pupil.says("#shown")
        assert pupil.says("#offer") == ""
        line.send(with_status(1900, code=5))
        await pupil.until("#told", "With what was learnt, that shot reads no distance.")
        await sitting.press("ctrl+s")
    assert load_profile("my-meter").frame.status.ok == (b"\x41",)


async def test_what_the_leaflet_says_and_an_error_number_limit_the_profile(
    sit_down: SitDown, on_the_line: Workspace, line: SerialLine, profiles: Path, in_a_hurry: None
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        assert not sitting.field("shortest").is_shown
        await pupil.show("1.2 m", with_status(1200))
        await pupil.show("1.9 m", with_status(1900))
        await sitting.fill(shortest="0.05 m", longest="30 m")
        await sitting.press("ctrl+n")
        line.send(with_status(15))
        await pupil.until("#told", "never read as a distance")
        assert "✗  failed  reads 15.0 mm" in pupil.says("#shown")
        await sitting.fill(error="99.999 m")
        await sitting.press("ctrl+s")
    limits = load_profile("my-meter").limits
    assert (limits.shortest, limits.longest) == (50.0, 30_000.0)
    assert limits.fault_values == (15.0, 99_999.0)


async def test_the_failed_shot_may_be_passed_over_and_an_asked_meter_may_be_silent(
    sit_down: SitDown,
    on_the_line: Workspace,
    line: SerialLine,
    profiles: Path,
    in_a_hurry: None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    places = [1200.0, 1900.0]

    def answer() -> list[bytes]:
        return [b"D %.3f\r\n" % (places.pop(0) / 1000)] if places else []

    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        await sitting.fill(request="D")
        with answering(line, b"D", answer):
            await pupil.ask("1200 mm")
            await pupil.ask("1900 mm")
            assert "cover the meter's window or aim far away, then Ctrl+N" in pupil.says("#offer")
            monkeypatch.setattr(listening, "ANSWER_S", 0.2)
            await sitting.press("ctrl+n")
            await pupil.until("#told", "It sends nothing when it fails")
            assert pupil.says("#offer") == ""
            await sitting.press("ctrl+s")
    assert load_profile("my-meter").text is not None
