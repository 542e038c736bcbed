"""``witnessmark demo`` and ``simulate``: the app, or a meter alone, in a simulated room."""

from __future__ import annotations

import contextlib
import itertools
import shlex
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from witnessmark.cli.echo import echo
from witnessmark.cli.simulated_button import Press, place_words, presses
from witnessmark.cli.types import COUNT, FiniteRange

if TYPE_CHECKING:
    from witnessmark.model import ShotKind
    from witnessmark_simulators.line import Line
    from witnessmark_simulators.meter import Answer
    from witnessmark_simulators.person import Person

_LAST_BYTES_S = 0.2
_LINES = ("serial", "tcp", "modbus", "bluetooth")
_TAKE_REQUESTS = ("serial", "bluetooth")


@click.command("demo")
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Seed of the simulation; the same seed gives the same readings.",
)
@click.option("--phone", is_flag=True, help="Show the live screen on a phone as well.")
def demo_command(seed: int, *, phone: bool) -> None:
    """Open the app on a simulated room and meter.

    Space presses the meter's button, n has simulated hands make the nudge. Nothing is kept.
    """
    import numpy as np  # slow to import, as are the simulators

    from witnessmark.app import check_terminal, make_app, run_to_its_end, uncollected
    from witnessmark.meters.address import Address
    from witnessmark.session.workspace import Workspace
    from witnessmark.store.store import Store
    from witnessmark_simulators.driver import SimulatedMeter
    from witnessmark_simulators.rehearsal_room import RehearsalRoom
    from witnessmark_simulators.scenario import demo_scenario

    check_terminal()
    rng = np.random.default_rng(seed)
    scenario = demo_scenario(rng)
    room = RehearsalRoom(scenario.person(rng))
    workspace = Workspace.on(scenario.setup, name="Demo room", meter_address="sim:")
    with tempfile.TemporaryDirectory(prefix="witnessmark-demo-") as folder, uncollected():
        app = make_app(
            Store.open(Path(folder) / "demo.sqlite3"),
            workspace,
            open_driver=lambda text: SimulatedMeter(Address.parse(text), room=room),
            rehearsal=room,
            phone=phone,
        )
        run_to_its_end(app)


@click.command("simulate")
@click.argument("line_kind", metavar="|".join(_LINES), type=click.Choice(_LINES))
@click.option(
    "--seed", type=click.IntRange(min=0), default=0, metavar="N", help="Same seed, same bytes."
)
@click.option(
    "--every",
    "every_s",
    type=FiniteRange(0, 3600),
    metavar="SECONDS",
    help="Press the button at this interval, not at each Enter.",
)
@click.option("--count", type=COUNT, metavar="N", help="End after N presses.")
@click.option(
    "--fault-rate",
    type=FiniteRange(0, 1, max_open=True),
    default=0.0,
    metavar="SHARE",
    help="Share of presses that give an error, 0 to 1.",
)
@click.option(
    "--speaks",
    "speech",
    type=click.Choice(["text", "described", "binary"]),
    default="text",
    help="Lines of text, frames to be learnt, or (bluetooth) numbers that describe themselves.",
)
@click.option(
    "--request",
    metavar="TEXT",
    help="Measure when this is written to the meter, not at Enter; written as in a profile.",
)
def simulate_command(
    line_kind: str,
    seed: int,
    every_s: float | None,
    count: int | None,
    fault_rate: float,
    speech: str,
    request: str | None,
) -> None:
    """Simulate a meter on a serial line, this machine's network (tcp), Modbus RTU, or Bluetooth.

    The meter stands in the demo's room and walks round both cabinets, four shots each. Its address
    is printed: open it from a second terminal. Simulated Bluetooth is for Linux, needs the program
    dbus-daemon and no radio, and is met only by programs started as printed.
    """
    from witnessmark.meters.request_line import read_request
    from witnessmark_simulators.scenario import rounds

    _refuse_what_cannot_be(line_kind, speech, every_s, request)
    asked = None if request is None else read_request(request)
    person = _person(seed, fault_rate)
    shots = person.walk(rounds())
    with _line(line_kind, speech) as line, contextlib.suppress(KeyboardInterrupt):
        echo(f"meter address: {line.address}")
        setting = "".join(f"{name}={value} " for name, value in line.environment.items())
        echo(f"in a second terminal: {setting}witnessmark {_use(line.address, request)}")
        for held_mm in itertools.islice(presses(line, person.meter, every_s, asked), count):
            kind, answer = (None, person.meter.press(held_mm)) if held_mm else next(shots)
            for data in _sent(answer, line_kind, speech):
                line.send(data)
            lost = "" if line.plugged_in else " (lost: unplugged)"
            echo(_told(kind, held_mm, answer) + lost)
        # Closing a pseudo-terminal takes unread bytes with it.
        time.sleep(_LAST_BYTES_S)


def _refuse_what_cannot_be(
    line_kind: str, speech: str, every_s: float | None, request: str | None
) -> None:
    if speech == "described" and line_kind != "bluetooth":
        raise click.UsageError("--speaks described is only for bluetooth")
    if speech != "text" and line_kind == "modbus":
        raise click.UsageError("--speaks is not for modbus, which answers from its registers")
    if request is not None and line_kind not in _TAKE_REQUESTS:
        raise click.UsageError(f"--request is for {' and '.join(_TAKE_REQUESTS)}")
    if request is not None and every_s is not None:
        raise click.UsageError("--request and --every exclude each other")


def _use(address: str, request: str | None) -> str:
    """Return the command that uses such a meter; one that is asked has to be learnt before."""
    if request is None:
        return f"read {address}"
    return f"learn {address} --request {shlex.quote(request)} --known 1.2m --known 1.9m --save mine"


def _person(seed: int, fault_rate: float) -> Person:
    import numpy as np

    from witnessmark_simulators.meter import occasional_faults
    from witnessmark_simulators.scenario import demo_scenario

    rng = np.random.default_rng(seed)
    # A generator of its own, so that without faults the bytes are those of sim: with this seed.
    script = occasional_faults(fault_rate, rng.spawn(1)[0])
    return demo_scenario(rng).person(rng, script=script)


def _line(line_kind: str, speech: str) -> Line:
    if line_kind == "bluetooth":
        from witnessmark_simulators.bluetooth.line import BluetoothLine
        from witnessmark_simulators.bluetooth.meters import Speech, simulated_meter

        return BluetoothLine(simulated_meter(Speech(speech)))
    if line_kind == "modbus":
        from witnessmark_simulators.modbus_line import ModbusLine

        return ModbusLine()
    from witnessmark_simulators.serial_line import SerialLine
    from witnessmark_simulators.tcp import TcpLine

    return SerialLine() if line_kind == "serial" else TcpLine()


def _sent(answer: Answer, line_kind: str, speech: str) -> list[bytes]:
    """Return what goes down the line for an answer."""
    if line_kind == "modbus":
        from witnessmark_simulators.modbus_line import registers

        return [registers(answer)]
    if line_kind != "bluetooth" and speech == "text":
        return [answer.raw]
    from witnessmark_simulators.bluetooth.meters import Speech, packets

    return packets(Speech(speech), answer)


def _told(kind: ShotKind | None, held_mm: Press, answer: Answer) -> str:
    sent = ascii(answer.raw.decode("latin-1").rstrip("\r\n"))[1:-1]
    place = f"{kind.cabinet} {kind.point} to the {kind.to} wall" if kind else place_words(held_mm)
    return f"{place}: {sent}"
