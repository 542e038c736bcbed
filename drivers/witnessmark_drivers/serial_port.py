"""A serial port as pyserial gives it: opened, read in pieces, its errors put in words.

All of this blocks and belongs in one thread that opens, reads and closes, so that no port is ever
closed under a read. Reads are short, so that the thread can look at its stop flag on every kind of
port.
"""

from __future__ import annotations

import contextlib
import errno
import importlib.util
import threading
from collections.abc import Iterator
from typing import Final
from urllib.parse import urlsplit

import serial
from serial.urlhandler import protocol_socket

from witnessmark.errors import BadInput
from witnessmark.meters.framing import Line, LineSplitter, Rubbish
from witnessmark.meters.port import MeterLost, MeterUnreachable

READ_S: Final = 0.05
"""Far longer than the pause between two bytes of a line, far shorter than that between lines."""
_WRITE_S: Final = 2.0
_SILENT_READS: Final = 10
"""So many reads without a byte and a line that has begun has broken off: half a second."""

_MOST_WAITING: Final = 4096
"""Bytes that are taken in one go of what has come; more comes from no meter that is asked."""
_FULL: Final = 4095
"""Bytes at which the buffer that Linux has for a port is full; from memory."""

_READ_ERRORS: Final = (serial.SerialException, OSError, TypeError)
"""What a read raises when the port goes away, depending on the system and the moment."""


Port = serial.Serial | protocol_socket.Serial
"""What pyserial opens, for the type checker: URLs bring classes of their own."""


class _Socket(protocol_socket.Serial):
    """A TCP connection: it begins with its first byte, so nothing in it is stale at opening."""

    def reset_input_buffer(self) -> None:
        """Keep what the meter sends at once, which opening would throw away."""


def check_port(port: str) -> None:
    """Refuse what cannot be a port.

    Raises:
        BadInput: for no port, a kind of URL that is not known, or one without host and port.
    """
    if not port:
        raise BadInput("no port given; write serial:PORT, with a PORT from: witnessmark meters")
    kind, is_url, _ = port.partition("://")
    if not is_url:
        return
    if not importlib.util.find_spec(f"serial.urlhandler.protocol_{kind.lower()}"):
        raise BadInput(f'"{port}": no such kind of port; write socket://HOST:PORT for a network')
    if kind.lower() in {"socket", "rfc2217"} and not _has_host_and_port(port):
        raise BadInput(f'"{port}": write {kind}://HOST:PORT, with a PORT from 1 to 65535')


def _has_host_and_port(url: str) -> bool:
    try:
        parts = urlsplit(url)
        return bool(parts.hostname and parts.port)
    except ValueError:
        return False


@contextlib.contextmanager
def opened_port(port: str, baud: int, line_format: str = "8N1") -> Iterator[Port]:
    """Give the open port, for nobody else and without what had come in; close it at the end.

    ``line_format`` is data bits, parity and stop bits.

    Raises:
        MeterUnreachable: when it cannot be opened, saying what to do.
    """
    try:
        line = _port_for(port, baud, line_format)
        line.open()
    except Exception as error:  # the systems' own errors come through pyserial, termios.error too
        raise MeterUnreachable(words_for(port, error)) from error
    try:
        yield line
    finally:
        # closing a port that has been pulled out may fail, and it is gone all the same
        with contextlib.suppress(*_READ_ERRORS):
            line.close()


def _port_for(port: str, baud: int, line_format: str) -> Port:
    if port.lower().startswith("socket://"):
        line = _Socket(timeout=READ_S)
        line.port = port
        return line
    is_rfc2217 = port.lower().startswith("rfc2217://")
    return serial.serial_for_url(
        port,
        baudrate=baud,
        bytesize=int(line_format[0]),
        parity=line_format[1],
        stopbits=int(line_format[2]),
        timeout=READ_S,
        write_timeout=None if is_rfc2217 else _WRITE_S,  # pyserial has none there
        exclusive=True,
        do_not_open=True,
    )


