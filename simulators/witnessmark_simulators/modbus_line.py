"""A simulated meter that answers Modbus RTU requests, as a line like any other."""

from __future__ import annotations

import contextlib
import math
import struct

from witnessmark_simulators.line import Line
from witnessmark_simulators.meter import Answer
from witnessmark_simulators.modbus_slave import ModbusSlave, serving
from witnessmark_simulators.serial_line import SerialLine


class ModbusLine(Line):
    """A device whose holding registers 0 and 1 are its last distance, a float in metres.

    What is sent is put into the registers and waits to be asked for; not a number is a meter that
    could not measure.
    """

    def __init__(self) -> None:
        self._line = SerialLine()
        self._slave = ModbusSlave({3: [0, 0]})
        self._serving = contextlib.ExitStack()
        self._slave.set_number(0, registers(None))

    @property
    def address(self) -> str:
        """The meter's address, with the profile that asks it."""
        return f"{self._line.address}?profile=modbus-float-metres"

    @property
    def port(self) -> str:
        """The path to open."""
        return self._line.port

    @property
    def plugged_in(self) -> bool:
        """Whether the path leads anywhere."""
        return self._line.plugged_in

    def plug_in(self) -> None:
        """Make the line reachable and begin to answer."""
        if not self._line.plugged_in:
            self._line.plug_in()
            self._serving.enter_context(serving(self._slave, self._line))

    def unplug(self) -> None:
        """End the answering and take the line away."""
        self._serving.close()
        self._line.unplug()

    def send(self, raw: bytes) -> None:
        """Put the four bytes of a number into the registers."""
        self._slave.set_number(0, raw)

    def close(self) -> None:
        """Unplug for good."""
        self._serving.close()
        self._line.close()


def registers(answer: Answer | None) -> bytes:
    """Return what the registers hold after an answer, high word first."""
    distance_mm = None if answer is None else answer.distance_mm
    return struct.pack(">f", math.nan if distance_mm is None else distance_mm / 1e3)
