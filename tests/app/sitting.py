"""A person at the app, for tests: presses keys, types, and reads the screen."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from at_rest import at_rest, until_in
from textual import events
from textual.pilot import Pilot
from textual.widgets import Input, Static

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field, fields_in
from witnessmark.app.steps import Place
from witnessmark.meters.address import Address
from witnessmark.meters.port import Driver
from witnessmark.store.records import SavedSetup
from witnessmark.store.store import Store
from witnessmark_drivers.serial_text import SerialText

_KEY_NAMES = {
    " ": "space",
    ".": "full_stop",
    ",": "comma",
    "-": "minus",
    "/": "slash",
    "'": "apostrophe",
    '"': "quotation_mark",
    ":": "colon",
}


class Sitting:
    """The app in a terminal of its own."""

    def __init__(self, app: WitnessmarkApp, pilot: Pilot[None]) -> None:
        self.app = app
        self.pilot = pilot

    async def press(self, *keys: str) -> None:
        """Press keys one after another as fingers do, and let all that follows happen."""
        for key in keys:
            await self.app._press_keys([key])
            await at_rest(self.app)

    async def type(self, text: str) -> None:
        """Type a text key by key into the field that has the cursor."""
        await self.app._press_keys(_KEY_NAMES.get(sign, sign) for sign in text)
        await self.settle()

    async def fill(self, **texts: str) -> None:
        """Put texts into fields by their id, ``_`` standing for ``-``, as if pasted."""
        for name, text in texts.items():
            self.field(name.replace("_", "-")).query_one(Input).value = text
        await self.settle()

    async def type_fast(self, text: str) -> None:
        """Type a line as a meter does, 4 ms from key to key, and Enter where a line ends."""
        at_s = time.monotonic()
        for place, sign in enumerate(text):
            key = "enter" if sign == "\n" else _KEY_NAMES.get(sign, sign)
            event = events.Key(key, "\r" if sign == "\n" else sign)
            event.time = at_s + 0.004 * place
            self.app.post_message(event)
        await self.settle()

    async def settle(self) -> None:
        """Wait until the workers are done and every message has been handled.

        Those that listen to a meter go on as long as it does.
        """
        await at_rest(self.app)

    async def until(self, happened: Callable[[], object]) -> None:
        """Wait for something that a meter brings, and for all that follows."""
        await until_in(self.app, happened)
        await self.settle()

    def is_at(self, place: Place) -> bool:
        """Whether the screen of a place is shown."""
        return getattr(self.app.screen, "STEP", None) is place

    @property
    def text(self) -> str:
        """What is on the screen, without colour."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join(strip.text.rstrip() for strip in strips)

    @property
    def told(self) -> str:
        """What the form says about itself as a whole."""
        return str(self.app.screen.query_one("#told", Static).content)

    @property
    def notices(self) -> list[str]:
        """The notices that lie over the screen, and the one in its own place."""
        own = self.app.screen.query("#notice, #told").results(Static)
        toasts = [toast.message for toast in self.app._notifications]
        return [*toasts, *filter(None, (str(line.content) for line in own))]

    @property
    def cursor_in(self) -> str | None:
        """The id of the field or choice that has the cursor."""
        focused = self.app.focused
        if focused is None:
            return None
        holders = [node for node in focused.ancestors_with_self if isinstance(node, Field | Choice)]
        return holders[0].id if holders else focused.id

    def field(self, name: str) -> Field[Any]:
        """A field of the screen by its id."""
        return next(field for field in fields_in(self.app.screen) if field.id == name)

    def choice(self, name: str) -> Choice:
        """A choice of the screen by its id."""
        return self.app.screen.query_one(f"#{name}", Choice)

    async def choose(self, name: str, value: object) -> None:
        """Choose an option as a click on it does."""
        choice = self.choice(name)
        choice.action_choose([option for option, _ in choice.options].index(value))
        await self.settle()


def saved_in(store_file: Path) -> SavedSetup | None:
    """The setup that was saved last."""
    with Store.open(store_file) as store:
        return store.latest_setup()


def serial_driver(address: str) -> Driver:
    """The driver for a serial line."""
    return SerialText(Address.parse(address))
