"""The drivers without a wire: a file, a keyboard, a simulated room."""

from __future__ import annotations

import contextlib
import os
from collections.abc import AsyncGenerator
from pathlib import Path

import numpy as np
import pytest

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.json_lines import to_json_line
from witnessmark.meters.port import Driver, Fault, TakesLines
from witnessmark.meters.testing import AT, Rig, denying
from witnessmark.model import Side
from witnessmark_simulators.driver import SimulatedMeter
from witnessmark_simulators.meter import Answer, fault
from witnessmark_simulators.rehearsal_room import RehearsalRoom
from witnessmark_simulators.scenario import demo_scenario, wall_shots


class Replay(Rig):
    """A file, which is written before it is read."""

    kind = "replay"
    begins_before = True
    absent = BadInput
    wrong = (
        ("replay:", "write replay:FILE"),
        ("replay:x?every=-1", 'every "-1" must be seconds, from 0 to 3600'),
        ("replay:x?every=nan", 'every "nan" must be seconds'),
        ("replay:x?every=soon", 'every "soon" must be seconds'),
        ("replay:x?baud=9600", 'no option "baud" here; known: every, unit'),
    )

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(folder, monkeypatch)
        self._file = folder / "readings.txt"
        self._file.touch()

    @property
    def address(self) -> str:
        return f"replay:{self._file}"

    def raw(self, mm: float) -> bytes:
        return b"%g mm" % mm

    def say(self, mm: float) -> None:
        self._write(self.raw(mm).decode())

    def fail(self) -> None:
        self._write(to_json_line(Fault("E7", AT, "serial:COM3", b"E7")))

    def _write(self, line: str) -> None:
        with self._file.open("a") as file:
            file.write(f"{line}\n")

    def unplug(self) -> None:
        self._file.unlink()

    @contextlib.asynccontextmanager
    async def forbidden(self) -> AsyncGenerator[None, None]:
        with denying(self.monkeypatch, os, "open", str(self._file)):
            yield


class Typed(Rig):
    """A keyboard; what is typed goes to the driver that was made last."""

    kind = "typed"
    address = "typed:"
    garbage = b"twelve"
    wrong = (
        ("typed:x", "write typed: with nothing after it"),
        ("typed:?unit=ells", 'no unit "ells"; choose mm'),
        ("typed:?baud=9600", 'no option "baud" here; known: unit'),
    )

    def driver(self) -> Driver:
        self._driver = super().driver()
        return self._driver

    def raw(self, mm: float) -> bytes:
        return b"%g mm" % mm

    def say(self, mm: float) -> None:
        self._type(self.raw(mm))

    def garble(self) -> None:
        self._type(self.garbage)

    def _type(self, line: bytes) -> None:
        assert isinstance(self._driver, TakesLines)
        self._driver.submit(line.decode())


class Simulated(Rig):
    """A rehearsal room with a simulated person, whose meter misbehaves as it is told."""

    kind = "sim"
    address = "sim:"
    garbage = b"\x00\xff?#"
    wrong = (
        ("sim:here", "sim: takes options alone, such as sim:"),
        ("sim:?sped=3", 'no option "sped" here; known: seed, every, count'),
        ("sim:?seed=-1", "seed is a whole number from 0 up"),
        ("sim:?seed=x", "seed is a whole number from 0 up"),
        ("sim:?count=0", "count is a whole number from 1 up"),
        ("sim:?every=soon", "every is a number of seconds from 0 to 3600"),
        ("sim:?every=nan", "every is a number of seconds from 0 to 3600"),
        ("sim:?every=-1", "every is a number of seconds from 0 to 3600"),
    )

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(folder, monkeypatch)
        rng = np.random.default_rng(1)
        self._room = RehearsalRoom(demo_scenario(rng).person(rng))

    def driver(self) -> SimulatedMeter:
        return SimulatedMeter(Address.parse(self.address), lambda: AT, self._room)

    def raw(self, mm: float) -> bytes:
        return b"%g mm\r\n" % mm

    def say(self, mm: float) -> None:
        self._press(Answer(self.raw(mm), distance_mm=mm))

    def fail(self) -> None:
        self._room.person.meter.misbehave_next(fault("too little light comes back"))
        self._room.press_button(wall_shots(Side.LEFT)[0])

    def garble(self) -> None:
        self._press(Answer(self.garbage))

    def begin(self, mm: float) -> bytes:
        part = self.raw(mm)[:3]
        self._press(Answer(part))
        return part

    def end(self, mm: float) -> None:
        self._press(Answer(self.raw(mm)[3:]))

    def _press(self, answer: Answer) -> None:
        self._room.person.meter.misbehave_next(lambda _sound: answer)
        self._room.press_button(wall_shots(Side.LEFT)[0])

    def unplug(self) -> None:
        self._room.unplug()

    def plug_in(self) -> None:
        self._room.plug_in()
