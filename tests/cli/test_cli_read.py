from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from patience import HUNG_S

from witnessmark.cli import main
from witnessmark.words.cautions import LASER

Serve = Callable[[socket.socket], None]


def run(*arguments: str, typed: str = "") -> Result:
    return CliRunner().invoke(main, arguments, input=typed)


@pytest.fixture
def server() -> Iterator[Callable[..., str]]:
    """Gives the address of a meter on TCP that does one thing per connection, then hangs up."""
    listening = socket.create_server(("127.0.0.1", 0))
    listening.settimeout(20)
    threads: list[threading.Thread] = []

    def serve(*sessions: Serve) -> str:
        def work() -> None:
            for session in sessions:
                connection, _ = listening.accept()
                with connection:
                    session(connection)

        threads.append(threading.Thread(target=work))
        threads[-1].start()
        return "serial:socket://{}:{}".format(*listening.getsockname())

    yield serve
    for thread in threads:
        thread.join()
    listening.close()


def sending(data: bytes) -> Serve:
    return lambda connection: connection.sendall(data)


def sending_and_waiting(data: bytes) -> Serve:
    def serve(connection: socket.socket) -> None:
        connection.sendall(data)
        connection.recv(1)

    return serve


def test_json_gives_a_line_a_reading(server: Callable[..., str]) -> None:
    address = server(sending_and_waiting(b"1.512 m\r\nE7\r\n1513\r\n")) + "?unit=mm"
    before = datetime.now(UTC)
    result = run("read", address, "--count", "2", "--json")
    assert result.exit_code == 0
    first, fault, second = (json.loads(line) for line in result.stdout.splitlines())
    assert first["distance_mm"] == pytest.approx(1512.0)
    assert list(first) == ["distance_mm", "at", "meter", "raw"]
    assert (first["meter"], bytes.fromhex(first["raw"])) == (address, b"1.512 m")
    assert before <= datetime.fromisoformat(first["at"]) <= datetime.now(UTC)
    assert first["at"].endswith("Z")
    assert list(fault) == ["fault", "at", "meter", "raw"]
    assert (fault["fault"], fault["raw"]) == ("E7", b"E7".hex())
    assert second["distance_mm"] == pytest.approx(1513.0)


def test_people_get_time_and_distance(server: Callable[..., str]) -> None:
    address = server(sending_and_waiting(b"1.512 m\r\nE7\r\n1513\r\n")) + "?unit=mm"
    result = run("read", address, "--count", "2")
    words = [line.partition("Z  ")[2] for line in result.stdout.splitlines()]
    assert words == ["1512.0 mm", "fault: E7", "1513.0 mm"]


def test_people_may_choose_their_units() -> None:
    result = run("read", "typed:", "--units", "1/16 in", typed="8' 3 1/2\"\n")
    assert result.stdout.endswith("Z  8' 3 1/2\"\n")


def test_noise_is_told_and_counted_apart(server: Callable[..., str]) -> None:
    address = server(sending_and_waiting(b"hum\r\n2.514\r\n\xff\r\n1512 mm\r\n"))
    result = run("read", address, "--count", "1", "--json")
    assert len(result.stdout.splitlines()) == 1
    assert (
        'not a distance: "2.514" has no unit; say it after the address: ?unit=mm' in result.stderr
    )
    assert result.stderr.endswith("3 lines were not a distance\n")


def test_a_meter_that_nobody_knows_is_to_be_taught(server: Callable[..., str]) -> None:
    address = server(sending(b"hum\r\n~~\r\n##\r\n!!\r\n"), sending_and_waiting(b"1512 mm\r\n"))
    result = run("read", address, "--count", "1")
    hint = f'witnessmark learn "{address}" --known 1.2m --known 1.9m --save my-meter'
    assert result.stderr.count(hint) == 1


def test_a_meter_without_a_unit_is_not_said_to_be_unknown(server: Callable[..., str]) -> None:
    address = server(sending_and_waiting(b"1\r\n1512\r\n1513\r\n1514\r\n1512 mm\r\n"))
    result = run("read", address, "--count", "1")
    assert "witnessmark learn" not in result.stderr
    assert result.stderr.count("has no unit") == 4


