"""The app: what it holds for all screens, how one comes from one step to another, and saving."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Protocol, cast, runtime_checkable

import msgspec
from textual.app import App

from witnessmark import cautions
from witnessmark.app.canvas import BrailleCanvas, Canvas
from witnessmark.app.screens import make_screen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.theme import DARK, DIM
from witnessmark.app.workers import stop_everywhere
from witnessmark.app.workspace import Workspace
from witnessmark.errors import StoreError
from witnessmark.meters.port import CanFire, utc_now
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from textual.notifications import SeverityLevel
    from textual.screen import Screen

    from witnessmark.app.draft import Draft
    from witnessmark.app.metering import OpenDriver
    from witnessmark.app.screens.live import LiveScreen
    from witnessmark.app.unsaved_impression import UnsavedImpression
    from witnessmark.meters.finding import Tell
    from witnessmark.meters.port import Clock, Driver, Found
    from witnessmark.model import Leaned, Placement, ShotKind, Side
    from witnessmark.placing.round import Round


class Rehearsal(Protocol):
    """A simulated person with a meter: what the demo has in place of a room."""

    def press_button(self, kind: ShotKind) -> None:
        """Take a shot; its reading comes from the meter's driver."""

    def nudge(self, side: Side, asked: Placement) -> None:
        """Move a cabinet by about ``asked`` (deltas)."""


@runtime_checkable
class ShowsNotices(Protocol):
    """A screen with a place of its own for notices, where none lies over figures."""

    def show_notice(self, words: str, *, wrong: bool = False) -> None:
        """Show a notice until the next one, or until something happens."""


