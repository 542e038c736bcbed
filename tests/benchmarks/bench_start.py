"""Start, first paint and memory, each as a ratio to the smallest thing of its kind, in one run.

    python tests/benchmarks/bench_start.py [RUNS]

Whole processes, the two of a pair in turn, medians of the ratios:

* ``witnessmark layout`` against ``python -c "import numpy, click"``             (aim: 1.3)
* start of the app to its first text on a terminal, against the smallest app    (aim: 1.3)
* processor time until then, which a busy machine changes less, against the same (aim: 1.3)
* resident memory once the live screen shows its first prompt, against the same (aim: 1.5)
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from saved_setup import save_setup
from terminal import Terminal

HERE = Path(__file__).parent
LAYOUT = ["-m", "witnessmark", "layout", "--width", "5.36m", "--length", "7.24m"]
IMPORTS = ["-c", "import numpy, click"]
OURS = ["-m", "witnessmark"]
SMALLEST = [str(HERE / "smallest_app.py")]


def timed(arguments: list[str]) -> float:
    """Seconds of a whole Python process."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
    return time.perf_counter() - start


def painted(arguments: list[str], first: bytes, settled: bytes) -> tuple[float, float, int]:
    """Seconds until ``first`` is painted, how many were computed, and kB once ``settled`` is."""
    with Terminal(arguments) as terminal:
        seconds = terminal.wait_for(first) - terminal.started
        computed_s = terminal.computed_s
        terminal.wait_for(settled)
        return seconds, computed_s, terminal.resident_kb


def main(runs: int) -> None:
    """Print the four ratios."""
    layout, paint, computed, memory = [], [], [], []
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "store.sqlite3"
        os.environ |= {"WITNESSMARK_STORE": str(store), "TERM": "xterm-256color"}
        save_setup(store, "typed:")
        for run in range(runs + 1):
            ratio = timed(LAYOUT) / timed(IMPORTS)
            ours, ours_computed, ours_kb = painted(OURS, b"witnessmark", b"Left cabinet")
            smallest, its_computed, its_kb = painted(SMALLEST, b"number 0", b"number 0")
            if run:  # the first of each only warms the disk's cache
                layout.append(ratio)
                paint.append(ours / smallest)
                computed.append(ours_computed / its_computed)
                memory.append(ours_kb / its_kb)
    for name, ratios, aim in (
        ("witnessmark layout / import numpy, click", layout, 1.3),
        ("first paint / smallest app", paint, 1.3),
        ("processor time to first paint / smallest", computed, 1.3),
        ("resident memory / smallest app", memory, 1.5),
    ):
        print(f"{name:42} {statistics.median(ratios):5.2f}x  (aim {aim}x, {runs} runs)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
