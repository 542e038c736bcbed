"""Measuring and nudging: the last step."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import getters
from textual.containers import Horizontal, Vertical
from textual.screen import Screen

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.commands import bindings_for
from witnessmark.app.plan import plan_drawing
from witnessmark.app.steps import Step
from witnessmark.app.widgets.key_bar import KeyBar
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.step_strip import StepStrip

if TYPE_CHECKING:
    from textual.app import ComposeResult


class LiveScreen(Screen[None]):
    """The plan to scale, with the targets."""

    STEP = Step.LIVE
    BINDINGS = bindings_for(STEP)
    DEFAULT_CSS = """
    LiveScreen {
        #body { height: 1fr; }
        #live { width: 1fr; }
    }
    """

    app = getters.app(WitnessmarkApp)

    def compose(self) -> ComposeResult:
        """Steps, plan, what is going on, keys."""
        yield StepStrip(self.STEP)
        with Horizontal(id="body"):
            yield PlanView(id="plan")
            yield Vertical(id="live")
        yield KeyBar()

    def on_mount(self) -> None:
        """Draw the plan."""
        setup = self.app.draft.setup
        if setup:
            self.query_one(PlanView).show(
                plan_drawing(
                    setup.room, seat=setup.seat, cabinets=setup.cabinets, targets=setup.targets
                )
            )
