"""The system ends the app, or its window is closed: what was entered is kept, the terminal too."""

import contextlib
import os
import signal
import sys
from pathlib import Path

import pytest
from textual.app import ComposeResult
from textual.drivers._writer_thread import MAX_QUEUED_WRITES, WriterThread
from window import Window

from witnessmark.app import make_app, painting_on_what_may_go
from witnessmark.app.screens.room import RoomScreen
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store


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
        assert window.is_as_before
    else:
        os.close(window.end)
        assert window.exit_code() == 128 + signal.SIGHUP
    with Store.open(store_file) as store:
        (begun,) = Workspace.unfinished_in(store)
        assert begun == Workspace.saved_in(store)
    assert begun.draft.room is not None
    assert begun.draft.room.front_right == (5360, 0)


def test_painting_ends_although_the_window_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    end, terminal = os.openpty()
    with os.fdopen(terminal, "w") as painted:
        monkeypatch.setattr(sys, "__stderr__", painted)
        os.close(end)
        with painting_on_what_may_go():
            painter = WriterThread(sys.__stderr__)
            painter.start()
            for _ in range(2 * MAX_QUEUED_WRITES):
                painter.write("more than waits to be painted")
            painter.stop()
        with contextlib.suppress(OSError):
            painted.close()


async def test_an_end_amid_the_making_of_a_screen_is_no_crash(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    compose = RoomScreen.compose

    def composed(screen: RoomScreen) -> ComposeResult:
        screen.app.leave(143)
        return compose(screen)

    monkeypatch.setattr(RoomScreen, "compose", composed)
    app = make_app(Store.open(tmp_path / "store.sqlite3"))
    await app.run_async(headless=True)
    assert app._exception is None
    assert app.return_code == 143
