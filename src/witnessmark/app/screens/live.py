"""Measuring and nudging, driven by the meter's button: the last step.

The session journals readings and works out what follows; this screen shows that, and hands on what
is typed. It stays alive while another is in front of it, so that the bell rings all the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import msgspec
from msgspec import UNSET
from textual import events, getters, on
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.css.scalar import Scalar
from textual.screen import Screen
from textual.widgets import Static

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.commands import act_words, bindings_for, key_to
from witnessmark.app.following import Happened, follow, is_going
from witnessmark.app.steps import Step
from witnessmark.app.widgets.bars import KeyBar, StepStrip
from witnessmark.app.widgets.big_figures import BigFigures, WatchScale
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.typed_entry import TypedEntry
from witnessmark.geometry.verdict import Verdict
from witnessmark.meters.address import Address
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import BY_TAPE, Act, Decision, Reading, SetupChanged, Side
from witnessmark.phone.meter import MeterSeen
from witnessmark.session.by_keyboard import line_report, typed_reading
from witnessmark.session.events import (
    Came,
    DecidedOnPhone,
    Failed,
    Guided,
    LinkChanged,
    Part,
    RoundBegun,
)
from witnessmark.words.cautions import LASER
from witnessmark.words.live_notices import (
    BELL_RINGS,
    BELL_SILENT,
    CONFIRM_NEW_ROUND,
    LISTEN_OR_MARK,
    NEW_ROUND_BEGUN,
    NUDGE_SIMULATED,
    ROUND_CONTINUED,
    ROUND_ELSEWHERE,
    USED_AS_TAPE,
    choice_words,
    decided_on_phone_words,
)

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.placing.guidance import Guidance
    from witnessmark.session.session import Session
    from witnessmark.words.live import Said

_LEAST_SENTENCES = 5
"""Rows that sentences take where there are few, but for what must be told."""
_BOTH_COLUMNS = 72
"""Columns from which on there is room for the plan beside the picture of the shot."""
_BETWEEN_BELLS_S = 0.25
"""Terminals make one of bells that follow sooner."""


class FittedLines(Plain):
    """Lines that are chosen for as many rows as there are."""

    _lines: Callable[[int], Content] | None = None

    def put(self, lines: Callable[[int], Content]) -> None:
        """Show what ``lines`` gives for the number of rows."""
        self._lines = lines
        self.on_resize()

    def on_resize(self) -> None:
        content = self._lines(self.size.height) if self._lines else Content()
        if content != self.content:
            self.update(content, layout=False)


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
        #headline { text-style: bold; text-align: center; }
        #details { text-align: center; }
        #body { height: 1fr; }
        #status { height: 1fr; }
        #pictures { width: 1fr; margin-right: 1; }
        #shot { width: 1fr; max-width: 44; margin-left: 1; }
        #notice { padding: 0 0 0 1; color: $text-warning; }
        #notice.-wrong { color: $text-error; text-style: bold; }
    }
    """

    app = getters.app(WitnessmarkApp)

    def __init__(self) -> None:
        super().__init__()
        self._nudged = False
        self._offered: tuple[object, ...] | None = None
        self._notice, self._is_wrong = "", False
        self._said: Said | None = None
        self._with_next = ""
        """The notice that comes with the next event."""
        self._has_read = False
        self._meter = MeterSeen()
        self._is_furnished = False

    @property
    def session(self) -> Session:
        """The evening, apart from screens."""
        return self.app.session

    @property
    def guidance(self) -> Guidance | None:
        """What there is to do now, once a round is under way."""
        live = self.session.live
        return live.guidance if live else None

    def compose(self) -> ComposeResult:
        # one container, so that painting the meter's digits passes over all that is in it
        with Vertical(id="guidance"):
            yield StepStrip(self.STEP)
        yield MeterLine(self.session.workspace.meter_address, lambda: self.session.draft.units)
        yield TypedEntry()
        yield KeyBar()

    def on_mount(self) -> None:
        self._leave = follow(self.session, Part.ROUND, self.query_one(MeterLine))
        self.run_worker(self._furnish(), name="furnish")

    async def _furnish(self) -> None:
        """Mount what shows the guidance: without it, the first frame is painted sooner."""
        await self.app.painted.wait()
        await self.query_one("#guidance").mount(
            BigFigures(id="figures"),
            WatchScale(),
            Plain(id="headline"),
            Plain(id="notice"),
            Plain(id="details"),
            Horizontal(
                Horizontal(PlanView(id="plan"), PlanView(id="shot"), id="pictures"),
                FittedLines(id="status"),
                id="body",
            ),
        )
        self._is_furnished = True
        if self.guidance is not None:
            self._show(self.guidance)

    def on_unmount(self) -> None:
        self._leave()

    @on(events.ScreenResume)
    def resume(self) -> None:
        """Go on with the round, with the setup and the meter as they are chosen now."""
        self.app.clear_notifications()  # no message of the screen before lies over the figures
        if notice := self.app.take_notice():
            self.show_notice(notice)
        self.run_worker(self._go_on(), name="resume", group="round")

    async def _go_on(self) -> None:
        await self.app.painted.wait()
        await self.session.resume()

    @on(Happened)
    def _follow(self, event: Happened) -> None:
        event.stop()
        if is_going(self):
            return
        match event.what:
            case LinkChanged(link=link):
                self._see(link)
                self.refresh_bindings()  # whether the meter can be asked
            case Came(what=what):
                self._come(what)
                self._see(what)
                if isinstance(what, Noise) and what.bare is not UNSET:
                    self._ask_for_unit(what.bare)
            case RoundBegun() as begun:
                self._begin(begun)
            case Guided(guidance=guidance, cue=cue):
                self._show(guidance)
                if cue and not self.session.workspace.silent:
                    self._ring(cue.bells)
            case DecidedOnPhone(act=act):
                self.query_one(MeterLine).say(decided_on_phone_words(act_words()[act].label))
            case Failed(why=why):
                self.query_one(MeterLine).say(why)
                self.notify(why, severity="error", timeout=10)

    def _come(self, what: object) -> None:
        """Take note of what came; where it leads follows."""
        self._has_read = self._has_read or isinstance(what, Reading)
        # a revised setup follows at once on being shown; faults and noise lead nowhere
        if not isinstance(what, SetupChanged | Fault | Noise):
            self._notice, self._is_wrong = self._with_next, False
            self._with_next = ""

    def _see(self, what: object) -> None:
        """Take note of what may be about the meter; without one there is nothing to shoot with."""
        missing, self._meter = self._meter.missing, self._meter.after(what)
        if missing is not self._meter.missing and self.guidance is not None:
            self._show(self.guidance)

    def _ask_for_unit(self, bare: str) -> None:
        from witnessmark.session.meter_options import takes_unit  # noqa: PLC0415
        from witnessmark.words.live import unit_missing_words  # noqa: PLC0415

        has_unit = takes_unit(Address.parse(self.session.workspace.meter_address))
        words = unit_missing_words(bare, key_to(Step.METER), is_other=not has_unit)
        self.show_notice(words, wrong=True)

    def _begin(self, begun: RoundBegun) -> None:
        self._offered = None
        if self._notice == CONFIRM_NEW_ROUND:
            # else it was asked for before there was a round at all
            self._notice = NEW_ROUND_BEGUN if self.session.can_take_up_again else ""
        if begun.resumed:
            self._add_notice(ROUND_CONTINUED)
        elif begun.is_elsewhere:
            self._add_notice(ROUND_ELSEWHERE)
        if begun.passed_over:
            self._add_notice(begun.passed_over)
        if self.app.phone:
            self.app.phone = False
            self.action_phone()

    def _show(self, guidance: Guidance) -> None:
        """Show the round."""
        if not self._is_furnished:
            return  # it is shown once there is a place for it
        from witnessmark.app.status import status_lines, status_width  # noqa: PLC0415
        from witnessmark.words.live import say  # noqa: PLC0415
        from witnessmark.words.marks import purpose_words  # noqa: PLC0415

        setup = guidance.setup
        self._said = said = say(guidance, self._meter.missing)
        self._nudged = False
        figures = self.query_one(BigFigures)
        figures.text, figures.below = said.headline.figure, said.headline.below
        figures.set_class(bool(said.headline.below), "-two-lines")
        self.query_one(WatchScale).show(guidance)
        self._show_words()
        self._show_pictures(guidance)
        status = self.query_one("#status", FittedLines)
        status.styles.width = status_width(setup.units)
        status.put(lambda rows: status_lines(guidance, rows))
        self.query_one(MeterLine).purpose = purpose_words(setup)
        offered = (
            guidance.offered,
            guidance.asked is None,
            guidance.held is None,
            guidance.may_be_matched,
            self._offers(Act.UNDO) or self.session.can_take_up_again,
        )
        if offered != self._offered:
            self._offered = offered
            self.refresh_bindings()

    def _ring(self, times: int) -> None:
        self.app.bell()
        for more in range(1, times):
            self.set_timer(more * _BETWEEN_BELLS_S, self.app.bell)

    def show_notice(self, words: str, *, wrong: bool = False) -> None:
        """Show a notice beside the figures until the next one or the next event."""
        self._notice, self._is_wrong = words, wrong
        self._show_words()

    def _add_notice(self, words: str) -> None:
        self.show_notice(f"{self._notice} {words}".lstrip())

    def _show_words(self) -> None:
        """Show as many whole sentences as there is room for, the headline and the shot first."""
        from witnessmark.app.status import fitting  # noqa: PLC0415

        said = self._said
        if said is None:
            return
        columns, high = self.size.width, self.size.height
        laser = "" if self._has_read or self._meter.missing else LASER
        told, details = _with_choice(said, self.guidance)
        headline = fitting([*told, said.next_shot], columns, high)
        cautions = list(filter(None, (self._notice, laser, said.caution)))
        notice = fitting(cautions, columns - 1, high)
        # what is asked for and cautions are told wholly, and of the rest the first sentence
        first = fitting(details[:1], columns, high)
        left = max(_LEAST_SENTENCES, high // 5) - len(headline) - len(notice)
        most = max(len(first), min(left, max(2, high // 7)))
        shown = fitting(details, columns, most)
        self._put("#headline", "\n".join(headline), len(headline))
        self._put("#notice", "\n".join(cautions), len(notice))
        self._put("#details", "\n".join(shown), len(shown))
        self.query_one("#notice").set_class(self._is_wrong, "-wrong")

    def _put(self, name: str, content: str, rows: int) -> None:
        line = self.query_one(name, Static)
        if line.content != content:
            line.update(content, layout=False)
        if line.styles.height != Scalar.from_number(rows):
            line.display, line.styles.height = rows > 0, rows

    def _show_pictures(self, guidance: Guidance) -> None:
        """Show the plan and the shot, or the shot alone where there is no room for both."""
        from witnessmark.app.status import status_width  # noqa: PLC0415
        from witnessmark.drawing.marking import over  # noqa: PLC0415
        from witnessmark.drawing.shot import asked_marks, asked_picture  # noqa: PLC0415
        from witnessmark.drawing.standing import standing_plan  # noqa: PLC0415

        plan, shot = self.query_one("#plan", PlanView), self.query_one("#shot", PlanView)
        drawing, view = standing_plan(guidance.setup, guidance.cabinets)
        plan.show(over(drawing, asked_marks(guidance)), view)
        picture = asked_picture(guidance)
        if picture is not None:
            shot.show(*picture)
        shot.display = picture is not None
        has_room = self.size.width - status_width(guidance.setup.units) >= _BOTH_COLUMNS
        plan.display = bool(drawing.strokes) and (has_room or picture is None)

    def on_resize(self) -> None:
        if self.guidance is not None and self._said is not None:
            self._show_words()
            self._show_pictures(self.guidance)

    async def on_key(self, event: events.Key) -> None:
        """Let keys wait until it is clear who pressed them: a person, or a meter that types."""
        if await self.query_one(TypedEntry).take(event):
            event.stop()

    @on(TypedEntry.Commanded)
    async def _obey(self, event: TypedEntry.Commanded) -> None:
        if active := self.active_bindings.get(event.key):
            await self.app.run_action(active.binding.action, active.node)

    @on(TypedEntry.TypedLine)
    def _typed_by_meter(self, event: TypedEntry.TypedLine) -> None:
        address = self.session.workspace.meter_address
        at = self.session.clock()
        report = line_report(event.text, at, address, whole=event.whole)
        self.run_worker(self.session.record(report))

    @on(TypedEntry.Measured)
    def _typed(self, event: TypedEntry.Measured) -> None:
        address, at = self.session.workspace.meter_address, self.session.clock()
        reading = typed_reading(event.distance_mm, event.text, at, address)
        if event.note:
            self._with_next = event.note
        elif reading.meter == BY_TAPE and self.session.draft.meter.added_mm:
            self._with_next = USED_AS_TAPE
        self.run_worker(self.session.record(reading))

    @on(TypedEntry.NotALength)
    def _refuse(self, event: TypedEntry.NotALength) -> None:
        self.notify(event.why, severity="warning")

    def action_decide(self, act: str) -> None:
        if act == Act.UNDO and not self._offers(act):
            self.run_worker(self.session.take_up_again(), group="round")
            return
        command = Decision(Act(act), self.session.clock())
        self.run_worker(self.session.record(command))

    def _offers(self, act: str) -> bool:
        return self.guidance is not None and act in self.guidance.offered

    def action_match(self, side: str) -> None:
        """Bring one cabinet to the mirror image of the other, as the person chose."""
        self.run_worker(self.session.match(Side(side)), group="round")

    def action_phone(self) -> None:
        from witnessmark.app.screens.phone import PhoneScreen  # noqa: PLC0415

        self.app.push_screen(PhoneScreen(self.session.remote))

    def action_dim(self) -> None:
        self.app.turn_dim()

    def action_silence(self) -> None:
        silent = not self.session.workspace.silent
        self.session.workspace = msgspec.structs.replace(self.session.workspace, silent=silent)
        self.notify(BELL_SILENT if silent else BELL_RINGS)

    def action_begin_afresh(self) -> None:
        if self._notice != CONFIRM_NEW_ROUND:
            self.show_notice(CONFIRM_NEW_ROUND)
            return
        self.run_worker(self.session.begin_afresh(), group="round")

    def action_press_button(self) -> None:
        if self.app.rehearsal and self.guidance:
            self.app.rehearsal.press_button(self.guidance.prompt.kind)

    def action_nudge(self) -> None:
        guidance, rehearsal = self.guidance, self.app.rehearsal
        if guidance is None or rehearsal is None:
            return
        if guidance.watch is not None and guidance.held is not None:
            watch, now_mm = guidance.watch, guidance.held.reading_mm
            rehearsal.push(watch.kind, watch.stop_mm - now_mm, watch.about)
        elif guidance.asked is not None:
            rehearsal.nudge(guidance.side, guidance.asked)
            self._nudged = True
            self.query_one(MeterLine).say(NUDGE_SIMULATED)
            self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        guidance = self.guidance
        if action == "press_button":
            return self.app.rehearsal is not None
        if action == "nudge":
            if self.app.rehearsal is None or guidance is None:
                return False
            is_watching = guidance.watch is not None and guidance.held is not None
            return is_watching or (guidance.asked is not None and not self._nudged)
        if action == "match":
            return guidance is not None and guidance.may_be_matched
        if action == "decide":
            act = str(parameters[0])
            return self._offers(act) or (act == Act.UNDO and self.session.can_take_up_again)
        return True


def _with_choice(said: Said, guidance: Guidance | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return headline and details with the keys that lead on, where there are any.

    They come at once, but after the shot that would settle what is unsure.
    """
    headline, first, rest = said.headline.words, said.details[:1], said.details[1:]
    if guidance is None:
        return (headline,), said.details
    choice = choice_words(guidance.onward)
    if guidance.finished and not choice:
        return (f"{headline} {LISTEN_OR_MARK}",), said.details
    pair = guidance.symmetry
    if guidance.settling is not None and pair is not None and pair.worst is Verdict.UNSURE:
        return (headline,), (*first, *choice, *rest)
    return (headline, *choice), said.details
