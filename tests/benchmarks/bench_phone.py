"""The page for a phone against the terminal, in a real browser on loopback, in one run.

    python tests/benchmarks/bench_phone.py [READINGS, at most 90]

The program runs on a terminal of its own, reads a serial port, and shows a browser the same round.

* from the address to the page with its first state                      (aim: 0.5 s)
* from a line on the serial port to what follows from it, on the page and on the terminal
                                                                  (aim: 1.5x, and 100 ms)
* memory that the server and a phone add to the program                  (aim: 5 MB)
"""

from __future__ import annotations

import asyncio
import os
import re
import statistics
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

from saved_setup import save_setup
from terminal import Terminal

from witnessmark_simulators.serial_line import SerialLine

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from browser import Phone

APP = [str(Path(__file__).with_name("phone_app.py"))]
LOADS = 7
_NOTE = """
window.shown = {};
const sentence = document.getElementById("sentence");
new MutationObserver(() => {
  shown[sentence.textContent] ??= performance.timeOrigin + performance.now();
}).observe(sentence, { childList: true, characterData: true, subtree: true });
"""


async def first_shown_s(phone: Phone, url: str) -> float:
    """Seconds from the address to a page that shows a state."""
    begun = time.perf_counter()
    await phone.open(url)
    return time.perf_counter() - begun


async def compare(phone: Phone, terminal: Terminal, line: SerialLine, readings: int) -> None:
    """Send readings that are questioned in words of their own, and wait for those on both."""
    await phone.run(_NOTE)
    painted, shown, sent = {}, {}, {}
    for mm in (4000, 4020):  # the same shot again is taken: what comes then is questioned
        line.send(f"{mm / 1000:.4f} m\r\n".encode())
        terminal.wait_for(f"{mm}.0 mm".encode())
    for number in range(readings):
        mm = 4060 + 20 * (number % 90)
        sent[mm] = time.time()
        line.send(f"{mm / 1000:.4f} m\r\n".encode())
        terminal.wait_for(f"read {mm} mm".encode())
        painted[mm] = (time.time() - sent[mm]) * 1e3
        await asyncio.sleep(0.1)
    seen = await phone.run("return shown")
    assert isinstance(seen, dict)
    for words, at_ms in seen.items():
        if read := re.search(r"read (\d+) mm", words):
            mm = int(read[1])
            shown[mm] = at_ms - sent[mm] * 1e3
    ratio = statistics.median(shown[mm] / painted[mm] for mm in shown)
    page, screen = statistics.median(shown.values()), statistics.median(painted.values())
    print(f"page {page:.1f} ms / terminal {screen:.1f} ms = {ratio:.2f}x   (aim 1.5x)")
    print(f"page at most {max(shown.values()):.1f} ms, {len(shown)} of {readings}   (aim 100 ms)")


async def main(readings: int) -> None:
    """Print the three figures."""
    with tempfile.TemporaryDirectory() as folder, SerialLine() as line:
        store = Path(folder) / "store.sqlite3"
        os.environ |= {"WITNESSMARK_STORE": str(store), "TERM": "xterm-256color"}
        save_setup(store, line.address)
        with Terminal(APP) as terminal, closing(Phone(Path(folder) / "profile")) as phone:
            terminal.wait_for(b"is open")
            await asyncio.sleep(1.0)
            before_kb = terminal.resident_kb
            terminal.press(b"p")
            url = terminal.found(rb"http://[\w.:/-]+(?=[^\w.:/-])").decode()
            terminal.press(b"p")
            loads = [await first_shown_s(phone, url) for _ in range(LOADS)]
            added_mb = (terminal.resident_kb - before_kb) / 1024
            first, later = loads[0], statistics.median(loads[1:])
            print(f"page first shown after {first:.2f} s, again after {later:.2f} s   (aim 0.5 s)")
            print(f"memory added {added_mb:.1f} MB   (aim 5 MB)")
            await compare(phone, terminal, line, readings)


if __name__ == "__main__":
    asyncio.run(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100))
