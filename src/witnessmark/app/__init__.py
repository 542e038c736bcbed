"""The terminal app; nothing of Textual is imported until the app is made."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.errors import BadInput

if TYPE_CHECKING:
    from witnessmark.app.app import Rehearsal, WitnessmarkApp
    from witnessmark.session.meter import OpenDriver
    from witnessmark.session.workspace import Workspace
    from witnessmark.store.store import Store

__all__ = ["check_terminal", "make_app", "run_app", "run_to_its_end"]

_ENDINGS = [
    signal.Signals[name] for name in ("SIGTERM", "SIGHUP") if name in signal.Signals.__members__
]
_BY_SIGNAL = 128
"""A program that a signal ended exits with this and the signal's number (POSIX shells)."""


def make_app(
    store: Store,
    workspace: Workspace | None = None,
    *,
    open_driver: OpenDriver | None = None,
    rehearsal: Rehearsal | None = None,
    phone: bool = False,
) -> WitnessmarkApp:
    """The app on an open store, which it owns and closes from here on.

    It begins with ``workspace``; without one, with the setup that was saved last, if there is any.
    ``open_driver`` and ``rehearsal`` take the place of meter and hands, as in the demo. With
    ``phone`` the page for a phone is there from the start.

    Raises:
        StoreError: when the store cannot be read.
        BadInput: when the environment asks for a canvas that there is not.
    """
    # Textual's frames: the digits of a reading would wait for the next of only 60 a second
    os.environ.setdefault("TEXTUAL_FPS", "250")
    from witnessmark.app.app import WitnessmarkApp  # noqa: PLC0415
    from witnessmark.drawing.canvas import canvas_for  # noqa: PLC0415
    from witnessmark.session.workspace import Workspace  # noqa: PLC0415

    return WitnessmarkApp(
        store,
        workspace or Workspace.saved_in(store),
        open_driver=open_driver,
        rehearsal=rehearsal,
        phone=phone,
        canvas=canvas_for(os.environ, getattr(sys.__stderr__, "encoding", "")),
    )


def run_app(store_path: Path | None = None, *, phone: bool = False) -> None:
    """Run the app until the person leaves it, with the page for a phone if so.

    Raises:
        StoreError: when the store cannot be opened or read.
        BadInput: when there is no terminal, or the environment asks for a canvas that there is not.
    """
    from witnessmark.store.store import Store  # noqa: PLC0415

    check_terminal()
    run_to_its_end(make_app(Store.open(store_path), phone=phone))


def check_terminal() -> None:
    """Make sure that somebody can see the app and press keys.

    Raises:
        BadInput: when the program has no terminal.
    """
    # Textual paints on the standard error
    if not all(stream and stream.isatty() for stream in (sys.__stdin__, sys.__stderr__)):
        raise BadInput(
            "the app needs a terminal, with a keyboard; without one use its commands, as in "
            "witnessmark read or witnessmark solve"
        )


def run_to_its_end(app: WitnessmarkApp) -> None:
    """Run an app until the person leaves it, or the system ends it or closes its window.

    Then too all that was entered is saved, the meter is let go of and the terminal is as before.

    Raises:
        SystemExit: when the system ended it, with 128 and the number of the signal.
    """
    asyncio.run(_run(app))
    if app.return_code:
        raise SystemExit(app.return_code)


async def _run(app: WitnessmarkApp) -> None:
    loop = asyncio.get_running_loop()
    for number in _ENDINGS:
        # Windows has none of this, and closes its windows otherwise
        with contextlib.suppress(NotImplementedError):
            loop.add_signal_handler(number, partial(app.exit, return_code=_BY_SIGNAL + number))
    await app.run_async()
