"""The app: what it holds for all screens, how one comes from one step to another, and saving."""

from __future__ import annotations

import asyncio
import gc
from functools import partial
from typing import TYPE_CHECKING, NamedTuple, Protocol, runtime_checkable

from rich.segment import Segment
from textual import on
from textual.app import App
from textual.filter import LineFilter
from textual.reactive import Reactive
from textual.theme import Theme

from witnessmark.app.commands import act_words
from witnessmark.app.following import Happened, stop_everywhere
from witnessmark.app.screens import make_screen
from witnessmark.app.steps import Aside, Step, missing_for
from witnessmark.drawing.canvas import BrailleCanvas, Canvas
from witnessmark.meters.port import utc_now
from witnessmark.sentences import visible
from witnessmark.session.events import Crashed, Failed, Part
from witnessmark.session.session import Session
from witnessmark.words import cautions

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Sequence

    from textual.color import Color
    from textual.notifications import SeverityLevel
    from textual.screen import Screen

    from witnessmark.meters.finding import Tell
    from witnessmark.meters.port import Clock, FoundMeter
    from witnessmark.model import Impression, Pair, Placement, ShotKind, Side
    from witnessmark.session.draft import Draft
    from witnessmark.session.meter import OpenDriver
    from witnessmark.session.workspace import Workspace
    from witnessmark.store.store import Store


class SteeringShown(LineFilter):
    """Writes out signs that would steer the terminal, in each painted line, without widening it."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Return the line with steering signs written out."""
        if all(text.isprintable() for text, _, _ in segments):
            return segments
        width = Segment.get_line_length(segments)
        shown = [one if one.control else Segment(visible(one.text), one.style) for one in segments]
        return Segment.adjust_line_length(shown, width)


_STEERING_SHOWN = SteeringShown()

# each meaning of a colour is also told by a word or a line
DARK = Theme(
    name="witnessmark-dark",
    dark=True,
    background="#12161b",
    surface="#1b222a",
    panel="#232c36",
    boost="#2c3844",
    foreground="#e6e3dc",
    primary="#6aa9d8",
    secondary="#7d93a6",
    accent="#d9a441",
    warning="#e0b050",
    error="#ea7266",
    success="#7cc48a",
)

DIM = Theme(
    name="witnessmark-dim",
    dark=True,
    background="#000000",
    surface="#000000",
    panel="#000000",
    boost="#160b02",
    foreground="#9a4f12",
    primary="#7a3d0c",
    secondary="#6a360c",
    accent="#b85f14",
    warning="#a85812",
    error="#c0501a",
    success="#9a5f14",
)
"""Deep orange on black, which spares eyes that are used to the dark; common practice, no source."""

_THEMES = {theme.name: theme for theme in (DARK, DIM)}


class Rehearsal(Protocol):
    """A simulated person with a meter: what the demo has in place of a room."""

    def press_button(self, kind: ShotKind) -> None:
        """Take a shot; its reading comes from the meter's driver."""

    def nudge(self, side: Side, asked: Placement) -> None:
        """Move a cabinet by about ``asked`` (deltas)."""

    def push(self, kind: ShotKind, by_mm: float, about: str | None) -> None:
        """Push a cabinet, or turn it about a point, until a shot reads that much more; take it."""


@runtime_checkable
class ShowsNotices(Protocol):
    """A screen with a place of its own for notices, where none lies over figures."""

    def show_notice(self, words: str, *, wrong: bool = False) -> None:
        """Show a notice until the next one, or until something happens."""


class UnsavedImpression(NamedTuple):
    """Said in a room, of the position that the pair was to stand at."""

    room: str
    targets: Pair[Placement | None]
    heard: Impression


