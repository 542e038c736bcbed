"""Teaching a meter from the meter's screen, over a serial line as a real one."""

from __future__ import annotations

import asyncio
import itertools
import os
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from patience import until
from pupil import Pupil, begun
from sitting import Sitting, saved_in, serial_driver

from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.meters import listening
from witnessmark.meters.address import Address
from witnessmark.meters.port import Driver
from witnessmark.meters.profile_folder import load_profile
from witnessmark.model import Edge, Meter
from witnessmark.session.workspace import Workspace
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import Backends
from witnessmark_simulators.binary import (
    Moment,
    constant,
    counter,
    frame,
    sum8,
    whole_distance,
)
from witnessmark_simulators.bluetooth.memory import memory_backends
from witnessmark_simulators.bluetooth.meters import (
    Speech,
    binary_frame,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.radio import Radio
from witnessmark_simulators.serial_line import SerialLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
PARTS = [constant(b"\xa5"), counter(1, "big"), whole_distance(2, "big", 1.0), sum8()]


def binary(mm: float) -> bytes:
    return frame(PARTS, Moment(mm, count=int(mm) // 7))


@pytest.fixture
def on_the_line(opening: Workspace, line: SerialLine) -> Workspace:
    return msgspec.structs.replace(opening, meter_address=line.address)


@pytest.fixture(autouse=True)
def in_a_hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a press of the button brings comes here in one piece."""
    for name in ("SETTLE_S", "QUIET_S", "BEAT_S"):
        monkeypatch.setattr(listening, name, 0.15)


async def test_a_meter_is_taught_saved_chosen_and_read(
    sit_down: SitDown,
    on_the_line: Workspace,
    line: SerialLine,
    profiles: Path,
    store_file: Path,
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        assert "! Laser." in sitting.text
        assert pupil.says("#told") == ""
        await pupil.show("1.2 m", binary(1200))
        assert "1200.0 mm" in pupil.says("#shown")
        await pupil.show("1900", binary(1900))
        while "Learnt." not in pupil.says("#ask"):
            await pupil.show("2710", binary(2710))
        assert "a whole number of 2 bytes in mm" in pupil.says("#learnt")
        line.send(binary(3105))
        await pupil.until("#told", "With what was learnt, that shot reads 3105.0 mm.")
        assert sitting.cursor_in == "name"
        await sitting.fill(name="attic meter")
        assert "profile name" in str(sitting.field("name").problem)
        await sitting.press("ctrl+s")
        assert not profiles.exists()
        await sitting.fill(name="attic")
        await sitting.press("ctrl+s")
        assert sitting.is_at(Step.METER)
        address = f"{line.address}?profile=attic"
        assert sitting.app.session.workspace.meter_address == address
        assert sitting.choice("profile").value == "attic"
        assert load_profile("attic").about.endswith("known distances")
        await sitting.press("escape", "g")
        shown = sitting.app.screen.query_one(MeterLine)
        await sitting.until(lambda: "is open" in shown.text)
        line.send(binary(2314))
        await sitting.until(lambda: "2314.0 mm" in shown.text)
    saved = saved_in(store_file)
    assert saved is not None
    assert saved.choices["meter"] == address


async def test_a_meter_on_bluetooth_is_taught(
    sit_down: SitDown, opening: Workspace, profiles: Path
) -> None:
    meter = simulated_meter(Speech.BINARY)
    backends = Backends(*memory_backends(Radio([meter])))
    opening = msgspec.structs.replace(opening, meter_address=f"ble:{meter.address}")

    def radio_driver(address: str) -> Driver:
        return BleMeter(Address.parse(address), backends=backends)

    async with sit_down(opening, open_driver=radio_driver) as sitting:
        pupil = await begun(sitting, meter.send)
        for mm in (1200, 1900, 2710):
            await pupil.show(f"{mm} mm", binary_frame(mm * 10))
        # two of its three bytes are all that was shown
        assert "It is certain only up to 6.55 m" in pupil.says("#ask")
        assert "Or press Ctrl+S to save it as it is." in pupil.says("#ask")
        await pupil.show("7.4 m", binary_frame(74_000))
        assert "Learnt." in pupil.says("#ask")
        await sitting.fill(name="radio")
        await sitting.press("ctrl+s")
        assert sitting.app.session.workspace.meter_address == f"ble:{meter.address}?profile=radio"
    assert load_profile("radio").bluetooth is not None


async def test_nothing_that_fits_is_refused_and_nothing_saved(
    sit_down: SitDown, on_the_line: Workspace, line: SerialLine, profiles: Path
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        await pupil.show("1.2 m", binary(1680))
        await pupil.show("1.9 m", binary(2660))
        assert "Not learnt: no decoding explains every reading" in pupil.says("#ask")
        await sitting.press("ctrl+s")
        assert sitting.is_at(Aside.LEARN)
        assert not profiles.exists()
        await sitting.press("ctrl+y")
        await pupil.until("#ask", "Type the first distance")
        assert pupil.screen.lesson.samples == ()


async def test_shots_that_were_not_asked_for_errors_and_distances_alike_are_told(
    sit_down: SitDown, on_the_line: Workspace, line: SerialLine
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        line.send(b"1.111\r\n")
        await pupil.until("#told", "first type its distance")
        await pupil.know("1.2 m")
        line.send(b"E31\r\n")
        await pupil.until("#told", "The meter says E31: measure 1200.0 mm again")
        line.send(b"1.200\r\n")
        await pupil.until("#shown", "7 bytes")
        await pupil.know("1.25 m")
        assert "too close to 1200.0 mm" in pupil.says("#told")


async def test_the_edge_that_is_held_counts_and_is_told(
    sit_down: SitDown, on_the_line: Workspace, line: SerialLine
) -> None:
    meter = Meter(edge=Edge.FRONT, edge_offset_mm=-118.0)
    draft = msgspec.structs.replace(on_the_line.draft, meter=meter)
    opening = msgspec.structs.replace(on_the_line, draft=draft)
    async with sit_down(opening, size=(140, 45), open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        assert "Hold the meter's front edge on the mark" in " ".join(
            sitting.text.replace("│", " ").split()
        )
        await pupil.show("1.2 m", b"1.318\r\n")
        assert "1200.0 mm" in pupil.says("#shown")
        await pupil.show("1.9 m", b"2.018\r\n")
        assert "Learnt." in pupil.says("#ask")


async def test_a_meter_that_sends_all_the_time_is_listened_to_when_told(
    sit_down: SitDown, on_the_line: Workspace, line: SerialLine
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        await sitting.press("m", "ctrl+e")
        pupil, distance_m, read_there = Pupil(sitting, line.send), 1.2, 0

        async def stream() -> None:
            nonlocal read_there
            for number in itertools.count(1):
                line.send(f"{distance_m:.3f} {number}\r\n".encode())
                await asyncio.sleep(0.1)  # so often this meter sends
                await until(lambda: not line.unread)
                read_there += 1

        streaming = asyncio.create_task(stream())
        try:
            await pupil.until("#told", "This meter sends all the time")
            await pupil.know("1.2 m")
            await pupil.until("#shown", "1  1200.0 mm")
            distance_m, read_there = 1.9, 0
            await until(lambda: read_there > 2)
            await pupil.know("1.9 m")
            await pupil.until("#shown", "2  1900.0 mm")
        finally:
            streaming.cancel()
            await asyncio.gather(streaming, return_exceptions=True)


async def test_a_meter_that_is_lost_or_teaches_nothing_is_told(
    sit_down: SitDown, on_the_line: Workspace, opening: Workspace, line: SerialLine
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        pupil = await begun(sitting, line.send)
        line.unplug()
        await pupil.until("#ask", "Press Ctrl+Y to connect again")
        assert pupil.says("#told")
        line.plug_in()
        await sitting.press("ctrl+y")
        await pupil.until("#ask", "Type the first distance")
    async with sit_down(opening) as sitting:
        await sitting.press("m", "ctrl+e")
        pupil = Pupil(sitting, line.send)
        await pupil.until("#told", "typed:: it cannot be taught")


async def test_the_live_screen_leaves_the_meter_alone_meanwhile_and_listens_again(
    sit_down: SitDown, on_the_line: Workspace, line: SerialLine
) -> None:
    async with sit_down(on_the_line, open_driver=serial_driver) as sitting:
        live = sitting.app.get_screen(Step.LIVE.value)
        shown = live.query_one(MeterLine)
        await sitting.until(lambda: "is open" in shown.text)
        pupil = await begun(sitting, line.send)
        line.send(b"1.111 m\r\n")
        await pupil.until("#told", "first type its distance")
        assert "1111" not in shown.text
        await sitting.press("escape")
        assert sitting.is_at(Step.METER)

        def measured_again() -> bool:
            if not line.unread:  # what was sent before it was opened once more is passed over
                line.send(b"1.222 m\r\n")
            return "1222.0 mm" in shown.text

        await sitting.until(measured_again)
