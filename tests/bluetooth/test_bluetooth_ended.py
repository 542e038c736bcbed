"""The system ends a program that holds a Bluetooth link: the link is let go of, in whole processes.

The service is a stand-in on a bus of its own, used by the unmodified bleak.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from needs import needs
from patience import HUNG_S
from window import Window

from witnessmark.meters.port import utc_now
from witnessmark.store.store import Store
from witnessmark_simulators.bluetooth.meters import Speech, simulated_meter
from witnessmark_simulators.bluetooth.peripheral import Peripheral
from witnessmark_simulators.scenario import DEMO_SETUP

pytestmark = [
    pytest.mark.skipif(sys.platform != "linux", reason="simulated on Linux alone"),
    needs("message bus"),
]


@pytest.fixture
def meter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Peripheral]:
    """A meter on Bluetooth, and the programs started from here meet it."""
    from witnessmark_simulators.bluetooth.line import BluetoothLine  # noqa: PLC0415

    peripheral = simulated_meter(Speech("text"))
    with BluetoothLine(peripheral) as line:
        for name, value in line.environment.items():
            monkeypatch.setenv(name, value)
        monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path / "store.sqlite3"))
        yield peripheral


@pytest.mark.parametrize(
    ("number", "command"),
    [
        (signal.SIGTERM, "read {}"),
        (signal.SIGHUP, "check {} --width 262mm --depth 391mm"),
        (signal.SIGTERM, "learn {} --known 1.2m --known 1.9m --save mine"),
    ],
)
def test_a_command_lets_go_of_the_link(
    meter: Peripheral, number: signal.Signals, command: str
) -> None:
    arguments = command.format(f"ble:{meter.address}").split()
    with subprocess.Popen(
        [sys.executable, "-m", "witnessmark", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        try:
            while "Never look" not in (line := process.stderr.readline()):
                assert line
            assert meter.connected
            process.send_signal(number)
            _, said = process.communicate(timeout=HUNG_S)
        finally:
            process.kill()
    assert process.returncode == 128 + number
    assert "failed" not in said
    assert not meter.connected


@pytest.mark.parametrize("how", ["terminated", "window closed"])
def test_the_app_lets_go_of_the_link(meter: Peripheral, tmp_path: Path, how: str) -> None:
    store_file = tmp_path / "store.sqlite3"
    with Store.open(store_file) as store:
        store.save_setup("Barn", DEMO_SETUP, utc_now(), {"meter": f"ble:{meter.address}"})
    window = Window(store_file)
    window.wait_until(lambda: meter.connected)
    if how == "terminated":
        os.kill(window.child, signal.SIGTERM)
        assert window.exit_code() == 128 + signal.SIGTERM
        assert window.is_as_before
    else:
        os.close(window.end)
        assert window.exit_code() == 128 + signal.SIGHUP
    assert not meter.connected
