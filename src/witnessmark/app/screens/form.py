"""The screens with a form: one beside a step, one that measures, a step, one of the evening."""

from __future__ import annotations

import abc
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from textual import getters, on
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Button, Static

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.following import Happened, follow, is_going
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field, fields_in
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.numbers import LengthEntry
from witnessmark.app.steps import Aside, Place, Step
from witnessmark.app.widgets.bars import KeyBar, StepStrip
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import BadInput
from witnessmark.model import Reading
from witnessmark.sentences import listed
from witnessmark.session.by_keyboard import keyboard_unit, typed_reading
from witnessmark.session.events import Came, Failed, Guided, LinkChanged, Part
from witnessmark.words.cautions import LASER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from witnessmark.lengths import Units
    from witnessmark.model import Setup
    from witnessmark.placing.guidance import Guidance
    from witnessmark.session.session import Session


_LESS = "Ctrl+X shows fewer fields."


class FormScreen(Screen[None]):
    """Advice, a form, what stands beside it, what there is to say of both, and the keys.

    A subclass gives its ``fields``, and whatever else of these it has. What is too long for its
    place scrolls.
    """

    STEP: ClassVar[Place]
    ADVICE: ClassVar[str] = ""
    app = getters.app(WitnessmarkApp)
    DEFAULT_CSS = """
    FormScreen {
        #advice { padding: 0 1; text-style: bold; height: auto; margin-bottom: 1; }
        #body { height: 1fr; }
        #form { padding: 0 1; scrollbar-size-vertical: 1; }
        #aside { width: 1fr; padding: 0 1 0 0; scrollbar-size-vertical: 1; }
        #told { height: auto; max-height: 5; padding: 0 1; }
        #told.-wrong { color: $text-error; text-style: bold; }
    }
    """

    @dataclass
    class NotDone(Message):
        """What was asked for could not be done; ``why`` is a sentence that says so."""

        why: str

    @abc.abstractmethod
    def head(self) -> ComposeResult:
        """Return what stands above all else: which screen this is."""

    @abc.abstractmethod
    def fields(self) -> ComposeResult:
        """Return what stands in the form."""

    def aside(self) -> ComposeResult:
        """Yield what stands beside the form."""
        yield from ()

    def cautions(self) -> ComposeResult:
        """Yield what can hurt, below that."""
        yield from ()

    def foot(self) -> ComposeResult:
        """Yield what stands right above the keys."""
        yield from ()

    def compose(self) -> ComposeResult:
        yield from self.head()
        yield Plain(self.ADVICE, id="advice")
        with Horizontal(id="body"):
            with VerticalScroll(id="form", can_focus=False):
                yield from self.fields()
            with Vertical(id="aside"):
                yield from self.aside()
                yield from self.cautions()
        yield Plain(id="told")
        yield from self.foot()
        yield KeyBar()

    def on_mount(self) -> None:
        """Offer to scroll as soon as, and only while, there is more than can be seen."""
        for part in self._parts():
            for what in ("virtual_size", "show_vertical_scrollbar"):
                self.watch(part, what, self.refresh_bindings, init=False)

    @property
    def session(self) -> Session:
        """The evening, apart from screens."""
        return self.app.session

    @property
    def setup(self) -> Setup:
        """The setup as it is now; for screens that are not reached before there is one."""
        setup = self.session.draft.setup
        if setup is None:
            raise RuntimeError("room, seat and cabinets come before this")
        return setup

    def action_scroll_form(self, pages: int) -> None:
        for part in self._parts():
            part.scroll_relative(y=pages * part.size.height, animate=False)

    def tell(self, words: str, *, wrong: bool = False) -> None:
        """Say what there is to say now."""
        line = self.query_one("#told", Static)
        if line.content != words:
            line.update(words)
        line.set_class(wrong, "-wrong")

    @on(NotDone)
    def _complain(self, event: NotDone) -> None:
        self.tell(event.why, wrong=True)

    def are_settled(self, missing: Sequence[Field[Any]]) -> bool:
        """Return whether no field needs anything; else point out which do, and go to the first."""
        for field in missing:
            field.complain()
        if missing:
            missing[0].focus()
            self.app.bell()
        return not missing

    def action_leave_field(self) -> None:
        self.set_focus(None)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "leave_field":
            return self.focused is not None
        if action == "scroll_form":
            return any(part.max_scroll_y > 0 for part in self._parts())
        return True

    def _parts(self) -> list[Widget]:
        return [self.query_one("#form"), self.query_one("#aside")]


