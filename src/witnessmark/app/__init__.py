"""The terminal app; nothing of Textual is imported until the app is made."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.app.app import Rehearsal, WitnessmarkApp
    from witnessmark.session.meter import OpenDriver
    from witnessmark.session.workspace import Workspace
    from witnessmark.store.store import Store

__all__ = ["make_app", "run_app"]


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
        BadInput: when the environment asks for a canvas that there is not.
    """
    from witnessmark.store.store import Store  # noqa: PLC0415

    make_app(Store.open(store_path), phone=phone).run()
