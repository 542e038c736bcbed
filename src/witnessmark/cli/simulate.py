"""``witnessmark simulate``: a simulated meter on a line or on Bluetooth, for trying things out."""

from __future__ import annotations

import contextlib
import itertools
import sys
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from witnessmark.model import ShotKind
    from witnessmark_simulators.line import Line
    from witnessmark_simulators.meter import Answer, Behaviour, ImperfectMeter
    from witnessmark_simulators.person import Person

_KEYS = """\
Enter presses the meter's button. Before Enter:
  f  the meter cannot measure     g  garbage comes down the line
  u  unplug, or plug in again     q  quit"""
_GARBAGE = b"\x00\xff?#\x1b\x81\r\n"
_LAST_BYTES_S = 0.2
_LINES = ("serial", "tcp", "modbus", "bluetooth")


@click.command("simulate")
@click.argument("line_kind", metavar="|".join(_LINES), type=click.Choice(_LINES))
@click.option(
    "--seed", type=click.IntRange(min=0), default=0, metavar="N", help="Same seed, same bytes."
)
@click.option(
    "--every",
    "every_s",
    type=click.FloatRange(0, 3600),
    metavar="SECONDS",
    help="Press the button this often by itself, not at each Enter.",
)
@click.option("--count", type=click.IntRange(min=1), metavar="N", help="End after N presses.")
@click.option(
    "--fault-rate",
    type=click.FloatRange(0, 1, max_open=True),
    default=0.0,
    metavar="SHARE",
    help="Share of presses that bring an error line, 0 to 1.",
)
@click.option(
    "--speaks",
    "speech",
    type=click.Choice(["text", "described", "binary"]),
    default="text",
    help="Lines of text, frames to be learnt, or (bluetooth) numbers that describe themselves.",
)
def simulate_command(
    line_kind: str,
    seed: int,
    every_s: float | None,
    count: int | None,
    fault_rate: float,
    speech: str,
) -> None:
    """Simulate a meter on a serial line, this machine's network (tcp), Modbus RTU, or Bluetooth.

    The meter stands in the demo's room and walks round both cabinets, four shots each. Its address
    is printed: open it from a second terminal. Simulated Bluetooth is for Linux, needs the program
    dbus-daemon and no radio, and is met only by programs started as printed.
    """
    from witnessmark_simulators.scenario import rounds  # noqa: PLC0415

    if speech == "described" and line_kind != "bluetooth":
        raise click.UsageError("--speaks described is for bluetooth; a line has no descriptions")
    if speech != "text" and line_kind == "modbus":
        raise click.UsageError("--speaks is not for modbus; it answers from its registers")
    person = _person(seed, fault_rate)
    shots = person.walk(rounds())
    with _line(line_kind, speech) as line, contextlib.suppress(KeyboardInterrupt):
        click.echo(f"meter address: {line.address}")
        setting = "".join(f"{name}={value} " for name, value in line.environment.items())
        click.echo(f"in a second terminal: {setting}witnessmark read {line.address}")
        presses = _by_hand(line, person.meter) if every_s is None else _by_timer(every_s)
        for _ in itertools.islice(presses, count):
            kind, answer = next(shots)
            for data in _sent(answer, line_kind, speech):
                line.send(data)
            click.echo(_told(kind, answer) + ("" if line.plugged_in else " (lost: unplugged)"))
        # Closing a pseudo-terminal takes unread bytes with it.
        time.sleep(_LAST_BYTES_S)


def _person(seed: int, fault_rate: float) -> Person:
    import numpy as np  # noqa: PLC0415

    from witnessmark_simulators.meter import occasional_faults  # noqa: PLC0415
    from witnessmark_simulators.scenario import demo_scenario  # noqa: PLC0415

    rng = np.random.default_rng(seed)
    # A generator of its own, so that without faults the bytes are those of sim: with this seed.
    script = occasional_faults(fault_rate, rng.spawn(1)[0])
    return demo_scenario(rng).person(rng, script=script)


def _line(line_kind: str, speech: str) -> Line:
    if line_kind == "bluetooth":
        from witnessmark_simulators.bluetooth.line import BluetoothLine  # noqa: PLC0415
        from witnessmark_simulators.bluetooth.meters import Speech, simulated_meter  # noqa: PLC0415

        return BluetoothLine(simulated_meter(Speech(speech)))
    if line_kind == "modbus":
        from witnessmark_simulators.modbus_line import ModbusLine  # noqa: PLC0415

        return ModbusLine()
    from witnessmark_simulators.serial_line import SerialLine  # noqa: PLC0415
    from witnessmark_simulators.tcp import TcpLine  # noqa: PLC0415

    return SerialLine() if line_kind == "serial" else TcpLine()


def _sent(answer: Answer, line_kind: str, speech: str) -> list[bytes]:
    """What goes down the line for an answer."""
    if line_kind == "modbus":
        from witnessmark_simulators.modbus_line import registers  # noqa: PLC0415

        return [registers(answer)]
    if line_kind != "bluetooth" and speech == "text":
        return [answer.raw]
    from witnessmark_simulators.bluetooth.meters import Speech, packets  # noqa: PLC0415

    return packets(Speech(speech), answer)


def _by_timer(every_s: float) -> Iterator[None]:
    """For ever: wait, then press."""
    click.echo("Ctrl-C ends")
    while True:
        time.sleep(every_s)
        yield


def _by_hand(line: Line, meter: ImperfectMeter) -> Iterator[None]:
    """One press for each Enter; what else is typed first happens to the meter or the line."""
    from witnessmark_simulators.meter import TOO_LITTLE_LIGHT, fault, garbage  # noqa: PLC0415

    behaviours: dict[str, Behaviour] = {"f": fault(TOO_LITTLE_LIGHT), "g": garbage(_GARBAGE)}
    click.echo(_KEYS)
    for text in sys.stdin:
        key = text.strip().lower()
        if key == "q":
            return
        if key == "u":
            _unplug_or_plug_in(line)
        elif key in behaviours:
            meter.misbehave_next(behaviours[key])
            yield
        elif key:
            click.echo(_KEYS)
        else:
            yield


def _unplug_or_plug_in(line: Line) -> None:
    if line.plugged_in:
        line.unplug()
        click.echo("unplugged")
    else:
        line.plug_in()
        click.echo("plugged in")


def _told(kind: ShotKind, answer: Answer) -> str:
    sent = ascii(answer.raw.decode("latin-1").rstrip("\r\n"))[1:-1]
    return f"{kind.cabinet} {kind.point} to the {kind.to} wall: {sent}"