class AsideScreen(FormScreen):
    """A form for something beside the steps, which goes back to where it was opened."""

    STEP: ClassVar[Aside]
    DEFAULT_CSS = """
    AsideScreen {
        #title { height: 1; background: $panel; padding: 0 1; text-style: bold; color: $accent; }
        #form { width: 55%; max-width: 76; }
        #aside { overflow-y: auto; }
        #aside > Static { height: auto; margin-bottom: 1; }
    }
    """

    @property
    def heading(self) -> str:
        """What the screen is called."""
        return self.STEP.heading

    def head(self) -> ComposeResult:
        yield Plain(self.heading, id="title")

    async def action_leave(self) -> None:
        self.dismiss()


class FollowingScreen(AsideScreen):
    """Tells of the pair as it stands, and follows the round that goes on meanwhile."""

    @abc.abstractmethod
    def show_standing(self, guidance: Guidance) -> None:
        """Show what there is to say of the pair now."""

    def on_mount(self) -> None:
        self._leave = follow(self.session, Part.ROUND, self.query_one("#told"))

    def on_unmount(self) -> None:
        self._leave()

    @on(Happened)
    def _follow(self, event: Happened) -> None:
        event.stop()
        if is_going(self):
            return
        match event.what:
            case Guided(guidance=guidance):
                self.show_standing(guidance)
            case Failed(why=why):
                self.tell(why, wrong=True)


class MeasuringScreen(AsideScreen):
    """Readings come by the meter's button or are typed, and belong to no round.

    A subclass takes them one by one in ``take``.
    """

    @abc.abstractmethod
    def take(self, reading: Reading) -> None:
        """Take a reading that is in the journal."""

    def cautions(self) -> ComposeResult:
        yield Plain(f"! Laser. {LASER}")

    def foot(self) -> ComposeResult:
        yield MeterLine(self.session.workspace.meter_address, lambda: self.session.draft.units)

    def on_mount(self) -> None:
        self._leave = follow(self.session, Part.ASIDE, self.query_one(MeterLine))
        self.session.listen_for(Part.ASIDE)

    def on_unmount(self) -> None:
        self._leave()

    def reading_entry(
        self, units: Units, hint: str = "Type what the meter shows, then Enter."
    ) -> LengthEntry:
        """Return the field for a reading that is typed; it is taken as one of the meter's is."""
        return LengthEntry(
            "Or type it",
            units=units,
            bare_unit=keyboard_unit(self.session.workspace.meter_address),
            hint=hint,
            id="reading",
        )

    def typed(self, distance_mm: float, text: str) -> Reading:
        """Return the reading for what was typed."""
        meter, at = self.session.workspace.meter_address, self.session.clock()
        return typed_reading(distance_mm, text, at, meter)

    @on(LengthEntry.Entered, "#reading")
    def _journal_typed(self, event: LengthEntry.Entered) -> None:
        reading = self.typed(event.value, event.text)
        self.run_worker(self.session.record(reading, Part.ASIDE), group="typed")

    @on(Happened)
    def _follow(self, event: Happened) -> None:
        event.stop()
        if is_going(self):
            return
        match event.what:
            case LinkChanged():
                self.refresh_bindings()  # whether the meter can be asked
            case Came(what=Reading() as reading):
                self.take(reading)
            case Failed(why=why):
                self.tell(why, wrong=True)

    async def action_leave(self) -> None:
        """Go back to where this was opened; what comes then is the round's."""
        self.dismiss()
        self.session.listen_for(Part.ROUND)


