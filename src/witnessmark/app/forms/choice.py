"""One of a few: a row of options, or the chosen one between arrows where the row is too narrow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, TypeVar, cast

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from witnessmark.app.forms.field import BETWEEN_ROWS
from witnessmark.app.widgets.bars import clickable

LABEL_WIDTH = 18


T = TypeVar("T")


class Choice(Widget, Generic[T], can_focus=True):
    """Chosen with the arrow keys or the mouse; the chosen option is filled, the others hollow."""

    DEFAULT_CSS = """
    Choice { height: auto; link-style: none; link-style-hover: underline; }
    Choice:focus { background: $boost; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "step(-1)", show=False, id="choice.before"),
        Binding(
            "right",
            "step(1)",
            "Choose",
            key_display="← →",
            id="choice.after",
            tooltip="The option before or after",
        ),
        Binding("space", "step(1)", show=False, id="choice.turn"),
        Binding("enter", "app.focus_next", show=False, id="choice.done"),
        *BETWEEN_ROWS,
    ]

    @dataclass
    class Changed(Message):
        """Another option was chosen by the person."""

        choice: Choice[Any]
        value: Any

        @property
        def control(self) -> Choice[Any]:
            return self.choice

    value: reactive[T] = reactive(cast("T", None))

    def __init__(
        self,
        label: str,
        options: Sequence[tuple[T, str]],
        value: T,
        *,
        hint: str = "",
        id: str | None = None,
    ) -> None:
        """``options`` are (value, words), ``value`` the one chosen at first.

        ``hint`` is shown underneath while the person is here.
        """
        super().__init__(id=id)
        self.label, self.hint = label, hint
        self.options = tuple(options)
        self.set_reactive(cast("Any", Choice).value, value)

    def offer(self, options: Sequence[tuple[T, str]], value: T) -> None:
        """Exchange the options without posting ``Changed``."""
        self.options, self.value = tuple(options), value
        self.refresh()

    def ask_for(self, label: str, hint: str) -> None:
        """Ask for something else from now on."""
        if (label, hint) != (self.label, self.hint):
            self.label, self.hint = label, hint
            self.refresh(layout=True)

    @property
    def in_words(self) -> str:
        """What the chosen option is called; empty where none is chosen."""
        return dict(self.options).get(self.value, "")

    def action_step(self, by: int) -> None:
        values = [value for value, _ in self.options]
        place = values.index(self.value) if self.value in values else -max(by, 0)
        self.action_choose((place + by) % len(values))

    def action_choose(self, place: int) -> None:
        self.value = self.options[place][0]
        self.post_message(self.Changed(self, self.value))

    def render(self) -> Content:
        row = Content("  ").join(self._option(place) for place in range(len(self.options)))
        if LABEL_WIDTH + row.cell_length > self._width:
            row = self._chosen_between_arrows()
        hint = f"\n{self.hint}" if self.hint and self.has_focus else ""
        return Content.assemble(self.label.ljust(LABEL_WIDTH), row, (hint, "$text-muted"))

    def on_focus(self) -> None:
        self.refresh(layout=True)

    def on_blur(self) -> None:
        self.refresh(layout=True)

    @property
    def _width(self) -> int:
        # not `size`, which lays the whole screen out anew while that is under way
        return self.outer_size.width

    def _option(self, place: int) -> Content:
        value, words = self.options[place]
        chosen = value == self.value
        option = Content.styled(f"{'●' if chosen else '○'} {words}", "bold" if chosen else "")
        return clickable(option, f"choose({place})")

    def _chosen_between_arrows(self) -> Content:
        places = [place for place, (value, _) in enumerate(self.options) if value == self.value]
        room = self._width - LABEL_WIDTH - len("‹  ›")
        words = Content(self.options[places[0]][1] if places else "none")
        chosen = Content.assemble(
            clickable(Content("‹ "), "step(-1)"),
            words.truncate(max(room, 1), ellipsis=True).stylize("bold"),
            clickable(Content(" ›"), "step(1)"),
        )
        count = f" {places[0] + 1 if places else 0}/{len(self.options)}"
        fits = LABEL_WIDTH + chosen.cell_length + len(count) <= self._width
        return Content.assemble(chosen, (count, "$text-muted")) if fits else chosen
