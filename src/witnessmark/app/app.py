"""The app: what it holds for all screens, how one comes from one step to another, and saving."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual.app import App

from witnessmark.app.opening import Opening
from witnessmark.app.screens import make_screen
from witnessmark.app.steps import Step
from witnessmark.app.theme import DARK
from witnessmark.errors import StoreError
from witnessmark.meters.port import utc_now
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from witnessmark.app.draft import Draft
    from witnessmark.meters.port import Clock, Found


class WitnessmarkApp(App[None], inherit_bindings=False):
    """Leads a newcomer from step to step; opens on the live screen for a setup that is whole.

    ``opening`` is what the person has told so far; screens exchange it, and the app saves it when a
    step is left and at the end.
    """

    TITLE = "witnessmark"
    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self,
        store: Store,
        opening: Opening,
        *,
        clock: Clock = utc_now,
        discover: Callable[[], Awaitable[list[Found]]] | None = None,
    ) -> None:
        """The app owns ``store`` from here on. ``discover`` looks for meters."""
        super().__init__()
        self.journal = Journal(store)
        self.opening = opening
        self.clock = clock
        self.discover = discover or _discover_all
        self._saved = opening
        self.register_theme(DARK)
        self.theme = DARK.name

    async def on_mount(self) -> None:
        """Show the live screen for a whole setup, else the first step."""
        await self.push_screen(make_screen(Step.LIVE if self.draft.setup else Step.ROOM))

    @property
    def draft(self) -> Draft:
        """What is known of the setup."""
        return self.opening.draft

    def edit(self, draft: Draft) -> None:
        """Take another draft of the setup."""
        self.opening = msgspec.structs.replace(self.opening, draft=draft)

    def go(self, step: Step) -> None:
        """Show a step's screen, or say what has to be done before."""
        missing = self.draft.missing_for(step)
        if missing is not None:
            self.notify(f"{step.heading} comes after {missing.heading}: fill that in first.")
            return
        undone = getattr(self.screen, "left_undone", "")
        if undone:
            self.notify(undone, severity="warning")
        self.run_worker(self._save(), name="save")
        self.switch_screen(make_screen(step))

    def action_go(self, step: str) -> None:
        """Show a step's screen."""
        self.go(Step(step))

    async def action_help(self) -> None:
        """Show what the keys of this screen do."""
        from witnessmark.app.screens.help import HelpScreen  # noqa: PLC0415

        step = getattr(self.screen, "STEP", None)
        if isinstance(step, Step):
            await self.push_screen(HelpScreen(step))

    async def on_unmount(self) -> None:
        """Save and close the store."""
        await self._save()
        await self.journal.aclose()

    async def _save(self) -> None:
        opening, setup = self.opening, self.draft.setup
        if setup is None or opening == self._saved:
            return
        try:
            await self.journal.run(
                Store.save_setup, opening.name, setup, self.clock(), opening.choices
            )
        except StoreError as error:
            self.notify(str(error), severity="error")
            return
        self._saved = opening


async def _discover_all() -> list[Found]:
    from witnessmark.meters.finding import discover_all  # noqa: PLC0415

    return await discover_all()