class WitnessmarkApp(App[None], inherit_bindings=False):
    """Leads a newcomer from step to step; opens on the live screen for a setup that is whole.

    ``opening`` is what the person has told so far; screens exchange it, and the app saves it when a
    step is left and at the end.
    """

    TITLE = "witnessmark"
    # dimmed: only what is needed, and that large
    CSS = """
    WitnessmarkApp.-dim {
        StepStrip { display: none; }
        LiveScreen #plan, LiveScreen #status { display: none; }
        LiveScreen #body, LiveScreen #beside { height: auto; }
        LiveScreen #notice { text-align: center; }
        LiveScreen #figures { height: 1fr; }
        ListenScreen #afar { display: block; }
        ListenScreen TextInput, ListenScreen Choice, ListenScreen #aside { display: none; }
        ListenScreen #form { width: 1fr; max-width: 100%; align-horizontal: center; }
        ListenScreen GradeSheet { width: 46; }
        ListenScreen #told { text-align: center; }
    }
    """
    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self,
        store: Store,
        opening: Workspace,
        *,
        clock: Clock = utc_now,
        discover: Callable[[Tell], Awaitable[list[Found]]] | None = None,
        open_driver: OpenDriver | None = None,
        rehearsal: Rehearsal | None = None,
        phone: bool = False,
        canvas: type[Canvas] = BrailleCanvas,
    ) -> None:
        """The app owns ``store`` from here on.

        ``discover`` looks for meters, and tells where it could not and why; ``open_driver`` gives
        the driver for an address; without them the installed drivers are asked. A ``rehearsal``
        stands in for meter and hands. With ``phone`` the live screen begins with the page's code.
        Plans are drawn on a ``canvas``.

        Raises:
            StoreError: when the store cannot be written; it is closed then.
        """
        super().__init__()
        try:
            self._scarce = store.readiness()
        except StoreError:
            store.close()
            raise
        self._open_driver = open_driver or _open_driver
        self._meter: Driver | None = None
        self.rehearsal = rehearsal
        self.phone = phone
        self.begins_anew = False
        self.unfinished: dict[str, Workspace] = {}
        self.canvas = canvas
        self.journal = Journal(store)
        self.opening = opening
        self.clock = clock
        self.discover = discover or _discover_all
        self._waiting_notice = ""
        self._saving = asyncio.Lock()
        self._saved: Workspace | None = None
        self._setup_id: int | None = None
        self.hearing: UnsavedImpression | None = None
        self.has_graded = False
        """Whether a position was graded since the program started."""
        self._warned_of: UnsavedImpression | None = None
        self.blind = False
        """Whether earlier grades are out of sight."""
        self.register_theme(DARK)
        self.register_theme(DIM)
        self.theme = DARK.name

    async def on_mount(self) -> None:
        """Show the live screen for a whole setup, else the first step; warn of a full disk."""
        await self.push_screen(self._screen_for(Step.LIVE if self.draft.setup else Step.ROOM))
        if self._scarce:
            self.notify(self._scarce, severity="warning", timeout=20)

    def open_driver(self, address: str) -> Driver:
        """The driver for an address, which is that of the meter that can be asked from now on."""
        self._meter = self._open_driver(address)
        self.screen.refresh_bindings()
        return self._meter

    def action_ask(self) -> None:
        """Have a meter that waits to be asked measure now."""
        if isinstance(self._meter, CanFire):
            self._meter.fire()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only the meter that is chosen can be asked, and only one that waits for it."""
        if action == "ask":
            driver, chosen = self._meter, self.opening.meter_address
            return isinstance(driver, CanFire) and driver.waits and driver.address.text == chosen
        return super().check_action(action, parameters)

    @property
    def draft(self) -> Draft:
        """What is known of the setup."""
        return self.opening.draft

    def edit(self, draft: Draft) -> None:
        """Take another draft of the setup."""
        self.opening = msgspec.structs.replace(self.opening, draft=draft)

    def go(self, step: Step, notice: str = "") -> None:
        """Show a step's screen with a ``notice``, or say what has to be done before."""
        missing = self.draft.missing_for(step)
        if missing is not None:
            self.notify(f"{step.heading} comes after {missing.heading}: fill that in first.")
            return
        undone = getattr(self.screen, "left_undone", "")
        words = " ".join(filter(None, (notice, undone)))
        self.run_worker(self.save(), name="save")
        screen = self._screen_for(step)
        self.switch_screen(screen)
        if not words:
            return
        shown = self.get_screen(screen) if isinstance(screen, str) else screen
        if isinstance(shown, ShowsNotices):
            self._waiting_notice = words
        else:
            self.notify(words, severity="warning")

    def _screen_for(self, step: Step) -> Screen[None] | str:
        """A fresh form; the live screen is made once and goes on listening behind the forms."""
        if step is not Step.LIVE:
            return make_screen(step)
        if not self.is_screen_installed(Step.LIVE.value):
            self.install_screen(make_screen(step), Step.LIVE.value)
        return Step.LIVE.value

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = False,
    ) -> None:
        """Show a message to the letter, for what a person typed may hold brackets.

        It goes where the screen shows notices; over a screen that has no such place.
        """
        # at the end of the program there is no screen any more
        if self.screen_stack and isinstance(self.screen, ShowsNotices):
            self.screen.show_notice(message, wrong=severity != "information")
            return
        super().notify(message, title=title, severity=severity, timeout=timeout, markup=False)

    def take_notice(self) -> str:
        """Return the notice that waits for the screen that is being shown; there is none after."""
        notice, self._waiting_notice = self._waiting_notice, ""
        return notice

    async def let_go_of_meter(self) -> None:
        """Have the live screen leave the meter to another, until ``listen_again``."""
        if live := self._live:
            await live.let_go()

    def listen_again(self) -> None:
        """Have the live screen listen to the meter that is chosen."""
        if live := self._live:
            live.listen()

    def measure_for(self, draft: Draft, notice: str = "") -> None:
        """Take a draft with other targets, and show the live screen, which begins a new round."""
        self.edit(draft)
        self.begins_anew = True
        self.go(Step.LIVE, notice)

    async def move_to(self, opening: Workspace) -> bool:
        """Leave this room for another, where what there is of this one could be saved.

        One that is not whole yet cannot be, and waits in ``unfinished`` as long as the app runs.
        """
        await self.save()
        here = self.opening
        if here.draft.setup is not None and here != self._saved:
            return False
        if here.draft.setup is None and here.draft.is_begun:
            self.unfinished[here.name] = here
        if self.unfinished.get(opening.name) == opening:
            del self.unfinished[opening.name]
        if live := self._live:
            await live.leave_round()
        self.begins_anew, self._saved, self._setup_id = False, None, None
        self.opening = opening
        return True

    @property
    def round(self) -> Round | None:
        """The round that is under way in this room, once the live screen was shown."""
        live = self._live
        return live.state if live and live.room == self.opening.name else None

    @property
    def round_id(self) -> int | None:
        """The number that the round under way in this room is journaled under."""
        live = self._live
        return live.round_id if live and live.room == self.opening.name else None

    def record(self, event: Leaned) -> None:
        """Have the live screen journal what was found out elsewhere, and take it in."""
        if live := self._live:
            live.record(event)

    @property
    def _live(self) -> LiveScreen | None:
        """The live screen, once it was shown."""
        if not self.is_screen_installed(Step.LIVE.value):
            return None
        return cast("LiveScreen", self.get_screen(Step.LIVE.value))

    def action_go(self, step: str) -> None:
        """Show a step's screen."""
        self.go(Step(step))

    @property
    def dim(self) -> bool:
        """Whether the lights are off."""
        return self.theme == DIM.name

    def turn_dim(self) -> None:
        """Show only what is needed, large and dim, or all again."""
        self.theme = (DARK if self.dim else DIM).name
        self.set_class(self.dim, "-dim")
        if self.dim:
            self.notify(cautions.DARK, severity="warning", timeout=10)
        self.screen.refresh_bindings()

    async def action_quit(self) -> None:
        """Leave, but not at once where something was said that is not kept."""
        if self.hearing is None or self.hearing is self._warned_of:
            self.exit()
            return
        self._warned_of = self.hearing
        self.notify(
            "What was said of this position is not kept yet: Ctrl+R on the listening screen keeps "
            "it. The same key once more leaves without it.",
            severity="warning",
            timeout=20,
        )

    async def action_help(self) -> None:
        """Show what the keys of this screen do."""
        from witnessmark.app.screens.help import HelpScreen  # noqa: PLC0415

        place = getattr(self.screen, "STEP", None)
        if isinstance(place, Step | Aside):
            await self.push_screen(HelpScreen(place, rehearsed=self.rehearsal is not None))

    async def on_unmount(self) -> None:
        """Save, let go of the meter, and close the store."""
        await self.save()
        await stop_everywhere(self, "meter")
        await self.journal.aclose()

    async def save(self) -> int | None:
        """Save the setup if it is whole and was changed; the number it is stored under."""
        # one at a time, or who asks while it is being saved would save it once more
        async with self._saving:
            return await self._save()

    async def _save(self) -> int | None:
        opening, setup = self.opening, self.draft.setup
        if setup is None or opening == self._saved:
            return self._setup_id
        try:
            latest = await self.journal.run(Store.latest_setup)
            if latest is not None and Workspace.of(latest) == opening:
                self._setup_id = latest.id
            else:
                self._setup_id = await self.journal.run(
                    Store.save_setup, opening.name, setup, self.clock(), opening.choices
                )
        except StoreError as error:
            self.notify(str(error), severity="error")
        else:
            self._saved = opening
        return self._setup_id


def _open_driver(address: str) -> Driver:
    from witnessmark.meters.finding import open_driver  # noqa: PLC0415

    return open_driver(address)


async def _discover_all(tell: Tell) -> list[Found]:
    from witnessmark.meters.finding import discover_all  # noqa: PLC0415

    return await discover_all(tell=tell)
