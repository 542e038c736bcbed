"""Another copy of the program, in a process of its own, which can be killed."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

COPY = Path(__file__).with_name("second_copy.py")


class Copy(NamedTuple):
    """Another copy of the program, and what it said of the round that it took."""

    process: subprocess.Popen[str]
    round_id: int
    resumed: bool
    is_elsewhere: bool

    def read(self, distance_mm: float) -> None:
        """Journal a reading and wait until it is on disk."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print(distance_mm, file=self.process.stdin, flush=True)
        assert self.process.stdout.readline().strip().isdigit()


@contextmanager
def started(store_file: Path, now: datetime) -> Iterator[subprocess.Popen[str]]:
    with subprocess.Popen(
        [sys.executable, COPY, store_file, now.isoformat()],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def told(process: subprocess.Popen[str]) -> Copy:
    assert process.stdout is not None
    round_id, resumed, is_elsewhere = process.stdout.readline().split()
    return Copy(process, int(round_id), resumed == "True", is_elsewhere == "True")