class WitnessmarkApp(App[None], inherit_bindings=False):
    """Leads a newcomer from step to step; opens on the live screen for a setup that is whole.

    All that is not on a screen is the ``session``'s; the app saves what was entered when a step is
    left and at the end.
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
        ListenScreen #large { display: block; }
        ListenScreen FormView, ListenScreen Choice, ListenScreen #aside { display: none; }
        ListenScreen #form { width: 1fr; max-width: 100%; align-horizontal: center; }
        ListenScreen GradeSheet { width: 46; }
        ListenScreen #told { text-align: center; }
    }
    """
    ENABLE_COMMAND_PALETTE = False
    # from the start: with another one first, all styles would be worked out twice
    theme: Reactive[str] = Reactive(DARK.name)

    def __init__(
        self,
        store: Store,
        workspace: Workspace,
        *,
        clock: Clock = utc_now,
        discover: Callable[[Tell], Awaitable[list[FoundMeter]]] | None = None,
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
        self.session = Session(
            store, workspace, act_words=act_words, clock=clock, open_driver=open_driver
        )
        self.rehearsal = rehearsal
        self.phone = phone
        self.canvas = canvas
        self.discover = discover or _discover_all
        self._waiting_notice = ""
        self.hearing: UnsavedImpression | None = None
        self.unfolded: set[Step] = set()
        """The steps on which all fields are shown."""
        self.has_graded = False
        """Whether a position was graded since the program started."""
        self._warned_of: UnsavedImpression | None = None
        self.painted = asyncio.Event()
        """Set once the first screen is painted: what is slow to load waits for that."""
        self.blind = False
        """Whether earlier grades are out of sight."""

    async def on_mount(self) -> None:
        """Show the live screen for a whole setup, else the first step; warn of a full disk."""
        self.session.subscribe(Part.PROGRAM, lambda event: self.post_message(Happened(event)))
        await self.push_screen(
            self._screen_for(Step.LIVE if self.session.draft.setup else Step.ROOM)
        )
        if self.session.scarce:
            self.notify(self.session.scarce, severity="warning", timeout=20)

    def on_ready(self) -> None:
        self.screen.call_after_refresh(self._begin_evening)

    def _begin_evening(self) -> None:
        self.painted.set()
        if not gc.isenabled():
            gc.freeze()  # what is loaded by now stays, and is never looked through
            gc.enable()

    @on(Happened)
    def _hear(self, event: Happened) -> None:
        match event.what:
            case Failed(why=why):
                self.notify(why, severity="error")
            case Crashed(error=error):
                raise error

    def action_ask(self) -> None:
        """Have a meter that waits to be asked measure now."""
        self.session.ask()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only the meter that is chosen can be asked, and only one that waits for it."""
        if action == "ask":
            return self.session.can_ask
        return super().check_action(action, parameters)

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Show what a stranger's text would do to the terminal, whichever widget paints it."""
        return [*super().get_line_filters(), _STEERING_SHOWN]

    def go(self, step: Step, notice: str = "") -> None:
        """Show a step's screen with a ``notice``, or say what has to be done before."""
        missing = missing_for(self.session.draft, step)
        if missing is not None:
            self.notify(f"{step.heading} comes after {missing.heading}: fill that in first.")
            return
        undone = getattr(self.screen, "left_undone", "")
        self._show_step(step, " ".join(filter(None, (notice, undone))))

    def _show_step(self, step: Step, words: str) -> None:
        self.painted.set()  # whoever goes on has seen the first screen
        self.run_worker(self.session.save(), name="save")
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

    def measure_for(self, draft: Draft, notice: str = "") -> None:
        """Take a draft with other targets, and show the live screen, which begins a new round."""
        self.session.aim_afresh(draft)
        self._show_step(Step.LIVE, notice)

    def action_go(self, step: str) -> None:
        self.go(Step(step))

    def action_open(self, aside: str) -> None:
        """Open a screen that goes back to where it was opened."""
        self.push_screen(make_screen(Aside(aside)))

    def action_put_back(self) -> None:
        """Put back at once what a check found moved, else show the marks to choose from."""
        guidance = self.session.guidance
        if guidance is not None and guidance.is_found_moved:
            self.run_worker(self.session.put_back(), group="round")
            if getattr(self.screen, "STEP", None) is not Step.LIVE:
                self.go(Step.LIVE)
        elif self.session.draft.setup is None:
            self.notify("Nothing is marked yet: first both cabinets are measured.")
        else:
            self.action_open(Aside.PUT_BACK)

    @property
    def available_themes(self) -> dict[str, Theme]:
        """The colours of the app, by name."""
        return _THEMES

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

    def leave(self, code: int = 0) -> None:
        """End with this exit code, as soon as what is being mounted stands.

        Textual mounts nothing more once it is to exit, and a screen would look for its parts.
        """
        self.call_later(self._leave, code)

    def _leave(self, code: int) -> None:
        end = partial(self.exit, return_code=code)
        if not self.screen.call_later(end):  # it is being taken down itself
            end()

    async def action_quit(self) -> None:
        """Leave, but not at once where something was said that is not kept."""
        if self.hearing is None or self.hearing is self._warned_of:
            self.leave()
            return
        self._warned_of = self.hearing
        self.notify(
            "The grades of this position are not saved yet. Press Ctrl+S on the listening "
            "screen to save them, or the same key again to leave without them.",
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
        """Save first of all, then let go of the meter and close the session."""
        await self.session.save()
        await stop_everywhere(self, "meter")
        await self.session.aclose()


async def _discover_all(tell: Tell) -> list[FoundMeter]:
    from witnessmark.meters.finding import discover_all  # noqa: PLC0415

    return await discover_all(tell=tell)
