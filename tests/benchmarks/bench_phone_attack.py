"""From reading to screen while the page for phones is under attack, against a quiet page.

    python tests/benchmarks/bench_phone_attack.py [READINGS]

The program runs on a terminal of its own and reads a serial port. Attackers are programs of their
own: with the address' token they ping, or send decisions about a state that has passed, as fast as
the line takes them; without it they hold thirty lines open in silence, or send headers without
end. Each attack is measured between two quiet turns:

* 90 % of the readings are on the screen within, to the same of the quiet turns   (aim: 2x)
* memory that the attack added to the program                                     (aim: 20 MB)
"""

from __future__ import annotations

import asyncio
import itertools
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from saved_setup import save_setup
from terminal import Terminal

from witnessmark_simulators.serial_line import SerialLine

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from visitor import HOST, Visitor

APP = [str(Path(__file__).with_name("phone_app.py"))]


async def pings(visitor: Visitor) -> None:
    """Ping as fast as the line takes it."""
    async with visitor.socket() as line:
        for number in itertools.count():
            await line.connection.ping(number.to_bytes(8))


async def stale_decisions(visitor: Visitor) -> None:
    """Decide about a state that has passed, again and again."""
    async with visitor.socket() as line:
        while True:
            await line.send("undo", 0)


async def idle_lines(visitor: Visitor) -> None:
    """Hold thirty lines open and say nothing."""
    while True:
        with suppress(OSError):
            lines = [await asyncio.open_connection(HOST, visitor.port) for _ in range(30)]
            await asyncio.gather(*(reader.read() for reader, _ in lines))
            for _, writer in lines:
                writer.close()


async def endless_headers(visitor: Visitor) -> None:
    """Begin thirty requests whose headers have no end."""

    async def one() -> None:
        while True:
            with suppress(OSError):
                _, writer = await asyncio.open_connection(HOST, visitor.port)
                writer.write(b"GET / HTTP/1.1\r\n")
                for number in itertools.count():
                    writer.write(f"X-{number}: {'y' * 4000}\r\n".encode())
                    await writer.drain()

    await asyncio.gather(*(one() for _ in range(30)))


ATTACKS: dict[str, Callable[[Visitor], Awaitable[None]]] = {
    "pings": pings,
    "stale decisions": stale_decisions,
    "idle lines": idle_lines,
    "endless headers": endless_headers,
}


async def attack(name: str, url: str) -> None:
    """Attack until killed; come back when thrown out."""
    while True:
        with suppress(Exception):
            await ATTACKS[name](Visitor(url))
        await asyncio.sleep(0.01)


@contextmanager
def attacked(name: str, url: str) -> Iterator[None]:
    """A program beside this one that attacks."""
    with subprocess.Popen([sys.executable, __file__, "attack", name, url]) as attacker:
        time.sleep(2.0)
        yield
        attacker.kill()


def painted_s(terminal: Terminal, line: SerialLine, numbers: Iterator[int], readings: int) -> float:
    """Seconds within which 90 % of the readings are on the screen."""
    spent = []
    for number in itertools.islice(numbers, readings):
        mm = 4060 + 20 * (number % 90)
        begun = time.perf_counter()
        line.send(f"{mm / 1000:.4f} m\r\n".encode())
        terminal.wait_for(f"read {mm} mm".encode(), within_s=60.0)
        spent.append(time.perf_counter() - begun)
        time.sleep(0.05)
    return statistics.quantiles(spent, n=10)[-1]


def main(readings: int) -> None:
    """Print ratio and memory of each attack."""
    numbers = itertools.count()
    with tempfile.TemporaryDirectory() as folder, SerialLine() as line:
        store = Path(folder) / "store.sqlite3"
        os.environ |= {"WITNESSMARK_STORE": str(store), "TERM": "xterm-256color"}
        save_setup(store, line.address)
        with Terminal(APP) as terminal:
            terminal.wait_for(b"is open")
            terminal.press(b"p")
            url = terminal.found(rb"http://[\w.:/-]+(?=[^\w.:/-])").decode()
            terminal.press(b"p")
            time.sleep(1.0)
            for mm in (4000, 4020):  # the same shot again is taken: what comes then is questioned
                line.send(f"{mm / 1000:.4f} m\r\n".encode())
                terminal.wait_for(f"{mm}.0 mm".encode())
            painted_s(terminal, line, numbers, 10)  # warms up
            for name in ATTACKS:
                quiet = [painted_s(terminal, line, numbers, readings)]
                before_kb = terminal.resident_kb
                with attacked(name, url):
                    under = painted_s(terminal, line, numbers, readings)
                    added_mb = (terminal.resident_kb - before_kb) / 1024
                quiet.append(painted_s(terminal, line, numbers, readings))
                ratio = under / statistics.mean(quiet)
                print(
                    f"{name}: {1000 * under:.0f} ms / quiet {1000 * statistics.mean(quiet):.0f} ms "
                    f"= {ratio:.2f}x (aim 2x), memory {added_mb:+.1f} MB (aim 20 MB)"
                )


if __name__ == "__main__":
    if sys.argv[1:2] == ["attack"]:
        asyncio.run(attack(*sys.argv[2:]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
