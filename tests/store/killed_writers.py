"""Started by the tests (POSIX): forks writers in turn, each killed at a moment of its own.

All that a writer needs is loaded before it is forked, so that hundreds of kills take seconds and
fall on the writing. Each commit is reported as a line ``writer table id number``; the number is
nowhere else in the store.
"""

from __future__ import annotations

import gc
import os
import select
import signal
import sys
import tempfile
import time
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import msgspec

from witnessmark.model import (
    Cabinet,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Reading,
    Room,
    Seat,
    Setup,
    Trial,
    Varied,
)
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)
LONGEST_S = 0.003
GOLDEN = (5**0.5 - 1) / 2
"""Multiples of it, whole numbers taken off, spread evenly however many there are."""
PLACED = Pair(Placement(1450.4, 1899.7, 8.04), Placement(1449.8, 1901.0, 7.9))
POSES = Poses(PLACED, ((0.0,) * 6,) * 6)
SETUP = Setup(
    room=Room.rectangular(5360, 7240),
    cabinets=Pair(Cabinet(262, 391), Cabinet(262, 391)),
    seat=Seat(4400, 2680),
)


def write(path: Path, writer: int, to: int, turns: int = 1_000_000) -> None:
    """Save setups, begin rounds, append readings, keep trials and marks, again and again."""
    numbers = count(writer * 100_000)

    def report(table: str, id_: int, number: int) -> None:
        os.write(to, f"{writer} {table} {id_} {number}\n".encode())

    with Store.open(path) as store:
        for _ in range(turns):
            number = next(numbers)
            warmer = msgspec.structs.replace(SETUP, temperature_c=float(number))
            setup_id = store.save_setup("Attic", warmer, AT)
            report("setup", setup_id, number)
            round_id = store.start_round(setup_id, AT)
            for _ in range(6):
                number = next(numbers)
                entry = Reading(float(number), AT, "sim:", b"1.5 m")
                report("journal", store.append(round_id, entry), number)
            number = next(numbers)
            heard = Trial(AT, Varied.STATION, PLACED, Impression(words=str(number)))
            report("trial", store.keep("Attic", round_id, heard).id, number)
            number = next(numbers)
            mark = Mark(AT, str(number), warmer, POSES, ())
            report("mark", store.keep("Attic", round_id, mark).id, number)


def killed_writer(path: Path, writer: int, after: int, after_s: float) -> bytes:
    """All that a writer reported until it was killed, so long after so many reports."""
    read_end, write_end = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(read_end)
        try:
            write(path, writer, write_end)
        finally:
            os._exit(1)
    os.close(write_end)
    told = b""
    while told.count(b"\n") < after:
        told += os.read(read_end, 65536) or sys.exit("a writer ended by itself")
    deadline = time.monotonic() + after_s
    while (left := deadline - time.monotonic()) > 0:
        if select.select([read_end], [], [], left)[0]:
            told += os.read(read_end, 65536)
    os.kill(process, signal.SIGKILL)
    os.waitpid(process, 0)
    while rest := os.read(read_end, 65536):
        told += rest
    os.close(read_end)
    # a report that was under way may be cut short
    return told[: told.rfind(b"\n") + 1]


def main(most: str, *paths: str) -> None:
    """Kill a writer on each of the stores in turn, each after ``most`` reports at the latest."""
    with tempfile.TemporaryDirectory() as folder:
        null = os.open(os.devnull, os.O_WRONLY)
        write(Path(folder) / "store.sqlite3", 0, null, turns=1)
        os.close(null)
    gc.freeze()  # or each writer would copy what a collection touches
    for writer, path in enumerate(paths):
        # every number of reports in turn, and then moments spread evenly whatever the number is
        after, after_s = writer % (int(most) + 1), LONGEST_S * (writer * GOLDEN % 1.0)
        sys.stdout.buffer.write(killed_writer(Path(path), writer, after, after_s))


if __name__ == "__main__":
    main(*sys.argv[1:])
