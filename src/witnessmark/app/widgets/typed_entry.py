"""A line in which a distance is typed: from a tape, or by a meter that types like a keyboard."""

from __future__ import annotations

from dataclasses import dataclass

from textual import on
from textual.message import Message
from textual.widgets import Input

from witnessmark.errors import LengthError
from witnessmark.lengths import parse_length


class TypedEntry(Input):
    """Out of sight until a digit is typed; Enter hands the distance on, Escape gives it up."""

    DEFAULT_CSS = """
    TypedEntry { display: none; height: 1; border: none; background: $boost; }
    TypedEntry.-shown { display: block; }
    """

    @dataclass
    class Measured(Message):
        """A distance was typed, in the words in which it was typed; ``note`` is to be told."""

        distance_mm: float
        text: str
        note: str | None

    @dataclass
    class Refused(Message):
        """What was typed is not a length; ``why`` says so and what would be."""

        why: str

    def __init__(self) -> None:
        super().__init__(
            placeholder="2.435 m, 2435, 8' 3 1/2\" and Enter", compact=True, select_on_focus=False
        )

    def begin(self, character: str) -> None:
        """Come into sight with the first digit."""
        self.value = character
        self.add_class("-shown")
        self.focus(scroll_visible=False)
        self.cursor_position = len(character)

    def leave(self) -> None:
        """Go out of sight."""
        self.value = ""
        self.remove_class("-shown")
        self.screen.set_focus(None)

    @on(Input.Submitted)
    def _hand_on(self, event: Input.Submitted) -> None:
        event.stop()
        text = event.value.strip()
        try:
            length = parse_length(text)
        except LengthError as error:
            self.post_message(self.Refused(str(error)))
            return
        self.leave()
        self.post_message(self.Measured(length.mm, text, length.note))

    def key_escape(self) -> None:
        """Give it up."""
        self.leave()
