"""What the screens of the evening have in common: strip, advice, form with its side panel, keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from witnessmark.app.screens import make_screen
from witnessmark.app.screens.form import FormScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.step_strip import StepStrip

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.app.steps import Step


class EveningScreen(FormScreen):
    """A step that is come back to all evening; what is kept on it goes to the store at once.

    A subclass gives its ``fields`` and what stands beside them.
    """

    STEP: ClassVar[Step]
    AUTO_FOCUS = ""  # letters and digits are keys until a field is gone to
    DEFAULT_CSS = """
    EveningScreen {
        #form { width: 50%; max-width: 66; padding: 0 1; scrollbar-size-vertical: 1; }
        #aside { width: 1fr; padding: 0 1 0 0; overflow-y: auto; scrollbar-size-vertical: 1; }
        #aside > Static { height: auto; margin-bottom: 1; }
    }
    """

    def head(self) -> ComposeResult:
        """Which step this is."""
        yield StepStrip(self.STEP)

    def action_open(self, aside: str) -> None:
        """Open the screen for something beside it."""
        self.app.push_screen(make_screen(Aside(aside)))

    def show_notice(self, words: str, *, wrong: bool = False) -> None:
        """Show a notice until the next one."""
        self.tell(words, wrong=wrong)

    def action_dim(self) -> None:
        """Dim the screen, or light it again."""
        self.app.turn_dim()
