"""What every driver has to do, on its simulated transport: ``witnessmark.meters.testing``.

Each case runs on every driver save where ``cannot`` says that it cannot happen there, and why.
"""

from __future__ import annotations

import asyncio
import os
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet
from bluetooth_rigs import IN_MEMORY, ON_A_BUS, InTheAir
from cannot import CANNOT
from needs import needs
from other_rigs import Replay, Simulated, Typed
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

from witnessmark.meters.testing import CASES, Case, Rig, run_case

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
    if "case" in metafunc.fixturenames:
        params = [
            pytest.param(case, rig.values[0], id=f"{name}, {rig.id}", marks=rig.marks)
            for name, case in CASES.items()
            for rig in map(param_of, RIGS)
            if kind_of(rig) not in CANNOT.get(name, {})
        ]
        metafunc.parametrize(("case", "rig"), params)


def kind_of(rig: ParameterSet) -> str:
    kind = rig.values[0]
    assert isinstance(kind, type)
    assert issubclass(kind, Rig)
    return kind.kind


def test_a_driver(
    case: Case, rig: type[Rig], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asyncio.run(run_case(case, rig, tmp_path, monkeypatch))


def test_what_is_left_out_is_a_case_and_a_driver_that_there_are() -> None:
    kinds = {rig.kind for rig in (*ON_LINES, *RIGS)}
    for case, reasons in CANNOT.items():
        assert case in CASES
        assert reasons.keys() <= kinds
        assert all(len(reason) > 20 for reason in reasons.values())
