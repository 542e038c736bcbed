"""Modbus RTU on a serial line: registers asked for, and what the answers mean.

This is the only file that imports pymodbus, whose names change between its minor versions. Only
its requests, its framing and its checksum are used; the port is that of every serial meter.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from types import MappingProxyType
from typing import Final

from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest, ReadInputRegistersRequest

from witnessmark.errors import LengthError
from witnessmark.meters.decoding import Outcome
from witnessmark.meters.port import Clock, Fault, MeterLost, MeterUnreachable, Noise
from witnessmark.meters.profile import Modbus
from witnessmark.meters.text import MeterSaysNo
from witnessmark.model import Reading
from witnessmark_drivers.asking import Asking
from witnessmark_drivers.serial_port import Port, read_bytes, write_bytes

EXCEPTIONS: Final = MappingProxyType(
    {
        1: "it does not know this function",
        2: "it has no such register",
        3: "it does not allow this value",
        4: "it failed",
        5: "it needs more time",
        6: "it is busy",
        8: "its memory is damaged",
        10: "it cannot be reached",
        11: "it does not answer its gateway",
    }
)
"""What a device says instead of an answer (Modbus Application Protocol V1.1b3, section 7)."""

_SILENT_READS: Final = 10
"""So many reads without a byte, half a second, and no answer will come."""
_PAUSE_READS: Final = 2
_TRIES: Final = 3
_OVERHEAD = 5
"""Device, function, byte count, two bytes of checksum; also the length of an exception."""


class NoAnswer(Exception):
    """The device stays silent."""


class RegisterRequest:
    """One request for registers, and the reading of its answers."""

    def __init__(self, device: int, function: int, register: int, count: int) -> None:
        request_of = ReadInputRegistersRequest if function == 4 else ReadHoldingRegistersRequest
        self._device, self._function, self._count = device, function, count
        self._framer = FramerRTU(DecodePDU(is_server=False))
        request = request_of(dev_id=device, address=register, count=count)
        self.data = bytes(self._framer.buildFrame(request))

    def is_ended(self, answer: bytes) -> bool:
        """Whether an answer has as many bytes as it will have."""
        is_exception = len(answer) > 1 and answer[1] >= 0x80
        return len(answer) >= _OVERHEAD + (0 if is_exception else 2 * self._count)

    def registers_in(self, answer: bytes) -> tuple[int, ...]:
        """The registers that an answer brings.

        Raises:
            MeterSaysNo: when the device says why it does not bring them.
            LengthError: when this is no answer to this request.
        """
        pdu = self._decoded(answer)
        if pdu.isError():
            why = EXCEPTIONS.get(pdu.exception_code, "it refuses")
            raise MeterSaysNo(f"device {self._device}: {why} (Modbus {pdu.exception_code:02X})")
        return tuple(pdu.registers)

    def _decoded(self, answer: bytes) -> ModbusPDU:
        """The answer by pymodbus, which is not to dig one out of other bytes, as it would."""
        rightful = (
            bytes([self._device, self._function, 2 * self._count]),
            bytes([self._device, self._function | 0x80]),
        )
        size = _OVERHEAD + (2 * self._count if answer.startswith(rightful[0]) else 0)
        if not answer.startswith(rightful) or len(answer) != size:
            raise LengthError("not an answer to the request")
        _, pdu = self._framer.handleFrame(answer, self._device, 0)
        if pdu is None:
            raise LengthError("the answer's checksum is wrong")
        return pdu


class RegisterReader:
    """Reads the distance that a profile finds in a device's registers."""

    def __init__(self, modbus: Modbus, meter: str, clock: Clock) -> None:
        self._modbus = modbus
        self._meter = meter
        self._clock = clock
        self._shown: tuple[int, ...] = ()
        device, function = modbus.device, modbus.function
        self._value = RegisterRequest(device, function, modbus.register, modbus.register_count)
        status = modbus.status
        self._status = RegisterRequest(device, function, status.register, 1) if status else None

    def ask(self, line: Port, stop: threading.Event) -> Outcome | None:
        """Ask once; None when nothing has changed and only changes are wanted.

        Raises:
            NoAnswer: when the device stays silent.
            MeterLost: when the port goes away.
        """
        if self._status:
            refusal = self.status_outcome(exchange(line, self._status, stop))
            if refusal is not None:
                return refusal
        answer = exchange(line, self._value, stop)
        outcome, changed = self.outcome(answer), self._has_changed(answer)
        wanted = changed or not self._modbus.only_changes or not isinstance(outcome, Reading)
        return outcome if wanted else None

    def _has_changed(self, answer: bytes) -> bool:
        """Whether the registers are others than before; an answer without any does not tell."""
        try:
            registers = self._value.registers_in(answer)
        except (MeterSaysNo, LengthError):
            return False
        before, self._shown = self._shown, registers
        return registers != before

    def outcome(self, answer: bytes) -> Outcome:
        """What the answer with the distance comes to. Never raises."""
        at = self._clock()
        try:
            registers = self._value.registers_in(answer)
            return Reading(self._modbus.in_registers(registers), at, self._meter, answer)
        except MeterSaysNo as error:
            return Fault(str(error), at, self._meter, answer)
        except LengthError as error:
            return Noise(str(error), at, self._meter, answer)

    def status_outcome(self, answer: bytes) -> Outcome | None:
        """What the answer with the status comes to; None when all is well. Never raises."""
        at, status = self._clock(), self._modbus.status
        if self._status is None or status is None:
            return None
        try:
            (value,) = self._status.registers_in(answer)
        except MeterSaysNo as error:
            return Fault(str(error), at, self._meter, answer)
        except LengthError as error:
            return Noise(str(error), at, self._meter, answer)
        if value in status.ok:
            return None
        words = status.faults.get(str(value)) or f"the meter's status is {value}"
        return Fault(words, at, self._meter, answer)

    def stray(self, data: bytes) -> Noise:
        """Bytes that came without having been asked for."""
        return Noise("nobody asked for these bytes", self._clock(), self._meter, data)


