"""The system ends the app, or its window is closed: what was entered is kept, the terminal too."""

import os
import pty
import select
import signal
import sys
import time
from pathlib import Path

import pytest

from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store

PATIENCE_S = 60.0
ALTERNATE_SCREEN, MOUSE = b"\x1b[?1049", b"\x1b[?1000"


class Window:
    """The app in a terminal of its own, on a store of its own."""

    def __init__(self, store_file: Path) -> None:
        self.painted = b""
        self.child, self.end = pty.fork()
        if self.child == 0:
            os.environ["WITNESSMARK_STORE"] = str(store_file)
            os.execv(sys.executable, [sys.executable, "-m", "witnessmark"])

    def wait_for(self, text: bytes) -> None:
        """Wait until it has painted something."""
        until = time.monotonic() + PATIENCE_S
        while text not in self.painted:
            if not self._read(until - time.monotonic()):
                raise TimeoutError(f"{text!r} was not painted: {self.painted[-2000:]!r}")

    def press(self, keys: bytes) -> None:
        """Press keys."""
        os.write(self.end, keys)

    def exit_code(self) -> int:
        """Wait for its end."""
        until = time.monotonic() + PATIENCE_S
        while True:
            pid, status = os.waitpid(self.child, os.WNOHANG)
            if pid:
                return os.waitstatus_to_exitcode(status)
            if time.monotonic() > until:
                os.kill(self.child, signal.SIGKILL)
                raise TimeoutError("it did not end")
            self._read(0.05)

    def _read(self, within_s: float) -> bool:
        try:
            if not select.select([self.end], [], [], max(within_s, 0.0))[0]:
                return False
            self.painted += os.read(self.end, 65536)
        except OSError:  # its end of the terminal is closed
            time.sleep(0.05)
            return False
        return True


@pytest.mark.parametrize("how", ["terminated", "window closed"])
def test_what_was_entered_outlives_an_end_from_outside(tmp_path: Path, how: str) -> None:
    store_file = tmp_path / "store.sqlite3"
    window = Window(store_file)
    window.wait_for(b"Width")
    steps = (b"5.36 m", "5.36 m"), (b"\t", "From the front wall"), (b"7.24 m", "⠉ front wall ⠉")
    for keys, follows in steps:
        window.press(keys)
        window.wait_for(follows.encode())
    if how == "terminated":
        os.kill(window.child, signal.SIGTERM)
        assert window.exit_code() == 128 + signal.SIGTERM
        for mode in (ALTERNATE_SCREEN, MOUSE):
            assert window.painted.rindex(mode + b"l") > window.painted.rindex(mode + b"h")
    else:
        os.close(window.end)
        window.exit_code()
    with Store.open(store_file) as store:
        (begun,) = Workspace.unfinished_in(store)
        assert begun == Workspace.saved_in(store)
    assert begun.draft.room is not None
    assert begun.draft.room.front_right == (5360, 0)
