"""Meters that wait to be asked, and ``witnessmark simulate --request``."""

from __future__ import annotations

import os
import select

import pytest
import serial
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from patience import HUNG_S
from simulating import printed, simulating, type_in

from witnessmark.cli import main
from witnessmark_simulators.asked import Requests, answering
from witnessmark_simulators.serial_line import SerialLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")


@given(
    st.lists(st.sampled_from([b"take\r\n", b"X", b"\r", b"take"]), max_size=12), st.integers(1, 5)
)
def test_requests_are_found_however_they_are_cut(pieces: list[bytes], size: int) -> None:
    stream = b"".join(pieces)
    requests = Requests(b"take\r\n")
    chunks = (stream[at : at + size] for at in range(0, len(stream), size))
    assert sum(requests.made_by(chunk) for chunk in chunks) == stream.count(b"take\r\n")


def test_each_request_is_answered_and_nothing_else_is() -> None:
    counts = iter(range(1, 9))
    with SerialLine() as line, serial.Serial(line.port, timeout=HUNG_S) as port:
        with answering(line, b"D", lambda: [b"%d;" % next(counts), b"\r\n"]):
            port.write(b"xDyD")
            assert (port.readline(), port.readline()) == (b"1;\r\n", b"2;\r\n")
        port.write(b"D")
        assert not select.select([port.fileno()], [], [], 0.05)[0]


def test_the_simulated_meter_measures_when_asked_where_it_is_held() -> None:
    def have(text: str, answer: str) -> None:
        type_in(process, text)
        while printed(process) != answer:
            pass

    with simulating("serial", "--request", "take\\r") as process:
        path = printed(process).removeprefix("meter address: serial:")
        hint = printed(process)
        assert "witnessmark learn" in hint
        assert "--request 'take\\r' --known 1.2m" in hint
        with serial.Serial(path, timeout=HUNG_S) as port:
            port.write(b"take\r")
            assert port.readline().endswith(b" m\r\n")
            have("1.9m\n", "held at 1900 mm")
            port.write(b"take\r")
            assert 1.89 < float(port.readline().split()[0]) < 1.91
            have("f\n", "held at 1900 mm")
            port.write(b"take\rtake\r")
            assert port.readline() == b"Error: too little light comes back\r\n"
            assert 1.89 < float(port.readline().split()[0]) < 1.91
            have("q\n", "held at 1900 mm")
            assert process.wait(timeout=HUNG_S) == 0


def test_a_button_is_pressed_at_the_distance_that_is_typed() -> None:
    done = CliRunner().invoke(main, ["simulate", "tcp"], input="1.9m\n\nno length\n")
    told = [line for line in done.output.splitlines() if line.endswith(" m")]
    assert told[0].startswith("held at 1900 mm: 1.")
    assert told[1].startswith("left rear-inner to the front wall: ")
    assert done.output.count("a length such as 1.2m") == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["tcp", "--request", "D"], "--request is for serial and bluetooth"),
        (["modbus", "--request", "D"], "--request is for serial and bluetooth"),
        (["serial", "--request", "D", "--every", "1"], "exclude each other"),
        (["serial", "--request", "D\\q"], "write it as in a profile"),
    ],
)
def test_what_cannot_be_asked_is_refused(arguments: list[str], words: str) -> None:
    done = CliRunner().invoke(main, ["simulate", *arguments])
    assert done.exit_code == 2
    assert words in done.output
