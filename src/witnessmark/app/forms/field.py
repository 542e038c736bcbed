"""A labelled one-line input that says right under itself what is wrong or worth knowing."""

from __future__ import annotations

import abc
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Generic, Self, TypeVar

from textual import on
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import BadInput
from witnessmark.model.limits import LONGEST_TEXT

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.dom import DOMNode

T = TypeVar("T")

BETWEEN_ROWS: tuple[BindingType, ...] = (
    Binding("up", "app.focus_previous", show=False, id="row.before"),
    Binding("down", "app.focus_next", show=False, id="row.after"),
)
"""Keys that go from a row of a form to its neighbours, whatever kind of row has the cursor."""


def fields_in(node: DOMNode) -> list[Field[Any]]:
    """Return all fields below a node, in their order."""
    return [widget for widget in node.query("Field") if isinstance(widget, Field)]


class Field(Widget, Generic[T]):
    """Reads its text again at every key, and posts ``Changed`` when the value is another.

    ``value`` is what was read, None while the text is empty or wrong; ``problem`` says what is
    wrong, ``note`` what is worth knowing about a text that is right. A value that was given and
    whose text nobody touched stays exactly as it was given, however few digits are shown of it.
    """

    DEFAULT_CSS = """
    Field {
        height: auto;
        layout: grid;
        grid-size: 2;
        grid-columns: 18 1fr;
        grid-rows: auto;
        .field--label { padding: 0 1 0 0; }
        .field--under {
            column-span: 2;
            padding: 0 0 0 2;
            display: none;
            color: $text-muted;
            &.-shown { display: block; }
            &.-problem { color: $text-error; text-style: bold; }
            &.-note { color: $text-warning; }
        }
        Input { background: $surface; height: 1; padding: 0; border: none !important; }
        Input:focus { background: $boost; }
    }
    """

    BINDINGS: ClassVar[list[BindingType]] = [*BETWEEN_ROWS]

    longest: ClassVar[int] = LONGEST_TEXT
    """Signs that its text may have; longer ones would be refused when they are imported again."""

    @dataclass
    class Changed(Message):
        """The field holds another value, or none any more."""

        field: Field[Any]

        @property
        def control(self) -> Field[Any]:
            return self.field

    empty_problem: ClassVar[str] = "needed"

    def __init__(
        self,
        label: str,
        value: T | None = None,
        *,
        hint: str = "",
        optional: bool = False,
        id: str | None = None,
    ) -> None:
        """``hint`` is shown under the field while the person is in it and nothing is wrong."""
        super().__init__(id=id)
        self.label, self.hint, self.optional = label, hint, optional
        self.problem: str | None = None
        self.note: str | None = None
        self.value: T | None = None
        self._given: tuple[str, T] | None = None
        self._text = self._accept(value)

    @abc.abstractmethod
    def read(self, text: str) -> tuple[T, str | None]:
        """Return the value of a text, and a note on it, if any.

        Raises:
            BadInput: when the text cannot be read.
        """

    @abc.abstractmethod
    def write(self, value: T) -> str:
        """Return the text of a value."""

    def meant(self, text: str) -> str | None:
        """Return what a text that is asked back was likely meant to be."""
        return None

    def is_corrected(self, event: Input.Submitted) -> bool:
        """Return whether Enter put in place of the text what it was meant to be."""
        meant = self.meant(event.value.strip()) if self.problem else None
        if meant is not None:
            event.input.value = meant
        return meant is not None

    @property
    def in_words(self) -> str:
        """The value as it is shown; empty where there is none."""
        return "" if self.value is None else self.write(self.value)

    @property
    def is_settled(self) -> bool:
        """Whether the field holds a value, or is optional and empty."""
        return self.problem is None and (self.value is not None or self.optional)

    @property
    def is_shown(self) -> bool:
        """Whether neither the field nor what holds it is put away."""
        return all(node.display for node in self.ancestors_with_self)

    def compose(self) -> ComposeResult:
        yield Plain(self.label, classes="field--label")
        yield Input(self._text, placeholder="optional" if self.optional else "needed")
        yield Plain(classes="field--under")  # for it repeats what was typed

    def put(self, value: T | None) -> None:
        """Show a value without posting ``Changed``."""
        with self.prevent(Input.Changed):
            text = self._accept(value)
            self.query_one(Input).value = text
        self._show_under()

    def ask_for(self, label: str, hint: str) -> None:
        """Ask for something else from now on."""
        if (label, hint) == (self.label, self.hint):
            return
        self.label, self.hint = label, hint
        self.query_one(".field--label", Static).update(label)
        self._show_under()

    def focus(self, scroll_visible: bool = True) -> Self:
        """Put the cursor into it."""
        self.query_one(Input).focus(scroll_visible)
        return self

    def complain(self) -> None:
        """Say that the field is needed, where it is empty when somebody goes on."""
        if not self.is_settled and self.problem is None:
            self.problem = self.empty_problem
        self._show_under()

    def _accept(self, value: T | None) -> str:
        self.value, self.problem, self.note = value, None, None
        if value is None:
            self._given = None
            return ""
        text = self.write(value)
        self._given = (text, value)
        return text

    @on(Input.Changed)
    def _read_text(self, event: Input.Changed) -> None:
        event.stop()
        before = (self.value, self.problem)
        self.value, self.note, self.problem = self._reading(event.value.strip())
        self._show_under()
        if before != (self.value, self.problem):
            self.post_message(self.Changed(self))

    def _reading(self, text: str) -> tuple[T | None, str | None, str | None]:
        """Return value, note and problem of a text."""
        if not text:
            return None, None, None
        if self._given is not None and self._given[0] == text:
            return self._given[1], None, None
        if len(text) > self.longest:
            return None, None, f"these are {len(text)} signs; write at most {self.longest}"
        try:
            return *self.read(text), None
        except BadInput as error:
            return None, None, str(error)

    @on(Input.Submitted)
    def _go_on(self, event: Input.Submitted) -> None:
        event.stop()
        if not self.is_corrected(event):
            self.screen.focus_next()

    def on_mount(self) -> None:
        self._show_under()

    def on_descendant_focus(self) -> None:
        self._show_under()

    def on_descendant_blur(self) -> None:
        self._show_under()

    def _show_under(self) -> None:
        text, kind = "", ""
        if self.problem:
            text, kind = f"✗ {self.problem}", "-problem"
        elif self.note:
            text, kind = f"! {self.note}", "-note"
        elif self.has_focus_within:
            text = self.hint
        under = self.query_one(".field--under", Static)
        if under.content == text:
            return
        under.update(text)
        under.set_class(bool(text), "-shown")
        under.set_class(kind == "-problem", "-problem")
        under.set_class(kind == "-note", "-note")
