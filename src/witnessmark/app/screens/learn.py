"""Teaching: what a meter sends at known distances, until that says how to read it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import msgspec
from textual import on
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Input, Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.lesson_words import (
    Ear,
    asks_for_distance,
    learnt_words,
    next_words,
    shown_words,
)
from witnessmark.app.meter_options import with_profile
from witnessmark.app.screens.meter_aside import MeterAsideScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.entry import LengthEntry
from witnessmark.app.widgets.text_input import ProfileNameInput
from witnessmark.errors import BadInput, WitnessmarkError
from witnessmark.lengths import Units, format_length
from witnessmark.meters.address import Address
from witnessmark.meters.capture import OffersRawFrames, RawFrame
from witnessmark.meters.lesson import Lesson, over_transport, told_error
from witnessmark.meters.listening import Listening, listening_to
from witnessmark.meters.profiles import save_profile
from witnessmark.placing.walk import edge_words

if TYPE_CHECKING:
    from textual.app import ComposeResult

_FIRST_NAME: Final = "my-meter"
_HOW = (
    "Measure with a tape from a bare wall to a mark on the floor, 1 to 2 m away: that is the first "
    "known distance. Make a second mark a known step further away, half a metre or more: both "
    "together are the next. Hold {edge} on the mark, and fire square to the wall."
)


class LearnScreen(MeterAsideScreen):
    """Asks for a known distance, waits for its shot, and goes on until the decoding is clear."""

    STEP = Aside.LEARN
    BINDINGS = bindings_for(STEP)
    ADVICE = "Measure two or three distances that you know: what comes then teaches it."
    DEFAULT_CSS = """
    LearnScreen {
        #shown, #learnt { height: auto; color: $text-muted; margin-bottom: 1; }
        #ask { height: auto; text-style: bold; color: $accent; margin-bottom: 1; }
        #keep { height: auto; }
    }
    """

    @dataclass
    class Ready(Message):
        """The meter is open, and what it says by itself is known; ``streams`` if it never stops."""

        streams: bool

    @dataclass
    class Shot(Message):
        """What one press of the meter's button brought."""

        frames: tuple[RawFrame, ...]

    @dataclass
    class Taught(Message):
        """What the shots so far teach."""

        lesson: Lesson

    def __init__(self) -> None:
        super().__init__()
        self.lesson = Lesson()
        self.awaited_mm: float | None = None
        self._driver: OffersRawFrames | None = None
        self._ear = Ear.CONNECTING
        self._listens = asyncio.Event()

    @property
    def _units(self) -> Units:
        units = self.app.draft.units
        return Units.TENTH_MM if units is Units.MM else units

    def fields(self) -> ComposeResult:
        """What was shown, what comes next, what was learnt, the name to keep it under."""
        yield Static(id="shown")
        yield LengthEntry(
            "Known distance",
            units=self._units,
            least_mm=50,
            hint="Enter, then press the meter's button.",
            id="known",
        )
        yield Static(id="ask")
        yield Static(id="learnt")
        with Vertical(id="keep"):
            yield ProfileNameInput(
                "Name", _FIRST_NAME, hint="Under this name it is kept, and chosen.", id="name"
            )

    def aside(self) -> ComposeResult:
        """How known distances are made."""
        yield Static(_HOW.format(edge=edge_words(self.app.draft.meter.edge)))

    async def with_the_meter(self) -> None:
        """Open it and hear one shot after another."""
        try:
            driver = self.app.open_driver(self._bare_address.text)
            if not isinstance(driver, OffersRawFrames):
                raise BadInput(
                    f"{driver.address.text}: there is nothing to learn here; go back and choose "
                    "a meter on a serial port or Bluetooth"
                )
            self._driver = driver
            async with listening_to(driver) as meter:
                await meter.settle()
                self.post_message(self.Ready(streams=False))
                await self._hear(meter)
        except WitnessmarkError as error:
            self.post_message(self.Failed(str(error)))

    async def _hear(self, meter: Listening) -> None:
        try:
            while True:
                self.post_message(self.Shot(await meter.shot()))
        except BadInput:  # it never falls quiet, so the person has to say when
            self.post_message(self.Ready(streams=True))
        while True:
            await self._listens.wait()
            self._listens.clear()
            self.post_message(self.Shot(await meter.stretch()))

    @property
    def _bare_address(self) -> Address:
        address = Address.parse(self.app.opening.meter_address)
        return address.with_options(profile=None, unit=None)

    def on_mount(self) -> None:
        """Say what comes first."""
        self._show()

    async def action_afresh(self) -> None:
        """Forget what was shown, connect once more and begin again."""
        await self.stop()
        self.lesson, self.awaited_mm, self._ear = Lesson(), None, Ear.CONNECTING
        self._listens.clear()
        self.tell("")
        self._show()
        self.begin()

    @on(Ready)
    def _be_ready(self, event: Ready) -> None:
        self._ear = Ear.WHEN_TOLD if event.streams else Ear.READY
        if event.streams:
            self.awaited_mm = None
            self.tell("It sends all the time: hold it at the distance while you press Enter.")
        self._show()

    @on(MeterAsideScreen.Failed)
    def _give_up(self) -> None:
        self._ear, self.awaited_mm = Ear.CUT_OFF, None
        self._show()

    @on(LengthEntry.Entered)
    def _wait_for(self, event: LengthEntry.Entered) -> None:
        alike_mm = self.lesson.too_like(event.value - self._added_mm)
        if alike_mm is not None:
            other = self._said(alike_mm + self._added_mm)
            self.tell(f"That is too much like {other}: make it 100 mm different or more.")
            return
        self.awaited_mm = event.value
        if self._ear is Ear.WHEN_TOLD:
            self._listens.set()
        self.tell("")
        self._show()

    @property
    def _added_mm(self) -> float:
        """What makes of the meter's number a known distance."""
        return self.app.draft.meter.added_mm

    @on(Shot)
    def _take(self, event: Shot) -> None:
        known_mm = self.awaited_mm
        if known_mm is None:
            self.tell(self._about_further(event.frames))
        elif told := told_error(event.frames):
            self.tell(f"The meter says {told}: measure {self._said(known_mm)} once more.")
        else:
            self.awaited_mm = None
            self.run_worker(self._learn(known_mm - self._added_mm, event.frames), group="learn")

    def _about_further(self, frames: tuple[RawFrame, ...]) -> str:
        """What to say of a shot that was not asked for; it shows how well the meter is read."""
        if self.lesson.profile is None:
            return "That shot is not used: type first how long it is."
        read = " and ".join(self._said(mm + self._added_mm) for mm in self.lesson.reads(frames))
        return f"By what was learnt, that shot is {read or 'no distance'}."

    async def _learn(self, known_mm: float, frames: tuple[RawFrame, ...]) -> None:
        lesson = await asyncio.to_thread(self.lesson.with_shot, known_mm, frames)
        self.post_message(self.Taught(lesson))

    @on(Taught)
    def _know(self, event: Taught) -> None:
        self.lesson = event.lesson
        self.tell("")
        self._show()

    def _show(self) -> None:
        lesson, units = self.lesson, self._units
        self._put("#shown", shown_words(lesson, self._added_mm, units))
        self._put("#ask", next_words(lesson, self._ear, self.awaited_mm, units))
        self._put("#learnt", learnt_words(lesson))
        self.query_one("#keep").display = lesson.profile is not None
        entry = self.query_one("#known", LengthEntry)
        entry.display = asks_for_distance(lesson, self._ear, self.awaited_mm)
        if entry.display:
            entry.query_one(Input).focus()
        elif lesson.profile:
            self.query_one("#name", ProfileNameInput).query_one(Input).focus()
        self.refresh_bindings()

    def _put(self, selector: str, words: str) -> None:
        line = self.query_one(selector, Static)
        line.update(words)
        line.display = bool(words)

    def _said(self, mm: float) -> str:
        return format_length(mm, self._units)

    async def action_save(self) -> None:
        """Keep the profile, and read the meter by it from now on."""
        learnt, name = self.lesson.profile, self.query_one("#name", ProfileNameInput)
        if learnt is None or self._driver is None or name.value is None:
            name.complain()
            self.app.bell()
            return
        count = len(self.lesson.samples)
        about = f"Learnt on {self.app.clock():%Y-%m-%d} from {count} known distances"
        profile = msgspec.structs.replace(learnt.profile, about=about)
        try:
            file = save_profile(
                name.value, over_transport(profile, self._driver.transport(learnt.channel))
            )
        except WitnessmarkError as error:
            self.tell(str(error), wrong=True)
            return
        address = with_profile(self._bare_address, name.value)
        self.app.opening = msgspec.structs.replace(self.app.opening, meter_address=address.text)
        self.notify(f"Kept as {file}, and chosen.")
        await self.action_leave()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """There is something to save once something was learnt."""
        if action == "save":
            return self.lesson.profile is not None
        return super().check_action(action, parameters)
