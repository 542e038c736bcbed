"""The terminal app; nothing of Textual is imported until the app is made."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import os
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, cast

from witnessmark.ending import BY_SIGNAL, at_the_last, left_words, say
from witnessmark.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import TextIO

    from witnessmark.app.app import Rehearsal, WitnessmarkApp
    from witnessmark.session.meter import OpenDriver
    from witnessmark.session.session import Session
    from witnessmark.session.workspace import Workspace
    from witnessmark.store.store import Store

__all__ = ["check_terminal", "make_app", "run_app", "run_to_its_end", "uncollected"]

_LEFT = (
    "".join(f"\x1b[?{mode}l" for mode in (2004, 2048, 1000, 1002, 1003, 1006, 1015, 1016, 1004))
    + "\x1b[<u\x1b[?7h\x1b[?1049l\x1b[?25h"
)
"""Ends what an app asks of a terminal: pasted text, sizes, mouse, focus, keys, its other screen."""


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
    # Textual paints at the next of so many moments a second: digits wait for no more than two
    os.environ.setdefault("TEXTUAL_FPS", "1000")
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
    check_terminal()
    with uncollected():
        from witnessmark.store.store import Store  # noqa: PLC0415

        run_to_its_end(make_app(Store.open(store_path), phone=phone))


@contextlib.contextmanager
def uncollected() -> Iterator[None]:
    """Look for no garbage until the first paint of an app that is run in here.

    What a start loads is none, and looking it through again and again takes a sixth of the start.
    """
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


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

    Then too all that was entered is saved, the meter is let go of and the terminal is as before,
    whatever the meter's driver does; what that left behind is told.

    Raises:
        SystemExit: when the system ended it, with 128 and the number of the signal.
    """
    from witnessmark.meters.running import run  # noqa: PLC0415

    told: list[str] = []
    with (
        painting_on_what_may_go(),
        at_the_last(partial(_save_and_close, app.session)),
        at_the_last(_terminal_as_it_is()),
    ):
        run(
            app.run_async(),
            lambda failed: told.append(str(failed)),
            leave=lambda number: app.leave(BY_SIGNAL + number),
        )
    say((*left_words(), *told))
    if app.return_code:
        raise SystemExit(app.return_code)


class _MayBeGone:
    """A terminal whose window may be closed: what is painted then goes nowhere, without an error.

    An error would end the thread that paints for Textual, which waits for that thread for ever.
    """

    def __init__(self, terminal: TextIO) -> None:
        self._terminal = terminal

    def __getattr__(self, name: str) -> object:
        return getattr(self._terminal, name)

    def write(self, text: str) -> int:
        with contextlib.suppress(OSError):
            self._terminal.write(text)
        return len(text)

    def flush(self) -> None:
        with contextlib.suppress(OSError):
            self._terminal.flush()


@contextlib.contextmanager
def painting_on_what_may_go() -> Iterator[None]:
    """While this is entered, Textual paints on a terminal that is let go without an error."""
    terminal = sys.__stderr__
    if terminal is not None:
        sys.__stderr__ = cast("TextIO", _MayBeGone(terminal))  # type: ignore[misc, assignment]
    try:
        yield
    finally:
        sys.__stderr__ = terminal  # type: ignore[misc]


def _save_and_close(session: Session) -> None:
    asyncio.run(session.save())
    session.journal.close()


def _terminal_as_it_is() -> Callable[[], None]:
    """Return what puts the terminal back to how it is now, while the app itself is blocked."""
    try:
        import termios  # noqa: PLC0415 - not on Windows

        keyboard = sys.__stdin__.fileno() if sys.__stdin__ else -1
        settings = termios.tcgetattr(keyboard)
    except (ImportError, OSError, ValueError, termios.error):
        return lambda: None

    def put_back() -> None:
        os.write(2, _LEFT.encode())
        termios.tcsetattr(keyboard, termios.TCSANOW, settings)

    return put_back