def test_a_lost_meter_is_told_and_tried_again(server: Callable[..., str]) -> None:
    address = server(sending(b"1512\r\n15"), sending_and_waiting(b"1513\r\n")) + "?unit=mm"
    result = run("read", address, "--count", "2", "--json")
    assert result.exit_code == 0
    distances = [json.loads(line)["distance_mm"] for line in result.stdout.splitlines()]
    assert distances == [1512.0, 1513.0]
    states = [line.partition(":")[0] for line in result.stderr.splitlines()]
    told_once = ["open", LASER, "not a distance"]
    assert states == [*told_once, "lost", "open", "1 line was not a distance"]


def test_a_meter_that_cannot_be_opened_ends_with_a_sentence() -> None:
    result = run("read", "serial:/dev/no-such-port")
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "/dev/no-such-port: no such port; plug the meter in" in result.stderr


@pytest.mark.parametrize("address", ["ells", "nope:", "serial:x?profile=mine", "replay:/no/such"])
def test_a_wrong_address_is_bad_input(address: str) -> None:
    result = run("read", address)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1


def test_what_was_recorded_is_replayed_alike(tmp_path: Path) -> None:
    recorded = run("read", "typed:", "--json", typed="1512\n8' 3 1/2\"\n")
    assert recorded.exit_code == 0
    file = tmp_path / "recorded.jsonl"
    file.write_text(recorded.stdout)
    assert run("read", f"replay:{file}", "--json").stdout == recorded.stdout


def test_a_source_that_ends_too_soon_is_no_success() -> None:
    result = run("read", "typed:", "--count", "2", typed="1512\n")
    assert result.exit_code == 1
    assert "ended after 1 of 2 readings" in result.stderr


def test_faults_do_not_count(tmp_path: Path) -> None:
    file = tmp_path / "recorded.jsonl"
    fault = '{"fault":"E7","at":"2026-01-02T10:00:00Z","meter":"x","raw":""}'
    file.write_text(f"{fault}\n1512\n1513\n")
    result = run("read", f"replay:{file}", "--json", "--count", "1")
    assert result.exit_code == 0
    assert [json.loads(line).get("distance_mm") for line in result.stdout.splitlines()] == [
        None,
        1512.0,
    ]


@pytest.fixture
def reading_typed() -> Iterator[subprocess.Popen[bytes]]:
    # whoever runs the tests in the background may have them ignore an interrupt
    listen = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    begin = f"{listen}from witnessmark.cli import main; main()"
    command = [sys.executable, "-c", begin, "read", "typed:"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        yield process
        process.kill()


def test_each_line_is_answered_at_once(reading_typed: subprocess.Popen[bytes]) -> None:
    assert reading_typed.stdin is not None
    assert reading_typed.stdout is not None
    for mm in (1512, 1513):
        os.write(reading_typed.stdin.fileno(), b"%d\n" % mm)
        assert reading_typed.stdout.readline().endswith(b"%d.0 mm\n" % mm)


def test_an_interrupt_ends_it_quietly(reading_typed: subprocess.Popen[bytes]) -> None:
    assert reading_typed.stderr is not None
    assert reading_typed.stderr.readline().startswith(b"open:")
    reading_typed.send_signal(signal.SIGINT)
    assert reading_typed.wait(HUNG_S) == 130
    assert b"Traceback" not in reading_typed.stderr.read()


def test_meters_lists_addresses_that_can_be_given_to_read() -> None:
    result = run("meters")
    assert result.exit_code == 0
    assert "typed:" in [line.split()[0] for line in result.stdout.splitlines()]
    listed = json.loads(run("meters", "--json").stdout)
    assert all(set(place) == {"address", "words"} for place in listed)
    assert "typed:" in [place["address"] for place in listed]


@pytest.mark.parametrize("command", ["read typed:", "check typed: --width 262mm --depth 391mm"])
def test_a_program_that_types_no_distances_is_stopped(command: str) -> None:
    result = run(*command.split(), typed="y\n" * 10_000)
    assert result.exit_code == 2
    assert result.stderr.count('"y" is not a length') == 20
    assert "Error: the last 20 lines of the standard input were no distance" in result.stderr


def test_wrong_lines_among_right_ones_stop_nothing() -> None:
    result = run("read", "typed:", typed=("y\n" * 19 + "1512\n") * 3)
    assert result.exit_code == 0
    assert result.stdout.count("1512.0 mm") == 3
