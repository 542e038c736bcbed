"""Distances from the keyboard: typed by a person, or by a meter that types like a keyboard."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.message import Message
from textual.widgets import Input

from witnessmark.errors import LengthError
from witnessmark.lengths import asked_back, meant_in_metres, parse_length
from witnessmark.session.by_keyboard import (
    ENTER,
    FAST_S,
    FromMeter,
    FromPerson,
    Garbled,
    Keystroke,
    Keystrokes,
    Typed,
)

if TYPE_CHECKING:
    from textual import events


class TypedEntry(Input):
    """Out of sight until a person types a digit; Enter hands the distance on, Escape gives it up.

    A bare number that is likely in metres is asked back: Enter once more takes it so.
    The screen lets it ``take`` every key, so that a meter's line is not taken for typing,
    nor its letters for commands.
    """

    DEFAULT_CSS = """
    TypedEntry { display: none; height: 1; padding: 0; border: none !important; }
    TypedEntry { background: $boost; }
    TypedEntry.-shown { display: block; }
    """

    @dataclass
    class Measured(Message):
        """A distance was typed, in the words in which it was typed; ``note`` is to be told."""

        distance_mm: float
        text: str
        note: str | None

    @dataclass
    class NotALength(Message):
        """What was typed is not a length; ``why`` says so and what would be."""

        why: str

    @dataclass
    class TypedLine(Message):
        """A meter typed a line, or keys that are none when ``whole`` is false."""

        text: str
        whole: bool

    @dataclass
    class Commanded(Message):
        """A person pressed a key that begins no distance."""

        key: str

    def __init__(self) -> None:
        super().__init__(placeholder="2.435 m, 2435, 8' 3 1/2\" and Enter", select_on_focus=False)
        self._keys = Keystrokes()

    @property
    def is_open(self) -> bool:
        """Whether a person has begun to type."""
        return self.has_class("-shown")

    async def take(self, event: events.Key) -> bool:
        """Take a key, and tell whether it was one to take."""
        if not (event.is_printable or event.key == ENTER):
            await self._carry_out(self._keys.pause(typing=self.is_open))
            return False
        stroke = Keystroke(event.key, event.character, event.time)
        await self._carry_out(self._keys.press(stroke, typing=self.is_open))
        if self._keys.waits_after(stroke):
            self.set_timer(FAST_S, partial(self._wait_out, stroke))
        return True

    def on_key(self, event: events.Key) -> None:
        """Leave what is to be taken to the screen, which lets it be taken."""
        if event.is_printable:
            event.prevent_default()

    def leave(self) -> None:
        """Go out of sight."""
        self.value = ""
        self.remove_class("-shown")
        self.screen.set_focus(None)

    def key_escape(self) -> None:
        """Give it up."""
        self.leave()

    def _wait_out(self, stroke: Keystroke) -> None:
        # behind the keys that are on their way already
        self.app.call_later(self.call_later, self._pause_after, stroke)

    async def _pause_after(self, stroke: Keystroke) -> None:
        if self._keys.waits_after(stroke):
            await self._carry_out(self._keys.pause(typing=self.is_open))

    async def _carry_out(self, settled: list[Typed]) -> None:
        for typed in settled:
            match typed:
                case FromMeter(text):
                    self.post_message(self.TypedLine(text, whole=True))
                case Garbled(text):
                    self.post_message(self.TypedLine(text, whole=False))
                case FromPerson(strokes):
                    for stroke in strokes:
                        await self._type(stroke)

    async def _type(self, stroke: Keystroke) -> None:
        if not self.is_open:
            if stroke.begins_distance:
                self.add_class("-shown")
                self.focus(scroll_visible=False)
            else:
                self.post_message(self.Commanded(stroke.key))
                return
        if stroke.key == ENTER:
            await self.action_submit()
        else:
            self.replace(stroke.character or "", *self.selection)

    @on(Input.Submitted)
    def _hand_on(self, event: Input.Submitted) -> None:
        event.stop()
        text = event.value.strip()
        if metres := meant_in_metres(text):
            self.value = metres
            self.post_message(self.NotALength(f"{asked_back(metres, text)}."))
            return
        try:
            length = parse_length(text)
        except LengthError as error:
            self.post_message(self.NotALength(str(error)))
            return
        self.leave()
        self.post_message(self.Measured(length.mm, text, length.note))
