"""Measuring and nudging, driven by the meter's button: the last step.

Every event goes one way: to the journal, then as a message to this screen, then through the round
to the guidance that the widgets show. The screen stays alive while another is in front of it, so
that no reading is missed.
"""

from __future__ import annotations

import asyncio
import gc
import time
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

import msgspec
from textual import events, getters, on
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Static

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.by_keyboard import is_keyboard, line_report, typed_reading
from witnessmark.app.commands import bindings_for
from witnessmark.app.remote import RemoteViews, ring
from witnessmark.app.screens import make_screen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.big_figures import BigFigures
from witnessmark.app.widgets.key_bar import KeyBar
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.step_strip import StepStrip
from witnessmark.app.widgets.typed_entry import TypedEntry
from witnessmark.app.workers import stop_group
from witnessmark.cautions import LASER
from witnessmark.errors import WitnessmarkError
from witnessmark.meters.port import Fault, Link, LinkState, Noise
from witnessmark.model import (
    BY_TAPE,
    Act,
    Command,
    Leaned,
    Reading,
    Revised,
)

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.app.resume import Resumed
    from witnessmark.placing.guidance import Guidance
    from witnessmark.placing.round import Round

_ONWARD = " (e: listen, v: mark)"
_DIGITS_FIRST_S = 0.004
"""So long all that follows from a reading waits, and its digits are painted first."""
_REST_S = 0.06
"""So long it rests in between, or the digits of a meter that sends all the time would wait."""


