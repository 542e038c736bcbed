"""Random and damaged files into every reader of files: no crash, no hang, and no wrong figure.

Run with ``python tests/benchmarks/fuzz_files.py [BYTES] [SEED] [NAME ...]``; ten million bytes for
each kind of file by default.

A sound file is drawn, in which every feature of its format stands at times, and then damaged: cut,
joined, doubled, its lines exchanged, pieces of it replaced by those of another file or by what is
meant to do harm. What is refused has to be refused in one sentence. Every figure that comes out has
to stand in the file, as the standard library reads it, within the limits of that figure.
"""

from __future__ import annotations

import contextlib
import faulthandler
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Final
from unittest.mock import patch

import msgspec
import numpy as np
from damaged_files import Fed, Once
from fuzzed_lessons import lessons
from fuzzed_profiles import profiles
from fuzzed_replays import replays
from fuzzed_rooms import rooms
from fuzzed_rounds import rounds
from numpy.random import Generator

HUNG_S: Final = 300.0
"""Time that no file may take, seconds; the script ends then and shows where it was."""


class Case(msgspec.Struct, frozen=True):
    """A kind of file, and what draws and judges one in a folder of its own."""

    name: str
    begin: Callable[[Path], Once]


CASES: Final = (
    Case("round files", rounds),
    Case("profiles", profiles),
    Case("replayed readings", replays),
    Case("imported rooms", rooms),
    Case("lessons", lessons),
)


def fuzz(
    case: Case,
    rng: Generator,
    count: int,
    each: Callable[[], AbstractContextManager[None]] = contextlib.nullcontext,
) -> Fed:
    """Feed about ``count`` bytes, each file within ``each``; what was fed, and what came.

    Raises:
        AssertionError: when a figure is not right, or a refusal no sentence.
    """
    total = Fed()
    with (
        tempfile.TemporaryDirectory() as folder,
        patch.dict(os.environ, {"WITNESSMARK_PROFILES": folder}),
    ):
        once = case.begin(Path(folder))
        while total.count < count:
            with each():
                fed = once(rng)
            total.count += fed.count
            total.figures += fed.figures
            total.misled += fed.misled
    return total


class Slowest:
    """The longest time that one file took, seconds of this process."""

    def __init__(self) -> None:
        self.seconds = 0.0

    @contextlib.contextmanager
    def measured(self) -> Iterator[None]:
        """Take the time; one that hangs ends the program."""
        faulthandler.dump_traceback_later(HUNG_S, exit=True)
        begin = time.process_time()
        yield
        self.seconds = max(self.seconds, time.process_time() - begin)
        faulthandler.cancel_dump_traceback_later()


def main() -> None:
    """Fuzz all kinds of files and print how much each took."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000_000
    rng = np.random.default_rng(int(sys.argv[2]) if len(sys.argv) > 2 else 7)
    names = sys.argv[3:]
    for case in CASES:
        if names and case.name not in names:
            continue
        slowest, begin = Slowest(), time.perf_counter()
        fed = fuzz(case, rng, count, slowest.measured)
        spent = time.perf_counter() - begin
        megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{case.name:<18} {fed.count:>10} bytes, {fed.figures:>8} right figures, "
            f"{fed.misled} misled, {spent:.0f} s ({fed.count / spent / 1000:.1f} kB/s), "
            f"the slowest file {slowest.seconds:.2f} s, memory at most {megabytes:.0f} MB"
        )


if __name__ == "__main__":
    main()