class StepScreen(FormScreen):
    """A form for one step. Each change goes to the app as soon as the whole form makes sense.

    A subclass says what to do (``ADVICE``), gives its ``fields`` and takes them over in ``apply``.
    """

    STEP: ClassVar[Step]
    DEFAULT_CSS = """
    StepScreen {
        #form { width: 60%; max-width: 66; }
        #told { color: $text-error; display: none; }
        #told.-shown { display: block; }
        #next { margin: 0 1; width: auto; }
        #more { color: $text-muted; height: auto; margin-top: 1; }
    }
    """

    FOLDED: ClassVar[str] = ""
    """What may be put away until more is asked for, in words; empty where nothing is."""

    def __init__(self) -> None:
        super().__init__()
        self.problem = ""

    @property
    def is_unfolded(self) -> bool:
        """Whether the fields are shown that a newcomer does not need."""
        return not self.FOLDED or self.STEP in self.app.unfolded

    def action_more(self) -> None:
        """Show all fields, or put away again what a newcomer does not need."""
        self.app.unfolded ^= {self.STEP}
        self.fold()

    def fold(self) -> None:
        """Put away what is not needed, or show it; a subclass says which fields that is."""
        self._tell_of_fold()

    @property
    def in_fold(self) -> str:
        """The fields that are put away, in words."""
        return self.FOLDED

    def changed_in_fold(self) -> Sequence[str]:
        """Return in words what is put away and not as it usually is."""
        return ()

    def more(self) -> Plain:
        """Return the row that tells of what is put away."""
        return Plain(id="more")

    def _tell_of_fold(self) -> None:
        if not self.FOLDED:
            return
        words = _LESS
        if not self.is_unfolded:
            changed = self.changed_in_fold()
            changes = f" Changed: {listed(changed)}." if changed else ""
            words = f"Put away: {self.in_fold}.{changes} Ctrl+X shows them."
        self.query_one("#more", Static).update(words)

    @abc.abstractmethod
    def apply(self) -> Sequence[str]:
        """Give the app what the fields hold; called when all visible fields are settled.

        Returns what is worth telling about it, a sentence each; none of that keeps anybody here.

        Raises:
            BadInput: when the fields do not fit together.
        """

    def head(self) -> ComposeResult:
        yield StepStrip(self.STEP)

    def foot(self) -> ComposeResult:
        yield Button(
            Content(f"Next: {self.STEP.after.heading}  (Ctrl+N)"),
            id="next",
            variant="primary",
            action="screen.next",
            compact=True,
        )

    def on_mount(self) -> None:
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
            return f"{self.STEP.heading}: entries missing or wrong there were not saved."
        return ""

    @on(FormView.Changed)
    @on(Choice.Changed)
    def take_over(self) -> None:
        """Give the app what the form holds, if it makes sense, and say so if it does not."""
        self.problem = ""
        if not self.open_fields:
            try:
                self.show_remarks(self.apply())
            except BadInput as error:
                self.problem = f"✗ {error}"
                self.show_told(self.problem)
        else:
            self.show_told("")
        self._tell_of_fold()

    def show_remarks(self, sentences: Sequence[str]) -> None:
        """Show what is worth telling, a sentence a line."""
        self.show_told("\n".join(f"! {sentence}" for sentence in sentences))

    def show_told(self, told: str) -> None:
        """Show what is to be said about the form as a whole."""
        line = self.query_one("#told", Static)
        line.update(told)
        line.set_class(bool(told), "-shown")

    def action_next(self) -> None:
        if not self.are_settled(self.open_fields):
            return
        if self.problem:
            self.app.bell()
            return
        self.take_over()
        if not self.problem:
            self.app.go(self.STEP.after)

    def action_back(self) -> None:
        self.app.go(self.STEP.before)


class EveningScreen(FormScreen):
    """A step that is come back to all evening; what is kept on it goes to the store at once.

    A subclass gives its ``fields`` and what stands beside them.
    """

    STEP: ClassVar[Step]
    AUTO_FOCUS = ""  # letters and digits are keys until a field is gone to
    DEFAULT_CSS = """
    EveningScreen {
        #form { width: 50%; max-width: 66; }
        #aside { overflow-y: auto; }
        #aside > Static { height: auto; margin-bottom: 1; }
    }
    """

    def head(self) -> ComposeResult:
        yield StepStrip(self.STEP)

    def show_notice(self, words: str, *, wrong: bool = False) -> None:
        """Show a notice until the next one."""
        self.tell(words, wrong=wrong)

    def action_dim(self) -> None:
        self.app.turn_dim()
