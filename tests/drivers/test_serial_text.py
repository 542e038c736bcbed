"""What is particular to serial ports: refusals in words, and what came before the opening.

What a serial meter has in common with every other is in ``test_driver_behaviour``.
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import os
import select
import socket
import threading
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest
from serial.serialutil import SerialException
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.finding import open_driver
from witnessmark.meters.framing import Line, LineSplitter, Rubbish
from witnessmark.meters.listening import listening_to
from witnessmark.meters.port import MeterUnreachable, Noise
from witnessmark.model import Reading
from witnessmark_drivers import serial_port
from witnessmark_drivers.serial_port import (
    opened_port,
    read_pieces,
    read_waiting,
    splitter_for,
    words_for,
)
from witnessmark_drivers.serial_text import SerialText
from witnessmark_simulators.rfc2217 import Rfc2217Line


@pytest.fixture
def pty() -> Iterator[tuple[int, str]]:
    master, slave = os.openpty()
    tty.setraw(slave)
    yield master, os.ttyname(slave)
    os.close(master)
    os.close(slave)


@pytest.fixture
def stop() -> Iterator[threading.Event]:
    """Set after a while, so that a test whose line never comes fails rather than hangs."""
    event = threading.Event()
    timer = threading.Timer(20, event.set)
    timer.start()
    yield event
    timer.cancel()
    timer.join()


@pytest.mark.parametrize("path", ["/dev/null", "/dev", __file__])
async def test_what_is_no_serial_port_says_so(path: str) -> None:
    with pytest.raises(MeterUnreachable, match="not a serial port"):
        await anext(open_driver(f"serial:{path}").reports())


async def test_a_speed_that_the_port_refuses_says_so(pty: tuple[int, str]) -> None:
    _, path = pty
    reports = open_driver(f"serial:{path}?baud=9601").reports()
    try:
        await anext(reports)
    except MeterUnreachable as error:
        assert "?baud=" in str(error)  # noqa: PT017 - some systems take any speed
    finally:
        await reports.aclose()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (SerialException(errno.EACCES, "could not open port"), "not permitted; .* dialout"),
        (SerialException(errno.EPERM, "could not open port"), "not permitted"),
        (SerialException(errno.ENOENT, "could not open port"), "no such port"),
        (SerialException(errno.EBUSY, "could not open port"), "in use"),
        (SerialException("could not open port: PermissionError(13, 'Access denied')"), "in use"),
        (SerialException("could not open port: FileNotFoundError(2, 'nothing')"), "no such port"),
        (SerialException("something new"), r"cannot be opened \(something new\)"),
        (ValueError("Failed to set custom baud rate (7)"), r"right \?baud="),
    ],
)
def test_every_refusal_has_its_sentence(error: Exception, words: str) -> None:
    with pytest.raises(MeterUnreachable, match=f"^COM3: .*{words}"):
        raise MeterUnreachable(words_for("COM3", error))


async def test_an_adapter_is_found_by_its_serial_number(
    pty: tuple[int, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    master, path = pty
    plugged_in = [ListPortInfo("/dev/other"), ListPortInfo(path)]
    plugged_in[1].serial_number = "A50285"
    monkeypatch.setattr(list_ports, "comports", lambda: plugged_in)
    async with contextlib.aclosing(open_driver("serial:?adapter=A50285").reports()) as reports:
        await anext(reports)
        os.write(master, b"1512 mm\r\n")
        assert isinstance(await anext(reports), Reading)
    assert "serial:?adapter=A50285" in (await SerialText.discover())[1].words
    with pytest.raises(MeterUnreachable, match="adapter B7: no such port; plug it in"):
        await anext(open_driver("serial:?adapter=B7").reports())
    with pytest.raises(BadInput, match="give the port or its adapter, not both"):
        open_driver(f"serial:{path}?adapter=A50285")


async def test_a_bridge_is_told_the_line_of_the_profile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(tmp_path))
    profile = '[serial]\nbaud = 19200\nline = "7E2"\nrequest = { bytes = "74 ff 01" }\n[text]\n'
    (tmp_path / "mine.toml").write_text(f'format = "witnessmark profile 1"\n{profile}')
    with Rfc2217Line() as line:
        driver = open_driver(f"{line.address}?profile=mine")
        async with contextlib.aclosing(driver.reports()) as reports:
            await anext(reports)
            asked = b""
            while len(asked) < 3:
                await asyncio.sleep(0.01)
                asked += line.receive()
    assert asked == b"t\xff\x01"  # although 0xFF begins a command of the bridge
    # the numbers of RFC 2217: 1 the speed, 2 the data bits, 3 even parity, 4 the stop bits
    assert line.settings[1] == (19200).to_bytes(4, "big")
    assert [line.settings[number] for number in (2, 3, 4)] == [b"\x07", b"\x03", b"\x02"]


async def test_short_frames_without_a_pause_come_by_time(
    pty: tuple[int, str], stop: threading.Event
) -> None:
    master, path = pty

    def talk() -> None:
        while not stop.wait(0.01):
            os.write(master, b"\xa5\x07")

    talking = threading.Thread(target=talk)
    talking.start()
    try:
        async with listening_to(SerialText(Address.parse(f"serial:{path}"))) as meter:
            frames = await meter.stretch()
    finally:
        stop.set()
        talking.join()
    assert len(frames) > 1
    assert sum(len(frame.data) for frame in frames) > 20


async def test_a_bare_number_is_in_the_unit_of_the_address(pty: tuple[int, str]) -> None:
    master, path = pty
    for options, expected in (("?unit=m", 2514.0), ("", None)):
        driver = open_driver(f"serial:{path}{options}")
        async with contextlib.aclosing(driver.reports()) as reports:
            await anext(reports)
            os.write(master, b"2.514\r\n")
            report = await anext(reports)
        if expected is None:
            assert isinstance(report, Noise)
            assert "?unit=m" in report.why
        else:
            assert isinstance(report, Reading)
            assert report.distance_mm == pytest.approx(expected)


async def test_discovery_lists_ports_by_address() -> None:
    assert all(place.address.startswith("serial:") for place in await SerialText.discover())


def test_a_line_that_began_before_the_opening_is_no_line(
    pty: tuple[int, str], stop: threading.Event
) -> None:
    master, path = pty
    os.write(master, b"1")  # thrown away by opening
    with opened_port(path, 9600) as line:
        os.write(master, b"2.514 m\r\n1.512 m\r\n")
        pieces = read_pieces(line, splitter_for(line), stop)
        cut, whole = next(pieces), next(pieces)
    assert isinstance(cut, Rubbish)
    assert "before the port was opened" in cut.why
    assert whole == Line(b"1.512 m")


def test_a_line_that_begins_after_the_opening_is_whole(
    pty: tuple[int, str], stop: threading.Event
) -> None:
    master, path = pty
    with opened_port(path, 9600) as line:
        splitter = splitter_for(line)
        os.write(master, b"1.512 m\r\n")
        assert next(read_pieces(line, splitter, stop)) == Line(b"1.512 m")


def test_what_a_converter_sends_at_once_is_kept(stop: threading.Event) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        host, port = server.getsockname()
        with opened_port(f"socket://{host}:{port}", 9600) as line:
            connection, _ = server.accept()
            with connection:
                connection.sendall(b"1.512 m\r\n")
                select.select([line.fileno()], [], [], 5)
                line.reset_input_buffer()  # as pyserial does in opening
                pieces = read_pieces(line, splitter_for(line), stop)
                assert next(pieces) == Line(b"1.512 m")


def test_of_what_has_come_only_so_much_is_taken_at_once(pty: tuple[int, str]) -> None:
    master, path = pty
    with opened_port(path, 9600) as line:
        os.write(master, b"x" * 1000)
        select.select([line.fileno()], [], [], 5)
        assert read_waiting(line, 300) == b"x" * 300
        assert read_waiting(line) == b"x" * 700


def test_after_more_than_a_port_can_hold_the_next_line_is_not_joined_to_the_last(
    stop: threading.Event, monkeypatch: pytest.MonkeyPatch, pty: tuple[int, str]
) -> None:
    master, path = pty
    monkeypatch.setattr(serial_port, "_FULL", 11)
    with opened_port(path, 9600) as line:
        os.write(master, b"1.512 m\r\n1.5")
        pieces = read_pieces(line, LineSplitter(), stop)
        assert next(pieces) == Line(b"1.512 m")
        assert next(pieces) == Rubbish(b"1.5", "more came than the port can hold")
        os.write(master, b"13 m\r\n")
        assert next(pieces) == Line(b"13 m", after=b"1.5")
