"""``witnessmark simulate`` in a process of its own, and somebody at its keyboard."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from collections.abc import Iterator

_RUN = "from witnessmark.cli.simulate import simulate_command; simulate_command()"


@contextlib.contextmanager
def simulating(*arguments: str) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-c", _RUN, *arguments]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            yield process
        finally:
            process.terminate()


def type_in(process: subprocess.Popen[str], text: str) -> None:
    assert process.stdin is not None
    process.stdin.write(text)
    process.stdin.flush()


def printed(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    return process.stdout.readline().strip()
