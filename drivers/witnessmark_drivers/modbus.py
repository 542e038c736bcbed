"""Modbus RTU on a serial line: registers asked for, and what the answers mean.

An answer does not say which request it belongs to. So there is never more than one request under
way: one that was not answered in time is waited for further, what then comes is left aside, and
from then on this device is given more time.

This is the only file that imports pymodbus, whose names change between its minor versions. Only
its requests, its framing and its checksum are used; the port is that of every serial meter.
"""

from __future__ import annotations

import threading
from collections.abc import Generator, Iterator
from types import MappingProxyType
from typing import Final

from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest, ReadInputRegistersRequest

from witnessmark.errors import LengthError
from witnessmark.meters.decoding import Outcome
from witnessmark.meters.port import (
    Clock,
    Fault,
    MeterLost,
    MeterSaysNo,
    MeterUnreachable,
    Noise,
)
from witnessmark.meters.profile import Modbus
from witnessmark.model import Reading
from witnessmark_drivers.asking import Asking
from witnessmark_drivers.serial_port import READ_S, Port, read_bytes, read_waiting, write_bytes

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

_PAUSE_READS: Final = 2
_TRIES: Final = 3
_LATE: Final = 2
"""An answer that is late is waited for by so many times the time to answer; common practice, no
source."""
_SPARE: Final = 1.5
"""By this factor the time given to a device is longer than the longest that it has taken."""
_LONGEST_S: Final = 10.0
"""The most time that a device is given for what it has taken, seconds."""
_CLOSING_READS: Final = round(1.0 / READ_S)
"""So many reads without a byte an answer is still waited for when the meter is closed."""
_MOST_LATE: Final = 4096
"""Bytes that are left aside in one go."""
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
        """Return whether an answer has as many bytes as it will have."""
        is_exception = len(answer) > 1 and answer[1] >= 0x80
        return len(answer) >= _OVERHEAD + (0 if is_exception else 2 * self._count)

    def is_answered_by(self, answer: bytes) -> bool:
        """Return whether these bytes are a whole answer to such a request, be it a refusal."""
        try:
            self.registers_in(answer)
        except MeterSaysNo:
            return True
        except LengthError:
            return False
        return True

    def registers_in(self, answer: bytes) -> tuple[int, ...]:
        """Return the registers that an answer brings.

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
        """Return the answer by pymodbus, but none that it would dig out of other bytes."""
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
    """Reads the distance that a profile finds in a device's registers.

    It outlasts a link, because it knows how long the device may take, and whether it still owes an
    answer to a request that was given up.
    """

    def __init__(self, modbus: Modbus, meter: str, clock: Clock) -> None:
        self._modbus = modbus
        self._meter = meter
        self._clock = clock
        self._shown: tuple[int, ...] = ()
        self._patience = max(1, round(modbus.answer_within / READ_S))
        self._owes = False
        device, function = modbus.device, modbus.function
        self._value = RegisterRequest(device, function, modbus.register, modbus.register_count)
        status = modbus.status
        self._status = RegisterRequest(device, function, status.register, 1) if status else None

    def begin(self) -> None:
        """Take whatever the device shows now as new, since the line was just opened."""
        self._shown = ()

    def ask(self, line: Port, stop: threading.Event) -> Iterator[Outcome]:
        """Ask once; no outcome when nothing has changed and only changes are wanted.

        Raises:
            NoAnswer: when the device stays silent.
            MeterLost: when the port goes away.
        """
        if self._status:
            refusal = self.status_outcome((yield from self._answer(line, self._status, stop)))
            if refusal is not None:
                yield refusal
                return
        answer = yield from self._answer(line, self._value, stop)
        outcome, changed = self.outcome(answer), self._has_changed(answer)
        if changed or not self._modbus.only_changes or not isinstance(outcome, Reading):
            yield outcome

    def _answer(
        self, line: Port, request: RegisterRequest, stop: threading.Event
    ) -> Generator[Noise, None, bytes]:
        """Return the answer to this request, or what is none; before, what may be another's."""
        while True:
            if stale := read_waiting(line):
                yield self.stray(stale)
            answer, waited = exchange(line, request, stop, self._patience)
            if self._owes and answer:
                yield self._left_aside(line, stop, answer, waited)
            elif answer:
                whole = request.is_answered_by(answer)
                # what is no answer to this request may be another's, with this one's to come
                return answer if whole else answer + drained(line, stop, self._patience)[0]
            else:
                yield self._late(line, stop, waited)
            if stop.is_set():
                return b""

    def _late(self, line: Port, stop: threading.Event, waited: int) -> Noise:
        """Return what comes too late to be believed, and give the device more time from now on."""
        late, waited_more = drained(line, stop, self._patience * _LATE)
        if not late:
            self._owes = True
            raise NoAnswer
        if self._owes:
            return self._left_aside(line, stop, late, waited + waited_more)
        self._give_time(waited + waited_more)
        return self._noise("the answer came too late", late)

    def _left_aside(self, line: Port, stop: threading.Event, answer: bytes, waited: int) -> Noise:
        """Return what may be the answer to a request that was given up, and all that follows it."""
        given_up_after = self._patience * (1 + _LATE)
        late, _ = drained(line, stop, given_up_after + waited + 1)
        if late:  # two answers to two requests: the device is as slow as that
            self._give_time(given_up_after + waited)
        self._owes = False
        return self._noise("it may be the answer to an earlier request", answer + late)

    def _give_time(self, reads: int) -> None:
        enough = min(round(reads * _SPARE) + 1, round(_LONGEST_S / READ_S))
        self._patience = max(self._patience, enough)

    def _has_changed(self, answer: bytes) -> bool:
        """Return whether the registers have changed; an answer without any does not tell."""
        try:
            registers = self._value.registers_in(answer)
        except (MeterSaysNo, LengthError):
            return False
        before, self._shown = self._shown, registers
        return registers != before

    def outcome(self, answer: bytes) -> Outcome:
        """Return what the answer with the distance comes to. Never raises."""
        at = self._clock()
        try:
            registers = self._value.registers_in(answer)
            return Reading(self._modbus.in_registers(registers), at, self._meter, answer)
        except MeterSaysNo as error:
            return Fault(str(error), at, self._meter, answer)
        except LengthError as error:
            return Noise(str(error), at, self._meter, answer)

    def status_outcome(self, answer: bytes) -> Outcome | None:
        """Return what the answer with the status comes to; None when all is well. Never raises."""
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
        """Return bytes that came without having been asked for."""
        return self._noise("nobody asked for these bytes", data)

    def _noise(self, why: str, data: bytes) -> Noise:
        return Noise(why, self._clock(), self._meter, data)


