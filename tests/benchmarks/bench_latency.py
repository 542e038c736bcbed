"""From a line on the serial port to its digits on the terminal, against the smallest such app.

    python tests/benchmarks/bench_latency.py [READINGS]

Both programs run on terminals of their own and read serial ports of their own, a block of readings
each in turn, at 10 and 50 readings a second. Ours commits each reading to disk before it paints the
digits, then adjusts and repaints the live screen. Aim: median and 99th percentile within 1.5x. Told
as well: how long after the line the guidance that follows from it is on the terminal (aim: 20 ms).
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from saved_setup import save_setup
from terminal import Terminal

from witnessmark_simulators.serial_line import SerialLine

HERE = Path(__file__).parent
BLOCK = 20
DIGITS, QUESTION = "{:.1f} mm", "read {:.0f} mm,"


def latencies_ms(
    terminal: Terminal, line: SerialLine, per_second: int, block: Iterable[float], awaited: str
) -> list[float]:
    """Milliseconds from each line's sending until ``awaited``, a format, is on the terminal."""
    spent = []
    for mm in block:
        sent = time.perf_counter()
        line.send(f"{mm / 1000:.4f} m\r\n".encode())
        spent.append((terminal.wait_for(awaited.format(mm).encode()) - sent) * 1e3)
        time.sleep(max(0.0, sent + 1 / per_second - time.perf_counter()))
    return spent


def main(readings: int) -> None:
    """Print percentiles of both and their ratios, and those of the guidance."""
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as folder, SerialLine() as line, SerialLine() as other:
        store = Path(folder) / "store.sqlite3"
        os.environ |= {"WITNESSMARK_STORE": str(store), "TERM": "xterm-256color"}
        save_setup(store, line.address)
        with (
            Terminal(["-m", "witnessmark"]) as ours,
            Terminal([str(HERE / "serial_app.py"), other.port]) as smallest,
        ):
            ours.wait_for(b"is open")
            smallest.wait_for(b"number 0")
            time.sleep(1.0)
            # readings that fit neither the round nor each other are questioned in words
            odd = [4000.0 + 100 * number for number in range(BLOCK)]
            latencies_ms(ours, line, 1, [3900.0], DIGITS)  # of the first nothing is expected
            follows = latencies_ms(ours, line, 10, odd, QUESTION)
            latencies_ms(smallest, other, 10, odd, DIGITS)
            for per_second in (10, 50):
                mine, least = [], []
                for _ in range(max(1, readings // BLOCK)):
                    block = rng.choice(np.arange(1100.0, 1500.0, 0.1), BLOCK, replace=False)
                    mine += latencies_ms(ours, line, per_second, block, DIGITS)
                    least += latencies_ms(smallest, other, per_second, block, DIGITS)
                for name, share in (("p50", 50), ("p99", 99)):
                    a, b = np.percentile(mine, share), np.percentile(least, share)
                    print(f"{per_second:3}/s {name}  {a:6.2f} ms / {b:6.2f} ms = {a / b:.2f}x")
            p50, most = np.median(follows), max(follows)
            print(f"guidance on the terminal after {p50:.2f} ms, at most {most:.2f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