def splitter_for(line: Port) -> LineSplitter:
    """Return a splitter for a port just opened; on a real line wait a moment first.

    Bytes that come at once belong to a line whose beginning was missed.
    """
    if not isinstance(line, serial.Serial):
        return LineSplitter()
    first = read_bytes(line, 1)
    splitter = LineSplitter(midway=bool(first))
    splitter.feed(first)
    return splitter


def read_pieces(
    line: Port, splitter: LineSplitter, stop: threading.Event
) -> Iterator[Line | Rubbish]:
    """Yield lines and rubbish as they come, until ``stop``.

    Silence counts only while the port was asked and had nothing: a computer that was held up finds
    the rest of the line waiting, and must not take it for a new one.

    Raises:
        MeterLost: when the port goes away.
    """
    silent_reads = 0
    while not stop.is_set():
        try:
            data = read_bytes(line)
        except MeterLost:
            yield from splitter.break_off("the link was lost in mid-line")
            raise
        yield from splitter.feed(data)
        if may_have_lost(data):
            yield from splitter.break_off("more came than the port can hold")
        silent_reads = 0 if data else silent_reads + 1
        if silent_reads == _SILENT_READS:
            yield from splitter.break_off("the line broke off")


def read_bytes(line: Port, most: int | None = None) -> bytes:
    """Return all that has come but not over ``most``, or one byte that comes within a short while.

    Raises:
        MeterLost: when the port goes away.
    """
    with _lost_when_gone(line):
        return line.read(most or line.in_waiting or 1)


def may_have_lost(data: bytes) -> bool:
    """Return whether so much had come that the port may have had no room for what came next."""
    return len(data) >= _FULL


def read_waiting(line: Port, most: int = _MOST_WAITING) -> bytes:
    """Return what has come and was not read, but not over ``most``; waits for nothing.

    Raises:
        MeterLost: when the port goes away.
    """
    waiting = b""
    with _lost_when_gone(line):
        # a connection says only whether there is something
        while len(waiting) < most and (there := line.in_waiting):
            if not (data := line.read(min(there, most - len(waiting)))):
                break
            waiting += data
    return waiting


def write_bytes(line: Port, data: bytes) -> None:
    """Write to the meter.

    Raises:
        MeterLost: when the port goes away.
    """
    with _lost_when_gone(line):
        line.write(data)


@contextlib.contextmanager
def _lost_when_gone(line: Port) -> Iterator[None]:
    try:
        yield
    except _READ_ERRORS as error:
        raise MeterLost(
            f"{line.port}: the meter is gone; plug it in or switch it on again"
        ) from error


def words_for(port: str, error: Exception) -> str:
    """Return why a port cannot be opened and what to do, in one sentence."""
    code, reason = _cause(error)
    if "://" in port:
        return f"{port}: nothing answers ({reason}); is it switched on, and is the address right?"
    if code in {errno.ENOENT, errno.ENODEV, errno.ENXIO} or "FileNotFoundError" in str(error):
        return f"{port}: no such port; plug the meter in and see: witnessmark meters"
    if code in {errno.EBUSY, errno.EAGAIN} or "PermissionError" in str(error):
        return f"{port}: in use by another program; close that one first"
    if code in {errno.EACCES, errno.EPERM}:
        return (
            f"{port}: not permitted; let your user use serial ports "
            "(on most Linux systems: join the group dialout, then log in again)"
        )
    if code in {errno.ENOTTY, errno.EISDIR}:
        return f"{port}: not a serial port; see: witnessmark meters"
    return f"{port}: cannot be opened ({reason}); is it the right port, and the right ?baud=?"


def _cause(error: Exception) -> tuple[int | None, str]:
    """Return the system's number for an error and its words, wherever pyserial left them."""
    for candidate in (error.__context__, error):
        match candidate and candidate.args:
            case (int(code), str(words), *_):
                return code, words
    return None, str(error)
