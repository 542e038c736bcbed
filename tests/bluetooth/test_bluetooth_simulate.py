"""``witnessmark simulate bluetooth``, read from outside its process."""

from __future__ import annotations

import contextlib
import sys

import pytest
from air import AT, bleak_let_go, told_open
from click.testing import CliRunner
from needs import needs
from patience import HUNG_S
from simulating import printed, simulating, type_in

from witnessmark.cli import main
from witnessmark.meters.address import Address
from witnessmark.meters.port import Fault, MeterLost, Noise
from witnessmark.model import Reading
from witnessmark_drivers.ble import BleMeter

linux = pytest.mark.skipif(sys.platform != "linux", reason="simulated on Linux alone")


@linux
@needs("message bus")
@pytest.mark.parametrize("speech", ["text", "described"])
async def test_a_simulated_meter_is_read_as_its_hint_says(
    monkeypatch: pytest.MonkeyPatch, speech: str
) -> None:
    with simulating("bluetooth", "--seed", "3", "--speaks", speech) as process:
        address = printed(process).removeprefix("meter address: ")
        setting, _, command = printed(process).removeprefix("in a second terminal: ").partition(" ")
        assert command == f"witnessmark read {address}"
        name, _, value = setting.partition("=")
        assert name == "DBUS_SYSTEM_BUS_ADDRESS"
        monkeypatch.setenv(name, value)
        driver = BleMeter(Address.parse(address), clock=lambda: AT)
        async with contextlib.aclosing(driver.reports()) as reports:
            await told_open(reports)
            type_in(process, "\nf\ng\n")
            reading, fault, noise = [await anext(reports) for _ in range(3)]
            assert isinstance(reading, Reading)
            assert 300 < reading.distance_mm < 6000
            assert isinstance(fault, Fault)
            assert isinstance(noise, Noise)
            type_in(process, "u\n")
            with pytest.raises(MeterLost):
                await anext(reports)
        type_in(process, "u\n")
        async with contextlib.aclosing(driver.reports()) as reports:
            await told_open(reports)
            type_in(process, "\nq\n")
            assert isinstance(await anext(reports), Reading)
            with pytest.raises(MeterLost):
                await anext(reports)
        assert process.wait(timeout=HUNG_S) == 0
    await bleak_let_go()


def test_describing_its_numbers_is_for_bluetooth_alone() -> None:
    result = CliRunner().invoke(main, ["simulate", "tcp", "--speaks", "described"])
    assert result.exit_code == 2
    assert "--speaks described is only for bluetooth" in result.output