class LiveScreen(Screen[None]):
    """The one nudge or shot that comes next in large figures, the plan, and all the figures."""

    STEP = Step.LIVE
    BINDINGS = bindings_for(STEP)
    AUTO_FOCUS = ""  # keys are commands until a digit is typed
    DEFAULT_CSS = """
    LiveScreen {
        #guidance { height: 1fr; }
        #figures { height: 30vh; min-height: 7; color: $accent; }
        #figures.-two-lines { min-height: 8; }
        #headline { height: 1; text-style: bold; text-align: center; }
        #details { height: 9vh; min-height: 2; text-align: center; }
        #body { height: 1fr; }
        #status { height: 1fr; }
        #beside { width: 1fr; }
        #notice { height: auto; padding: 0 0 0 1; color: $text-warning; }
        #notice.-wrong { color: $text-error; text-style: bold; }
    }
    """

    app = getters.app(WitnessmarkApp)

    @dataclass
    class TookUp(Message):
        """The round of a room that the screen goes on with."""

        what: Resumed
        room: str

    @dataclass
    class Failed(Message):
        """Something could not be done; ``why`` says so."""

        why: str

    @dataclass
    class Decided(Message):
        """Something was decided on a phone."""

        act: Act

    def __init__(self) -> None:
        super().__init__()
        self.afar = RemoteViews(lambda act: self.post_message(self.Decided(act)))
        self.state: Round | None = None
        self.guidance: Guidance | None = None
        self.room = ""
        self.round_id: int | None = None
        self._address = ""
        self._nudged = False
        self._rests_until = 0.0
        self._offered: tuple[frozenset[Act], bool] | None = None
        self._notice, self._is_wrong = "", False
        self._with_next = ""
        """The notice that comes with the next event."""
        self._has_read = False
        self._came: list[Reading | Command | Leaned | Revised] = []

    def compose(self) -> ComposeResult:
        """Steps, large figures, sentences, plan with notices, figures, the meter, keys."""
        # one container, so that painting the meter's digits passes over all that is in it
        with Vertical(id="guidance"):
            yield StepStrip(self.STEP)
            yield BigFigures(id="figures")
            yield Static(id="headline")
            yield Static(id="details")
            with Horizontal(id="body"):
                with Vertical(id="beside"):
                    yield PlanView(id="plan")
                    yield Static(id="notice", markup=False)
                yield Static(id="status")
        yield MeterLine(self.app.opening.meter_address)
        yield TypedEntry()
        yield KeyBar()

    def on_mount(self) -> None:
        """Have a timer at hand, which is quicker to start than to make."""
        self._follower = self.set_interval(_DIGITS_FIRST_S, self._follow, pause=True)

    @on(events.ScreenResume)
    def take_up(self) -> None:
        """Go on with the round, with the setup and the meter as they are chosen now."""
        self.app.clear_notifications()  # no message of the screen before lies over the figures
        if notice := self.app.take_notice():
            self.show_notice(notice)
        self.run_worker(self._take_up(), name="take up", group="round", exclusive=True)

    async def _take_up(self) -> None:
        # in a thread, so that the screen is painted while the arithmetic loads
        take_up = (await asyncio.to_thread(import_module, "witnessmark.app.resume")).take_up
        if self.app.begins_anew:
            await self._begin_afresh()
            return
        room, setup_id, setup = self.app.opening.name, await self.app.save(), self.app.draft.setup
        if setup_id is None or setup is None:
            return
        try:
            if self.state is None or room != self.room:
                taken = await take_up(self.app.journal, room, setup_id, setup, self.app.clock())
                self._bring(self.TookUp(taken, room))
                return
            if self.state.setup != setup:
                await self._record(Revised(setup, self.app.clock()))
            self.listen()
        except WitnessmarkError as error:
            self._fail(error)

    def _fail(self, error: WitnessmarkError) -> None:
        self.post_message(self.Failed(str(error)))

    @on(TookUp)
    def _begin(self, event: TookUp) -> None:
        self.app.begins_anew = False
        self.room = event.room
        self.round_id, self.state = event.what.round_id, event.what.state
        self._came.clear()  # that is of the round before
        if event.what.resumed:
            self._add_notice("Going on where it was left. b begins afresh.")
        elif event.what.is_elsewhere:
            self._add_notice(
                "The round is open in another copy of the program; this one begins its own."
            )
        self._show()
        self.listen()
        if self.app.phone:
            self.app.phone = False
            self.action_phone()

    def listen(self) -> None:
        """Listen to the meter that is chosen; a meter that is listened to already goes on."""
        if self.round_id is not None and self._address != self.app.opening.meter_address:
            self._address = self.app.opening.meter_address
            self.run_worker(self._listen_to(self._address), group="meter", exclusive=True)

    async def let_go(self) -> None:
        """Leave the meter to another screen, until ``listen``."""
        self._address = ""
        await stop_group(self, "meter")

    async def leave_round(self) -> None:
        """Have done with the round, which stays in the journal; what comes now is of none."""
        self.state = self.guidance = self.round_id = self._offered = None
        self.afar.leave()
        await self.let_go()

    async def _listen_to(self, address: str) -> None:
        from witnessmark.app.metering import journaled  # noqa: PLC0415

        if is_keyboard(address):
            opened = Link(LinkState.OPEN, "type a distance and Enter", self.app.clock(), address)
            self._bring(MeterLine.Came(opened))
            return
        try:
            driver = self.app.open_driver(address)
            gc.freeze()  # or a collection of all that is loaded by now would hold up a reading
            journal = self.app.journal
            async for report in journaled(driver, journal, lambda: self.round_id, self._fail):
                self._bring(MeterLine.Came(report))
        except WitnessmarkError as error:
            self._fail(error)

    async def _record(self, event: Reading | Fault | Noise | Command | Leaned | Revised) -> None:
        """Journal something that did not come from the meter, then let it come in."""
        try:
            await self.app.journal.append(self.round_id, event)
        except WitnessmarkError as error:
            self._fail(error)
        else:
            self._bring(MeterLine.Came(event))

    def _bring(self, message: Message) -> None:
        """Send a message by way of the meter's line, which has digits painted the soonest.

        What says where an event belongs goes the same way, so that neither overtakes the other.
        """
        for line in self.query(MeterLine):  # none once the screen is being taken down
            line.post_message(message)

    @on(MeterLine.Came)
    def _take(self, event: MeterLine.Came) -> None:
        event.stop()
        self.afar.hear(event.what)
        if isinstance(event.what, Reading | Command | Leaned | Revised):
            self._came.append(event.what)
            self._has_read = self._has_read or isinstance(event.what, Reading)
            if not isinstance(event.what, Revised):  # which follows at once on being shown
                self._notice, self._is_wrong = self._with_next, False
                self._with_next = ""
            if len(self._came) == 1:
                self._follower.reset()

    def _follow(self) -> None:
        """Take what has come to the round, and show where that leads."""
        if time.monotonic() < self._rests_until:
            return
        self._follower.pause()
        came, self._came = self._came, []
        for event in came:
            if self.state is not None:
                self.state = self.state.feed(event)
        self._show(self.guidance)
        self._rests_until = time.monotonic() + _REST_S

    @on(Failed)
    def _complain(self, event: Failed) -> None:
        self.query_one(MeterLine).say(event.why)
        self.notify(event.why, severity="error", timeout=10)
        self.afar.fail()

    def _show(self, before: Guidance | None = None) -> None:
        """Show the round; what follows from what was shown ``before`` is heard as well."""
        from witnessmark.app.status import status_lines, status_width  # noqa: PLC0415
        from witnessmark.drawing.standing import standing_plan  # noqa: PLC0415
        from witnessmark.placing.guidance import guide  # noqa: PLC0415
        from witnessmark.placing.restore import purpose_words  # noqa: PLC0415

        if self.state is None:
            return
        setup, guidance = self.state.setup, guide(self.state)
        self.guidance, self._nudged = guidance, False
        figures = self.query_one(BigFigures)
        figures.text, figures.below = guidance.headline.figure, guidance.headline.held
        figures.set_class(bool(guidance.headline.held), "-two-lines")
        onward = _ONWARD if guidance.finished else ""
        self._put("#headline", Content(f"{guidance.headline.words}{onward}"))
        self._put("#details", Content("\n".join(guidance.details)))
        self.query_one("#status").styles.width = status_width(setup.units)
        rows = self.query_one("#body").size.height
        self._put("#status", status_lines(setup, guidance, rows))
        self._show_notices()
        self.query_one(PlanView).show(*standing_plan(setup, guidance.cabinets))
        self.query_one(MeterLine).purpose = purpose_words(setup)
        offered = (guidance.offered, guidance.asked is None)
        if offered != self._offered:
            self._offered = offered
            self.refresh_bindings()
        cue = self.afar.show(setup, guidance, before)
        if cue and not self.app.opening.silent:
            ring(self, cue.bells)

    def show_notice(self, words: str, *, wrong: bool = False) -> None:
        """Show a notice beside the figures until the next one or the next event."""
        self._notice, self._is_wrong = words, wrong
        self._show_notices()

    def _add_notice(self, words: str) -> None:
        self.show_notice(f"{self._notice} {words}".lstrip())

    def _show_notices(self) -> None:
        caution = self.guidance.caution if self.guidance else ""
        laser = "" if self._has_read else LASER
        line = self.query_one("#notice", Static)
        words = "\n".join(filter(None, (self._notice, laser, caution)))
        if line.content != words:
            line.update(words)
            line.display = bool(words)
        line.set_class(self._is_wrong, "-wrong")

    def _put(self, selector: str, content: Content) -> None:
        line = self.query_one(selector, Static)
        if line.content != content:
            line.update(content, layout=False)

    async def on_key(self, event: events.Key) -> None:
        """Let keys wait until it is clear who pressed them: a person, or a meter that types."""
        if await self.query_one(TypedEntry).take(event):
            event.stop()

    @on(TypedEntry.Commanded)
    async def _obey(self, event: TypedEntry.Commanded) -> None:
        if active := self.active_bindings.get(event.key):
            await self.app.run_action(active.binding.action, active.node)

    @on(TypedEntry.Line)
    def _typed_by_meter(self, event: TypedEntry.Line) -> None:
        address = self.app.opening.meter_address
        report = line_report(event.text, self.app.clock(), address, whole=event.whole)
        self.run_worker(self._record(report))

    @on(TypedEntry.Measured)
    def _typed(self, event: TypedEntry.Measured) -> None:
        address, at = self.app.opening.meter_address, self.app.clock()
        reading = typed_reading(event.distance_mm, event.text, at, address)
        if event.note:
            self._with_next = event.note
        elif reading.meter == BY_TAPE and self.app.draft.meter.added_mm:
            self._with_next = (
                "Taken as a tape's: nothing is added as it is to the meter's readings."
            )
        self.run_worker(self._record(reading))

    @on(TypedEntry.Refused)
    def _refuse(self, event: TypedEntry.Refused) -> None:
        self.notify(event.why, severity="warning")

    def action_decide(self, act: str) -> None:
        """Journal a decision and let it take effect."""
        self.run_worker(self._record(Command(Act(act), self.app.clock())))

    def record(self, event: Leaned) -> None:
        """Journal what was found out on another screen, and let it take effect."""
        self.run_worker(self._record(event))

    def action_open(self, aside: str) -> None:
        """Open the screen for something beside the measuring."""
        self.app.push_screen(make_screen(Aside(aside)))

    @on(Decided)
    def _decide_from_afar(self, event: Decided) -> None:
        if self.state is not None:  # else it was decided on what is past
            self.query_one(MeterLine).say(f"{event.act}, decided on a phone")
            self.action_decide(event.act)

    def action_phone(self) -> None:
        """Show where a phone finds the page."""
        from witnessmark.app.screens.phone import PhoneScreen  # noqa: PLC0415

        self.app.push_screen(PhoneScreen(self.afar))

    def action_dim(self) -> None:
        """Dim the screen, or light it again."""
        self.app.turn_dim()

    def action_silence(self) -> None:
        """Ring no more, or again."""
        silent = not self.app.opening.silent
        self.app.opening = msgspec.structs.replace(self.app.opening, silent=silent)
        self.notify("The bell is silent." if silent else "The bell rings.")

    async def on_unmount(self) -> None:
        """Let the phones know."""
        await self.afar.stop("The program has ended.")

    def action_begin_afresh(self) -> None:
        """Leave this round as it is in the journal and begin another."""
        self.run_worker(self._begin_afresh(), group="round", exclusive=True)

    async def _begin_afresh(self) -> None:
        from witnessmark.app.resume import begin  # noqa: PLC0415

        room, setup_id, setup = self.app.opening.name, await self.app.save(), self.app.draft.setup
        if setup_id is None or setup is None:
            return
        try:
            taken = await begin(self.app.journal, setup_id, setup, self.app.clock())
        except WitnessmarkError as error:
            self._fail(error)
        else:
            self._bring(self.TookUp(taken, room))

    def action_press_button(self) -> None:
        """Have the simulated person shoot the prompted shot."""
        if self.app.rehearsal and self.guidance:
            self.app.rehearsal.press_button(self.guidance.prompt.kind)

    def action_nudge(self) -> None:
        """Have simulated hands make the nudge that is asked for."""
        if self.app.rehearsal and self.guidance and (move := self.guidance.asked):
            self.app.rehearsal.nudge(self.guidance.side, move)
            self._nudged = True
            self.query_one(MeterLine).say("nudged by simulated hands; now shoot again")
            self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what makes sense now."""
        guidance = self.guidance
        if action == "press_button":
            return self.app.rehearsal is not None
        if action == "nudge":
            asked = guidance is not None and guidance.asked is not None
            return self.app.rehearsal is not None and asked and not self._nudged
        if action == "decide":
            return guidance is not None and parameters[0] in guidance.offered
        return True
