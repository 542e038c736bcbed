"""Which of two positions was better: one question, three keys that can be found by touch."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from witnessmark.app.widgets.key_bar import KeyBar

if TYPE_CHECKING:
    from textual.app import ComposeResult

BEFORE, THIS, NEITHER = "before", "this", "neither"


class PreferScreen(ModalScreen[str | None]):
    """Ends with ``BEFORE``, ``THIS`` or ``NEITHER``; with None when nothing was said."""

    BINDINGS: ClassVar[list[BindingType]] = [
        ("f", "dismiss('before')", "The one before"),
        ("j", "dismiss('this')", "This one"),
        ("space", "dismiss('neither')", "Neither"),
        ("escape", "dismiss(None)", "Say nothing"),
        ("ctrl+q", "app.quit", "Quit"),
    ]
    DEFAULT_CSS = """
    PreferScreen { align: center middle; }
    PreferScreen #question {
        width: 66; height: auto; background: $surface; border: round $primary; padding: 1 2;
    }
    """

    def __init__(self, before: str, this: str) -> None:
        """Both by what they are called."""
        super().__init__()
        self._words = (
            "Which was better, this one or the one before?\n\n"
            f"f  the one before: {before}\n"
            f"j  this one: {this}\n"
            "Space  neither"
        )

    def compose(self) -> ComposeResult:
        """The question, keys."""
        with Vertical(id="question"):
            yield Static(self._words, markup=False)
        yield KeyBar()
