"""From a line on the serial port to its digits on the terminal, against the smallest such app.

    python tests/benchmarks/bench_latency.py [READINGS]

Both programs run on terminals of their own and read serial ports of their own, in one run, at 10
and 50 readings a second. Ours commits each reading to disk, adjusts and repaints the whole live
screen. Aim: median and 99th percentile within 1.5x.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from saved_setup import save_setup
from terminal import Terminal

from witnessmark_simulators.serial_line import SerialLine

HERE = Path(__file__).parent


def latencies_ms(
    terminal: Terminal, line: SerialLine, per_second: int, readings: int
) -> list[float]:
    """Milliseconds from each line's sending to its digits' painting."""
    rng = np.random.default_rng(per_second)
    spent = []
    for _ in range(readings):
        tenths = int(rng.integers(11_000, 15_000))
        sent = time.perf_counter()
        line.send(f"{tenths / 10_000:.4f} m\r\n".encode())
        spent.append((terminal.wait_for(f"{tenths / 10:.1f} mm".encode()) - sent) * 1e3)
        time.sleep(max(0.0, sent + 1 / per_second - time.perf_counter()))
    return spent


def main(readings: int) -> None:
    """Print percentiles of both and their ratios."""
    with tempfile.TemporaryDirectory() as folder, SerialLine() as line, SerialLine() as other:
        store = Path(folder) / "store.sqlite3"
        os.environ |= {"WITNESSMARK_STORE": str(store), "TERM": "xterm-256color"}
        save_setup(store, line.address)
        with (
            Terminal(["-m", "witnessmark"]) as ours,
            Terminal([str(HERE / "serial_app.py"), other.port]) as smallest,
        ):
            ours.wait_for(b"connected")
            smallest.wait_for(b"number 0")
            time.sleep(1.0)
            for per_second in (10, 50):
                mine = latencies_ms(ours, line, per_second, readings)
                least = latencies_ms(smallest, other, per_second, readings)
                for name, share in (("p50", 0.5), ("p99", 0.99)):
                    a, b = (float(np.quantile(spent, share)) for spent in (mine, least))
                    print(f"{per_second:3}/s {name}  {a:6.2f} ms / {b:6.2f} ms = {a / b:.2f}x")
                print(
                    f"{per_second:3}/s mean ratio {statistics.mean(mine) / statistics.mean(least):.2f}x"
                )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
