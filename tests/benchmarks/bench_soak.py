"""A long evening with a streaming meter, a phone, looks at the history and kills: what is lost.

    python tests/benchmarks/bench_soak.py [MINUTES]

The program runs on a terminal of its own. A meter sends twenty readings a second, each of another
length. A phone looks on, the history is opened every minute, and every five minutes the program is
killed and started again. Printed at the end: readings that are missing between the first and the
last of each start, readings that are there twice or in another order, and the memory that the
program held a minute after each start and before its end.
"""

from __future__ import annotations

import asyncio
import itertools
import os
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from saved_setup import save_setup
from terminal import Terminal
from websockets.exceptions import ConnectionClosed

from witnessmark.model import Reading
from witnessmark.store.history import history
from witnessmark.store.store import Store
from witnessmark_simulators.serial_line import SerialLine

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from visitor import Line, Visitor

APP = [str(Path(__file__).with_name("phone_app.py"))]
PER_S = 20
LIFE_MINUTES = 5
MINUTE_S = 60.0
FULL_BYTES = 4000


def length_mm(number: int) -> float:
    """The length of a reading by its number."""
    return 1000 + number / 10


@contextmanager
def streaming(line: SerialLine) -> Iterator[tuple[list[int], set[int]]]:
    """A meter that sends all the time: how many it has sent, and which found the line full.

    Those are lost to any program: while nobody reads, a line holds a few hundred readings.
    """
    sent, overflowed, ended = [-1], set[int](), threading.Event()

    def stream() -> None:
        for number in itertools.count():
            if ended.wait(1 / PER_S):
                return
            if line.unread > FULL_BYTES:
                overflowed.add(number)
            line.send(f"{length_mm(number) / 1000:.4f} m\r\n".encode())
            sent[0] = number

    thread = threading.Thread(target=stream)
    thread.start()
    yield sent, overflowed
    ended.set()
    thread.join()


@contextmanager
def looking_on(url: str) -> Iterator[list[int]]:
    """A phone with the page open; the list holds how many states it was told."""
    told, ended = [0], threading.Event()

    async def look() -> None:
        # the program is killed with the line open
        with suppress(ConnectionClosed):
            async with Visitor(url).socket() as phone:
                await be_told(phone)

    async def be_told(phone: Line) -> None:
        while not ended.is_set():
            with suppress(TimeoutError):
                await asyncio.wait_for(phone.told(), 0.5)
                told[0] += 1

    thread = threading.Thread(target=lambda: asyncio.run(look()))
    thread.start()
    yield told
    ended.set()
    thread.join()


def live(minutes: int) -> None:
    """Start the program, look at the history each minute, and kill it."""
    begun = time.monotonic()
    with Terminal(APP) as terminal:
        terminal.wait_for(b"is open")
        terminal.press(b"p")
        url = terminal.found(rb"http://[\w.:/-]+(?=[^\w.:/-])").decode()
        terminal.press(b"p")
        with looking_on(url) as told:
            for minute in range(1, minutes + 1):
                watch(terminal, begun + minute * MINUTE_S)
                if minute == 1:
                    first_mb = terminal.resident_kb / 1024
                asked = time.perf_counter()
                terminal.press(b"y")
                opened_s = terminal.wait_for(b"History") - asked
                terminal.press(b"\x1b")
            last_mb = terminal.resident_kb / 1024
        print(
            f"memory {first_mb:.1f} MB, then {last_mb:.1f} MB; history opened in {opened_s:.2f} s; "
            f"{told[0]} states to the phone",
            flush=True,
        )


def watch(terminal: Terminal, until: float) -> None:
    """Look at the screen until then."""
    while time.monotonic() < until:
        with suppress(TimeoutError):
            terminal.wait_for(b"nothing that is ever painted", within_s=1.0)
        terminal.forget()


def main(minutes: int) -> None:
    """Print what was lost, doubled and held."""
    with tempfile.TemporaryDirectory() as folder, SerialLine() as line:
        path = Path(folder) / "store.sqlite3"
        os.environ |= {"WITNESSMARK_STORE": str(path), "TERM": "xterm-256color"}
        save_setup(path, line.address)
        with streaming(line) as (sent, overflowed):
            lives = []
            for done in range(0, minutes, LIFE_MINUTES):
                lives.append(sent[0] + 1)  # what was sent before may be kept by the one before
                live(min(LIFE_MINUTES, minutes - done))
        with Store.open(path) as store:
            found = [
                round((item.record.distance_mm - length_mm(0)) * 10)
                for item in history(store)
                if isinstance(item.record, Reading)
            ]
        lost = 0
        for begin, end in itertools.pairwise([*lives, sent[0] + 1]):
            of_life = [number for number in found if begin <= number < end]
            lost += len({*range(of_life[0], of_life[-1])} - set(of_life) - overflowed)
        doubled = len(found) - len(set(found))
        swapped = sum(later < former for former, later in itertools.pairwise(found))
        print(
            f"{minutes} minutes, {len(lives)} starts, {sent[0] + 1} sent, {len(found)} kept: "
            f"{lost} lost, {doubled} doubled, {swapped} out of order; "
            f"{len(overflowed)} came while the program was started and the line was full"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