def exchange(line: Port, request: RegisterRequest, stop: threading.Event) -> bytes:
    """The answer to a request, without the echo that some adapters give of what is sent.

    Raises:
        NoAnswer: when nothing comes for half a second.
        MeterLost: when the port goes away.
    """
    write_bytes(line, request.data)
    answer, silent_reads = b"", 0
    while not (request.is_ended(answer) or stop.is_set()):
        data = read_bytes(line)
        answer = (answer + data).removeprefix(request.data)
        silent_reads = 0 if data else silent_reads + 1
        if silent_reads >= (_PAUSE_READS if answer else _SILENT_READS):
            break
    if not answer:
        raise NoAnswer
    return answer


def poll(
    line: Port, reader: RegisterReader, stop: threading.Event, asking: Asking
) -> Iterator[Outcome | None]:
    """Ask whenever it is due, until ``stop``. None first, once the device has answered.

    Raises:
        MeterUnreachable: when the device does not answer at first.
        MeterLost: when it does not answer any more, or the port goes away.
    """
    answered, silent = False, 0
    asking.begin()
    while not stop.is_set():
        if not asking.is_due():
            if data := read_bytes(line):
                yield reader.stray(data)
            continue
        try:
            outcome = reader.ask(line, stop)
        except NoAnswer:
            silent += 1
            if silent == _TRIES:
                raise _silent(line, answered) from None
            asking.hurry()
            continue
        if not answered:
            yield None
        answered, silent = True, 0
        if outcome is not None:
            yield outcome


def _silent(line: Port, answered: bool) -> MeterLost | MeterUnreachable:
    error = MeterLost if answered else MeterUnreachable
    return error(
        f"{line.port}: the device does not answer; is it switched on, and are its number and the "
        "line's speed those of the profile?"
    )
