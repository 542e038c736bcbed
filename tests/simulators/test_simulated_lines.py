"""A pseudo-terminal and a TCP server, read through pyserial as a driver would."""

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial
from patience import HUNG_S

from witnessmark.meters.port import MeterUnreachable
from witnessmark_simulators.line import Line
from witnessmark_simulators.serial_line import SerialLine
from witnessmark_simulators.tcp import TcpLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")

KINDS = {"serial": SerialLine, "tcp": TcpLine}


@pytest.fixture(params=KINDS)
def line(request: pytest.FixtureRequest) -> Iterator[Line]:
    with KINDS[request.param]() as line:
        yield line


def opened(line: Line) -> serial.Serial:
    return serial.serial_for_url(line.port, timeout=HUNG_S)


def test_the_address_is_one_that_the_serial_driver_reads(line: Line) -> None:
    assert line.address == f"serial:{line.port}"
    assert line.plugged_in


def test_lines_arrive_whole_and_in_order(line: Line) -> None:
    sent = [f"{number / 1000:.3f} m\r\n".encode() for number in range(1000, 1200)]
    with opened(line) as port:
        for raw in sent:
            line.send(raw)
        assert [port.readline() for _ in sent] == sent


def test_every_byte_passes_unchanged(line: Line) -> None:
    every_byte = bytes(range(256))
    with opened(line) as port:
        line.send(every_byte)
        assert port.read(256) == every_byte


def test_a_client_that_went_away_does_no_harm(line: Line) -> None:
    opened(line).close()
    line.send(b"1.000 m\r\n")
    line.send(b"2.000 m\r\n")
    with opened(line) as port:
        line.send(b"3.000 m\r\n")
        assert port.readline() == b"3.000 m\r\n"


def test_what_nobody_reads_is_lost_and_does_not_block(line: Line) -> None:
    with opened(line):
        for _ in range(64):
            line.send(bytes(65536))


def test_unplugging_is_met_by_the_reader_mid_line(line: Line) -> None:
    with opened(line) as port:
        line.send(b"1.51")
        assert port.read(4) == b"1.51"
        line.unplug()
        with pytest.raises(serial.SerialException):
            port.read(5)
    assert not line.plugged_in


def test_nothing_is_there_while_unplugged(line: Line) -> None:
    line.unplug()
    line.send(b"1.000 m\r\n")
    with pytest.raises((serial.SerialException, OSError)):
        opened(line)


def test_plugged_in_again_it_carries_on_under_the_same_address(line: Line) -> None:
    address = line.address
    for number in range(3):
        with opened(line) as port:
            line.send(b"%d.000 m\r\n" % number)
            assert port.readline() == b"%d.000 m\r\n" % number
            line.unplug()
        line.plug_in()
        assert line.address == address


def test_plugging_in_or_out_twice_changes_nothing(line: Line) -> None:
    with opened(line) as port:
        line.plug_in()
        line.send(b"1.000 m\r\n")
        assert port.readline() == b"1.000 m\r\n"
    line.unplug()
    line.unplug()
    assert not line.plugged_in


@pytest.mark.parametrize("kind", KINDS.values())
def test_nothing_is_left_behind(kind: type[Line]) -> None:
    def open_files() -> set[str]:
        links = Path("/proc/self/fd").iterdir()
        return {str(link.readlink()) for link in links if link.is_symlink()}

    if not Path("/proc/self/fd").exists():
        pytest.skip("open files are listed on Linux")
    before, threads = open_files(), threading.active_count()
    with kind() as line:
        opened(line).close()
        line.send(b"1.000 m\r\n")
        place = line.port
    assert open_files() <= before
    assert threading.active_count() == threads
    assert not Path(place).parent.exists()


def test_two_clients_of_the_network_hear_the_same() -> None:
    with TcpLine() as line, opened(line) as one, opened(line) as other:
        line.send(b"1.000 m\r\n")
        assert (one.readline(), other.readline()) == (b"1.000 m\r\n", b"1.000 m\r\n")


def test_a_serial_line_can_be_had_by_one_alone() -> None:
    with SerialLine() as line, serial.Serial(line.port, exclusive=True):  # noqa: SIM117
        with pytest.raises(serial.SerialException):
            serial.Serial(line.port, exclusive=True)


def test_a_serial_line_is_raw_for_any_reader() -> None:
    with SerialLine() as line:
        reader = os.open(line.port, os.O_RDWR | os.O_NOCTTY)
        try:
            line.send(b"1\r")
            assert os.read(reader, 10) == b"1\r"
        finally:
            os.close(reader)


def test_without_pseudo_terminals_it_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("witnessmark_simulators.serial_line.os.name", "nt")
    with pytest.raises(MeterUnreachable, match="simulated meter on TCP"):
        SerialLine()
