"""The smallest app that shows what comes from a serial line: no store, no arithmetic, one line."""

from __future__ import annotations

import sys
import threading

import serial
from textual.app import App, ComposeResult
from textual.widgets import Static


class SerialApp(App[None]):
    """Shows the last line that came."""

    def compose(self) -> ComposeResult:
        """The line."""
        yield Static("number 0", id="number")

    def on_mount(self) -> None:
        """Begin to read."""
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        with serial.Serial(sys.argv[1], 9600) as port:
            while line := port.readline():
                self.call_from_thread(self._show, line.decode().strip())

    def _show(self, line: str) -> None:
        millimetres = float(line.removesuffix(" m")) * 1000
        self.query_one("#number", Static).update(f"{millimetres:.1f} mm")


if __name__ == "__main__":
    SerialApp().run()
