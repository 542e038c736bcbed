"""``witnessmark simulate``, read through pyserial from outside its process."""

import contextlib
import os
import subprocess

import pytest
import serial
from click.testing import CliRunner
from patience import HUNG_S
from simulating import printed, simulating, type_in

from witnessmark.cli import main
from witnessmark.meters.finding import open_driver
from witnessmark.model import Reading

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")


def port_of(process: subprocess.Popen[str]) -> str:
    label, address = printed(process).split(": ", 1)
    assert label == "meter address"
    scheme, port = address.split(":", 1)
    assert scheme == "serial"
    return port


@pytest.mark.parametrize("line_kind", ["serial", "tcp"])
def test_enter_presses_the_button_and_keys_misbehave(line_kind: str) -> None:
    with simulating(line_kind, "--seed", "3") as process:
        url = port_of(process)
        with serial.serial_for_url(url, timeout=HUNG_S) as port:
            type_in(process, "\n")
            assert port.readline().endswith(b" m\r\n")
            type_in(process, "f\ng\n")
            assert port.readline() == b"Error: too little light comes back\r\n"
            assert port.readline() == b"\x00\xff?#\x1b\x81\r\n"
            type_in(process, "u\n")
            with pytest.raises(serial.SerialException):
                port.read(1)
        type_in(process, "u\n")
        for line in process.stdout:
            if line == "plugged in\n":
                break
        with serial.serial_for_url(url, timeout=HUNG_S) as port:
            type_in(process, "\nq\n")
            assert port.readline().endswith(b" m\r\n")
        assert process.wait(timeout=HUNG_S) == 0


def told(*arguments: str, keys: str = "") -> list[str]:
    result = CliRunner().invoke(main, ["simulate", *arguments], input=keys, catch_exceptions=False)
    assert result.exit_code == 0
    return [line for line in result.output.splitlines() if " to the " in line]


def test_the_timer_takes_as_many_shots_as_told_and_the_same_for_a_seed() -> None:
    first = told("tcp", "--every", "0", "--count", "9", "--seed", "5")
    assert len(first) == 9
    assert first[0].startswith("left rear-inner to the front wall: ")
    assert first[4].startswith("right rear-inner to the front wall: ")
    assert first == told("tcp", "--every", "0", "--count", "9", "--seed", "5")
    assert first != told("tcp", "--every", "0", "--count", "9", "--seed", "6")


def test_faults_come_and_the_shot_is_taken_again() -> None:
    lines = told("tcp", "--every", "0", "--count", "40", "--fault-rate", "0.5")
    failed = [index for index, line in enumerate(lines[:-1]) if "Error: " in line]
    assert 8 < len(failed) < 32
    for index in failed:
        assert lines[index + 1].split(":")[0] == lines[index].split(":")[0]


def test_the_end_of_the_keyboard_ends_it() -> None:
    assert len(told("tcp", keys="\n\nwhat\n\n")) == 3


def test_shots_while_unplugged_are_told_to_be_lost() -> None:
    (line,) = told("tcp", keys="u\n\n")
    assert line.endswith("(lost: unplugged)")


@pytest.mark.parametrize("arguments", [["usb"], ["tcp", "--count", "0"], ["tcp", "--seed", "-1"]])
def test_wrong_arguments_are_refused(arguments: list[str]) -> None:
    result = CliRunner().invoke(main, ["simulate", *arguments])
    assert result.exit_code == 2


def test_binary_frames_go_down_a_serial_line_too() -> None:
    with (
        simulating("serial", "--speaks", "binary") as process,
        serial.serial_for_url(port_of(process), timeout=HUNG_S) as port,
    ):
        type_in(process, "\nf\n")
        first, failed = port.read(6), port.read(6)
    assert first[:2] == b"\xa5\x00"
    assert 100 < int.from_bytes(first[2:5], "big") / 10 < 10_000  # a distance in the demo's room
    assert failed[:2] == b"\xa5\x01"


async def test_a_modbus_meter_holds_its_last_distance_in_registers() -> None:
    with simulating("modbus") as process:
        address = process.stdout.readline().split(": ", 1)[1].strip()
        assert address.endswith("?profile=modbus-float-metres")
        type_in(process, "\n")
        told = ""
        while not told.endswith(" m"):
            told = process.stdout.readline().rstrip("\n").removesuffix("\\r\\n")
        async with contextlib.aclosing(open_driver(address).reports()) as reports:
            async for report in reports:
                if isinstance(report, Reading):
                    metres = float(told.rpartition(": ")[2].split(" ")[0])
                    assert report.distance_mm == pytest.approx(metres * 1e3, abs=0.01)
                    break


@pytest.mark.parametrize("arguments", [("serial", "described"), ("modbus", "binary")])
def test_what_a_line_cannot_say_is_refused(arguments: tuple[str, str]) -> None:
    line_kind, speech = arguments
    done = CliRunner().invoke(main, ["simulate", line_kind, "--speaks", speech])
    assert done.exit_code == 2
    assert "--speaks" in done.output
