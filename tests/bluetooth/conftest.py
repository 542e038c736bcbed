"""Simulated meters on the system's own Bluetooth service, and in memory."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncGenerator
from pathlib import Path

import pytest
from air import ON_A_BUS, Air, MakeAir, bleak_let_go

from witnessmark_drivers.ble_air import OF_THIS_SYSTEM, Backends
from witnessmark_simulators.bluetooth.memory import memory_backends
from witnessmark_simulators.bluetooth.peripheral import Peripheral
from witnessmark_simulators.bluetooth.radio import Radio


@pytest.fixture(params=[*ON_A_BUS, "memory"])
def air_of(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> MakeAir:
    """Makes an air of meters, each time with a service of its own."""

    @contextlib.asynccontextmanager
    async def in_memory(*meters: Peripheral, **facts: bool) -> AsyncGenerator[Air, None]:
        radio = Radio(meters, **facts)
        yield Air(radio, Backends(*memory_backends(radio)))

    @contextlib.asynccontextmanager
    async def on_a_bus(*meters: Peripheral, **facts: bool) -> AsyncGenerator[Air, None]:
        from witnessmark_simulators.bluetooth.service import BluetoothService  # noqa: PLC0415

        radio = Radio(meters, **facts)
        async with BluetoothService(radio) as service:
            monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", service.address)
            yield Air(radio, OF_THIS_SYSTEM)
        await bleak_let_go()

    return on_a_bus if request.param == "bus" else in_memory


@pytest.fixture
def profiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of a person's own profiles, empty."""
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(tmp_path))
    return tmp_path