def exchange(
    line: Port, request: RegisterRequest, stop: threading.Event, patience: int
) -> tuple[bytes, int]:
    """Return what comes of a request, without the echo that some adapters give of what is sent.

    ``patience`` is in reads that bring nothing, and so is what was waited before the answer, which
    is returned with it. Reads, not a clock: a computer that was held up finds the answer waiting.
    A request under way is waited for also when the meter is being closed, so that its answer does
    not come to whoever opens the line next.

    Raises:
        MeterLost: when the port goes away.
    """
    write_bytes(line, request.data)
    answer, silent_reads, waited, closing_reads = b"", 0, 0, 0
    while not request.is_ended(answer) and closing_reads < _CLOSING_READS:
        data = read_bytes(line)
        closing_reads += stop.is_set()
        answer = (answer + data).removeprefix(request.data)
        waited = waited if answer else silent_reads
        silent_reads = 0 if data else silent_reads + 1
        if _is_enough(silent_reads, _PAUSE_READS if answer else patience, stop):
            break
    return answer, waited


def drained(line: Port, stop: threading.Event, patience: int) -> tuple[bytes, int]:
    """Return what comes until so many reads bring nothing, and how many did before the first byte.

    Raises:
        MeterLost: when the port goes away.
    """
    late, silent_reads, waited, closing_reads = b"", 0, 0, 0
    while not _is_enough(silent_reads, patience, stop) and len(late) < _MOST_LATE:
        data = read_bytes(line)
        closing_reads += stop.is_set()
        if closing_reads > _CLOSING_READS:  # it sends by itself: no answer is under way
            break
        late += data
        waited = waited if late else waited + 1
        silent_reads = 0 if data else silent_reads + 1
    return late, waited


def _is_enough(silent_reads: int, patience: int, stop: threading.Event) -> bool:
    return silent_reads >= (min(patience, _CLOSING_READS) if stop.is_set() else patience)


def poll(
    line: Port, reader: RegisterReader, stop: threading.Event, asking: Asking
) -> Iterator[Outcome | None]:
    """Ask whenever it is due, until ``stop``. None first, once the device has answered.

    Raises:
        MeterUnreachable: when the device does not answer at first.
        MeterLost: when it does not answer any more, or the port goes away.
    """
    answered, silent = False, 0
    reader.begin()
    asking.begin()
    while not stop.is_set():
        if not asking.is_due():
            if data := read_bytes(line):
                yield reader.stray(data)
            continue
        try:
            for outcome in reader.ask(line, stop):
                if not answered:
                    yield None
                answered = True
                yield outcome
        except NoAnswer:
            silent += 1
            if silent == _TRIES:
                raise _silent(line, answered) from None
            asking.hurry()
        else:
            silent = 0


def _silent(line: Port, answered: bool) -> MeterLost | MeterUnreachable:
    error = MeterLost if answered else MeterUnreachable
    return error(
        f"{line.port}: the device does not answer; is it switched on, and are its number and the "
        "line's speed those of the profile?"
    )
