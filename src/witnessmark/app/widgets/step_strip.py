"""The line at the top: the steps, which one this is, and which are done."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from witnessmark.app.steps import Step
from witnessmark.app.widgets.clickable import clickable


class StepStrip(Static):
    """Marks this step with an arrowhead and brackets it; a click on a step goes there."""

    DEFAULT_CSS = """
    StepStrip {
        height: 1; background: $panel; color: $text-muted; padding: 0 1; link-style: none;
        link-style-hover: underline;
    }
    """

    def __init__(self, current: Step) -> None:
        """``current`` is the step whose screen this is."""
        super().__init__(
            Content.assemble(
                ("witnessmark ", "bold $accent"), *(_entry(step, current) for step in Step)
            )
        )


def _entry(step: Step, current: Step) -> Content:
    if step is current:
        return Content.styled(f" ▸{step.heading}◂ ", "bold reverse")
    return clickable(Content(f"  {step.heading}  "), f"app.go({step.value!r})")
