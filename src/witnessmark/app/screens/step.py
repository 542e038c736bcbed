"""What the screens with fields have in common: advice, form, what is wrong, and the way on."""

from __future__ import annotations

import abc
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.widgets import Button, Static

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field, fields_in
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens.form import FormScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.step_strip import StepStrip
from witnessmark.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult


class StepScreen(FormScreen):
    """A form for one step. Each change goes to the app as soon as the whole form makes sense.

    A subclass says what to do (``ADVICE``), gives its ``fields`` and takes them over in ``apply``.
    """

    STEP: ClassVar[Step]
    DEFAULT_CSS = """
    StepScreen {
        #form { width: 60%; max-width: 66; padding: 0 1; scrollbar-size-vertical: 1; }
        #aside { width: 1fr; padding: 0 1 0 0; }
        #told { color: $text-error; display: none; }
        #told.-shown { display: block; }
        #next { margin: 0 1; width: auto; }
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self.problem = ""

    @abc.abstractmethod
    def apply(self) -> Sequence[str]:
        """Give the app what the fields hold; called when all visible fields are settled.

        Returns what is worth telling about it, a sentence each; none of that keeps anybody here.

        Raises:
            BadInput: when the fields do not fit together.
        """

    def head(self) -> ComposeResult:
        """Which step this is."""
        yield StepStrip(self.STEP)

    def foot(self) -> ComposeResult:
        """The way on."""
        yield Button(
            f"Next: {self.STEP.after.heading}  (Ctrl+N)",
            id="next",
            variant="primary",
            action="screen.next",
            compact=True,
        )

    def on_mount(self) -> None:
        """Begin in the first field that needs something."""
        missing = self.open_fields
        if missing:
            missing[0].focus()

    @property
    def open_fields(self) -> list[Field[Any]]:
        """The visible fields that need something."""
        return [field for field in fields_in(self) if field.is_shown and not field.is_settled]

    @property
    def left_undone(self) -> str:
        """What to tell somebody who leaves now; empty when all was taken over."""
        if self.open_fields or self.problem:
            return f"{self.STEP.heading}: what is missing or wrong there was not taken over."
        return ""

    @on(FormView.Changed)
    @on(Choice.Changed)
    def take_over(self) -> None:
        """Give the app what the form holds, if it makes sense, and say so if it does not."""
        self.problem, told = "", ""
        if not self.open_fields:
            try:
                told = "\n".join(f"! {sentence}" for sentence in self.apply())
            except BadInput as error:
                self.problem = told = f"✗ {error}"
        self.show_told(told)

    def show_told(self, told: str) -> None:
        """Show what is to be said about the form as a whole."""
        line = self.query_one("#told", Static)
        line.update(told)
        line.set_class(bool(told), "-shown")

    def action_next(self) -> None:
        """Go on, or point out what is missing."""
        missing = self.open_fields
        for field in missing:
            field.complain()
        if missing:
            missing[0].focus()
        if missing or self.problem:
            self.app.bell()
            return
        self.take_over()
        if not self.problem:
            self.app.go(self.STEP.after)

    def action_back(self) -> None:
        """Go back to the step before."""
        self.app.go(self.STEP.before)
