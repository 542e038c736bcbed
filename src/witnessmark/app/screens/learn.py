"""Teaching: what a meter sends at known distances, until that says how to read it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import msgspec
from textual import on
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.following import stop_group
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.meter import LEAFLET, Leaflet, asking
from witnessmark.app.forms.numbers import LengthEntry
from witnessmark.app.forms.texts import ProfileNameInput
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import BadInput, WitnessmarkError
from witnessmark.lengths import Units
from witnessmark.meters.address import Address
from witnessmark.meters.capture import Question, RawFrame
from witnessmark.meters.driver_faults import DriverFailed
from witnessmark.meters.lesson import Lesson, finished, told_error, with_step
from witnessmark.meters.profile_folder import replaced_words, save_profile
from witnessmark.model.limits import KNOWN_DISTANCE
from witnessmark.sentences import sentence
from witnessmark.session.events import Part
from witnessmark.session.meter_options import with_profile
from witnessmark.session.taught_meter import TaughtMeter, TaughtMeterEvent
from witnessmark.words.cautions import LASER
from witnessmark.words.holding import edge_words
from witnessmark.words.lesson import (
    FAILS_SILENTLY,
    FAILURE_KNOWN,
    HOW_TO_KNOW,
    SENDS_ALL_THE_TIME,
    TYPE_DISTANCE_FIRST,
    LessonState,
    ListeningState,
    entry_hint,
    further_shot_words,
    learnt_words,
    measure_again_words,
    next_words,
    offer_words,
    shown_words,
    too_close_words,
)

if TYPE_CHECKING:
    from textual.app import ComposeResult

_METER: Final = "meter"
_FIRST_NAME: Final = "my-meter"


class LearnScreen(AsideScreen):
    """Asks for a known distance, waits for its shot, and goes on until the decoding is clear."""

    STEP = Aside.LEARN
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Measure two or three distances that you know: the program learns from what "
        "the meter sends."
    )
    DEFAULT_CSS = """
    LearnScreen {
        #shown, #learnt, #offer { height: auto; color: $text-muted; margin-bottom: 1; }
        #ask { height: auto; text-style: bold; color: $accent; margin-bottom: 1; }
    }
    """

    @dataclass
    class Heard(Message):
        """The meter of the lesson is ready, brought a shot, or said nothing."""

        what: TaughtMeterEvent

    @dataclass
    class CannotTeach(Message):
        """The meter cannot be had, or there is nothing to learn from it; ``why`` says so."""

        why: str

    @dataclass
    class Taught(Message):
        """What the shots so far teach; ``note`` is what else there is to say."""

        lesson: Lesson
        note: str = ""

    def __init__(self) -> None:
        super().__init__()
        self.state = LessonState()
        self._meter = TaughtMeter(lambda what: self.post_message(self.Heard(what)))
        self._profile_name = ProfileNameInput(
            "Name", _FIRST_NAME, hint="It is saved and chosen under this name.", id="name"
        )
        self._asking: FormView[Question]
        self._leaflet: FormView[Leaflet]
        self._known: LengthEntry

    @property
    def lesson(self) -> Lesson:
        """What has been shown so far, and what that teaches."""
        return self.state.lesson

    @property
    def _units(self) -> Units:
        return self.session.draft.units.finer

    def fields(self) -> ComposeResult:
        yield Plain(id="shown")
        form = asking(over_bluetooth=self._bare_address.scheme == "ble")
        self._asking = FormView(form, self._units)
        self._known = LengthEntry(
            "Known distance", units=self._units, limit=KNOWN_DISTANCE, id="known"
        )
        self._leaflet = FormView(LEAFLET, self._units, id="leaflet")
        yield self._asking
        yield self._known
        yield Plain(id="ask")
        yield Plain(id="offer")
        yield Plain(id="learnt")
        yield self._profile_name
        yield self._leaflet

    def aside(self) -> ComposeResult:
        yield Plain(HOW_TO_KNOW.format(edge=edge_words(self.session.draft.meter.edge)))

    def cautions(self) -> ComposeResult:
        yield Plain(f"! Laser. {LASER}")

    def _begin(self) -> None:
        self.run_worker(self._hear(), name=self.STEP, group=_METER)

    async def _hear(self) -> None:
        """Open the meter and hear one shot after another."""
        try:
            driver = await self.session.lend_meter(self._bare_address.text)
            await self._meter.hear(driver, self._leave_behind)
        except WitnessmarkError as error:
            self.post_message(self.CannotTeach(str(error)))

    def _leave_behind(self, failed: DriverFailed) -> None:
        self.app.notify(str(failed), severity="error", markup=False)

    @property
    def _bare_address(self) -> Address:
        address = Address.parse(self.session.workspace.meter_address)
        return address.with_options(profile=None, unit=None)

    def on_mount(self) -> None:
        self._show()
        self._begin()

    async def action_afresh(self) -> None:
        await stop_group(self, _METER)
        self.tell("")
        self._show(LessonState(is_asked=self.state.is_asked))
        self._begin()

    @on(Heard)
    def _go_on(self, event: Heard) -> None:
        match event.what:
            case TaughtMeter.Ready():
                self._be_ready(event.what)
            case TaughtMeter.ShotFrames():
                self._take(event.what)
            case TaughtMeter.Silence():
                self._miss(event.what)

    def _be_ready(self, event: TaughtMeter.Ready) -> None:
        listening = ListeningState.WHEN_TOLD if event.streams else ListeningState.READY
        if event.streams:
            self.tell(SENDS_ALL_THE_TIME)
        self._show(self.state._replace(listening=listening, awaited_mm=None, awaits_failure=False))

    @on(CannotTeach)
    def _give_up(self, event: CannotTeach) -> None:
        self.tell(event.why, wrong=True)
        self._show(
            self.state._replace(
                listening=ListeningState.CUT_OFF, awaited_mm=None, awaits_failure=False
            )
        )

    @on(FormView.Changed)
    def _be_asked_or_not(self) -> None:
        request = self._asking.field("request")
        is_asked = request.value is not None or request.problem is not None
        self.state = self.state._replace(is_asked=is_asked)
        self._known.hint = entry_hint(self.state)

    @on(LengthEntry.Entered)
    def _wait_for(self, event: LengthEntry.Entered) -> None:
        alike_mm = self.lesson.too_like(event.value - self._added_mm)
        if alike_mm is not None:
            self.tell(too_close_words(alike_mm + self._added_mm, self._units))
            return
        if self._has_it_measure():
            self.tell("")
            self._show(self.state._replace(awaited_mm=event.value))
        else:
            event.entry.put(event.value)

    def _has_it_measure(self) -> bool:
        """Ask a meter that waits for it, listen to one that never stops; whether that can be."""
        try:
            # all shots of a lesson are asked for alike, for that is how they will be later
            is_begun = bool(self.lesson.samples)
            self._meter.measure(self._meter.question if is_begun else self._question)
        except WitnessmarkError as error:
            self.tell(str(error), wrong=True)
            return False
        return True

    @property
    def _question(self) -> Question | None:
        """By what the meter is asked; None: by nothing."""
        question = self._asking.record
        return question if self._asking.values["request"] else None

    def action_fail(self) -> None:
        if self.state.awaits_failure:
            self._show(self.state._replace(awaits_failure=False))
        elif self._has_it_measure():
            self.tell("")
            self._show(self.state._replace(awaits_failure=True))

    @property
    def _added_mm(self) -> float:
        """What makes of the meter's number a known distance."""
        return self.session.draft.meter.added_mm

    def _take(self, event: TaughtMeter.ShotFrames) -> None:
        known_mm = self.state.awaited_mm
        if self.state.awaits_failure:
            self.run_worker(self._learn_failure(event.frames), group="learn")
        elif known_mm is None:
            self.tell(self._about_further(event.frames))
        elif told := told_error(event.frames):
            self._once_more(measure_again_words(told, known_mm, self._units))
        else:
            self._show(self.state._replace(awaited_mm=None))
            self.run_worker(self._learn(known_mm - self._added_mm, event.frames), group="learn")

    def _miss(self, event: TaughtMeter.Silence) -> None:
        if self.state.awaits_failure:
            self.tell(FAILS_SILENTLY)
            self._show(self.state._replace(awaits_failure=False, may_fail=False))
        elif self.state.awaited_mm is not None:
            self._once_more(sentence(event.why))

    def _once_more(self, words: str) -> None:
        """Say why a shot is not taken; without a button, the person types the distance again."""
        self.tell(words)
        if not self.state.has_button:
            known_mm = self.state.awaited_mm
            self._show(self.state._replace(awaited_mm=None))
            self._known.put(known_mm)

    def _about_further(self, frames: tuple[RawFrame, ...]) -> str:
        """What to say of a shot that was not asked for; it shows how well the meter is read."""
        if self.lesson.profile is None:
            return TYPE_DISTANCE_FIRST
        read_mm = [mm + self._added_mm for mm in self.lesson.reads(frames)]
        return further_shot_words(read_mm, self._units)

    async def _learn(self, known_mm: float, frames: tuple[RawFrame, ...]) -> None:
        lesson = await asyncio.to_thread(self.lesson.with_shot, known_mm, frames)
        self.post_message(self.Taught(lesson))

    async def _learn_failure(self, frames: tuple[RawFrame, ...]) -> None:
        try:
            lesson = self.lesson.with_limits(self._leaflet.record.limits)
            lesson = await asyncio.to_thread(lesson.with_failure, frames)
        except BadInput as error:
            self.post_message(self.Taught(self.lesson, sentence(str(error))))
        else:
            self.post_message(self.Taught(lesson, FAILURE_KNOWN))

    @on(Taught)
    def _know(self, event: Taught) -> None:
        self.tell(event.note)
        may_fail = self.state.may_fail and not event.lesson.has_failed
        self._show(
            self.state._replace(lesson=event.lesson, awaits_failure=False, may_fail=may_fail)
        )

    def _show(self, state: LessonState | None = None) -> None:
        self.state = state = state or self.state
        units = self._units
        self._put("#shown", shown_words(state.lesson, self._added_mm, units))
        self._put("#ask", next_words(state, units))
        self._put("#offer", offer_words(state))
        self._put("#learnt", learnt_words(state.lesson))
        self._profile_name.display = state.lesson.profile is not None
        self._leaflet.display = self._profile_name.display
        self._asking.display = not state.lesson.samples and state.listening is ListeningState.READY
        entry = self._known
        entry.display, entry.hint = state.asks_for_distance, entry_hint(state)
        if entry.display:
            entry.focus()
        elif state.lesson.profile:
            self._profile_name.focus()
        self.refresh_bindings()

    def _put(self, selector: str, words: str) -> None:
        line = self.query_one(selector, Static)
        line.update(words)
        line.display = bool(words)

    async def action_save(self) -> None:
        learnt, name = self.lesson.profile, self._profile_name
        if learnt is None or name.value is None:
            name.complain()
            self.app.bell()
            return
        try:
            transport = self._meter.transport(learnt.channel)
            lesson = self.lesson.with_limits(self._leaflet.record.limits)
            profile = finished(lesson, learnt, transport, self.session.clock())
            replaced = replaced_words(name.value)
            file = save_profile(name.value, profile)
        except WitnessmarkError as error:
            self.tell(str(error), wrong=True)
            return
        address = with_profile(self._bare_address, name.value)
        self.session.workspace = msgspec.structs.replace(
            self.session.workspace, meter_address=address.text
        )
        draft = self.session.draft
        self.session.workspace = msgspec.structs.replace(
            self.session.workspace,
            draft=msgspec.structs.replace(draft, meter=with_step(draft.meter, learnt.step_mm)),
        )
        also = f" {sentence(replaced)}" if replaced else ""
        self.notify(f"Saved as {file} and chosen.{also}")
        await self.action_leave()

    async def action_leave(self) -> None:
        """Give the meter back and go back to where this was opened."""
        await stop_group(self, _METER)
        self.dismiss()
        self.session.listen_for(Part.ROUND)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "save":
            return self.lesson.profile is not None
        if action == "fail":
            return self.state.takes_failure
        return super().check_action(action, parameters)
