"""What a position sounds like: graded, compared with the one before, kept, and on to the next."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from textual import on
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from witnessmark.app.app import UnsavedImpression
from witnessmark.app.commands import bindings_for, either_case
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.evening import HEARD
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens.form import EveningScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.bars import KeyBar
from witnessmark.app.widgets.big_figures import BigFigures
from witnessmark.app.widgets.entry_list import EntryList, PickList
from witnessmark.app.widgets.grade_sheet import GradeSheet
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import WitnessmarkError
from witnessmark.listening.difference import STAGES
from witnessmark.listening.evening import Evening
from witnessmark.model import (
    Impression,
    Pair,
    Placement,
    Poses,
    Preference,
    StationOrder,
    Struck,
    Trial,
    Varied,
)
from witnessmark.placing.marks import standing
from witnessmark.sentences import sentence
from witnessmark.store.store import Store
from witnessmark.words.cautions import LOUDNESS
from witnessmark.words.listening import said_words, trial_words, walk_words

if TYPE_CHECKING:
    from collections.abc import Coroutine

    from textual.app import ComposeResult

    from witnessmark.listening.difference import PairPose


_BY_THE_WALK: Final = "walk"
_UNKEPT: Final = ""
"""In place of the key of a trial that is not kept yet."""
_NO_TRIAL: Final = "No position graded yet. A station is a step of the pair along the walls."
_STRUCK: Final = "struck out: it does not count; Del lets it count again"


class TrialList(EntryList):
    """Positions that were graded: gone back to, and struck out."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "delete,backspace",
            "remove",
            "Strike out",
            key_display="Del",
            id="entries.remove",
            tooltip="Strike the position out, or let it count again",
        ),
        Binding(
            "enter",
            "pick",
            "Choose",
            id="entries.pick",
            tooltip="Make the position the target again",
        ),
    ]


class ListenScreen(EveningScreen):
    """Grades and words for the position where the pair stands, beside all that was said so far."""

    STEP = Step.LISTEN
    BINDINGS = bindings_for(STEP)
    AUTO_FOCUS = "GradeSheet"
    DEFAULT_CSS = """
    ListenScreen {
        #large { height: 40vh; min-height: 7; color: $accent; display: none; }
        #about { color: $text-muted; }
        #chart { width: auto; }
        #trials { margin-bottom: 1; }
        GradeSheet { margin-bottom: 1; }
    }
    """
    evening: Evening

    def __init__(self) -> None:
        super().__init__()
        self._one_at_a_time = asyncio.Lock()
        self._saw_grades = False
        self._measured: Poses | None = None
        self._words: FormView[Impression]

    def fields(self) -> ComposeResult:
        yield BigFigures(id="large")
        yield GradeSheet()
        self._words = FormView(HEARD, self.session.draft.units)
        yield self._words
        yield Choice(
            "Vary next",
            [(_BY_THE_WALK, "as it comes"), *((stage, stage) for stage in STAGES)],
            _BY_THE_WALK,
            id="stage",
        )
        yield Choice(
            "Stations",
            [(False, "seat to front"), (True, "far apart first")],
            self.setup.halves_stations,
            hint="One after another, or fewer: those farthest apart, then between the best.",
            id="stations",
        )

    def aside(self) -> ComposeResult:
        yield Plain(id="walk")
        yield TrialList(empty=_NO_TRIAL, id="trials")
        yield Plain(id="about")
        yield Plain(id="said")
        yield Plain(id="chart")

    def on_mount(self) -> None:
        """Show what the store has of this room, and how loud is too loud before the first grade."""
        caution = "" if self.app.has_graded else LOUDNESS
        notice = " ".join(filter(None, (self.app.take_notice(), caution)))
        if notice:
            self.tell(notice)
        self.evening = Evening(self.setup)
        self._measured = standing(self.session.guidance)
        self._do(self._load(notice))

    async def _load(self, notice: str) -> None:
        room, run = self.session.workspace.name, self.session.journal.run
        trials = {kept.key: kept.record for kept in await run(Store.kept, Trial, room)}
        choices = tuple(kept.record for kept in await run(Store.kept, Preference, room))
        strikes = [kept.record for kept in await run(Store.kept, Struck, room)]
        if passed_over := await run(lambda store: store.passed_over):
            self.tell(f"{notice} {passed_over}".lstrip())
        self._take(Evening.of(self.setup, trials, choices, strikes))
        if latest := self.evening.latest:
            heard = trials[latest].impression
            self._words.fill(track=heard.track, level=heard.level)
        self._take_up()

    def _take_up(self) -> None:
        """Go on with what was said before the screen was left, if it is of this position."""
        before = self.app.hearing
        if before is None or before[:2] != self._position:
            return
        self.query_one(GradeSheet).grades = before.heard.grades
        self._words.fill(words=before.heard.words, best=before.heard.best)
        self._show_grade()

    @property
    def _position(self) -> tuple[str, Pair[Placement | None]]:
        return self.session.workspace.name, self.setup.targets

    @on(GradeSheet.Changed)
    @on(FormView.Changed)
    def _remember(self) -> None:
        """Have the app hold what was said, until it is kept."""
        self.app.hearing = UnsavedImpression(*self._position, self._heard) if self._said else None

    def _do(self, work: Coroutine[None, None, None]) -> None:
        """Do something with the store, one thing after another, and tell what went wrong."""
        self.run_worker(self._telling(work), group="evening")

    async def _telling(self, work: Coroutine[None, None, None]) -> None:
        try:
            async with self._one_at_a_time:
                await work
        except WitnessmarkError as error:
            self.tell(str(error), wrong=True)

    def action_keep(self) -> None:
        self._do(self._keep_what_was_said())

    def action_next(self) -> None:
        self._do(self._go_on())

    def action_compare(self) -> None:
        self._do(self._compare())

    async def _keep_what_was_said(self) -> None:
        if self._said:
            await self._keep()
        else:
            self.tell("Enter something first: a grade, a word, or that it is the best so far.")

    async def _keep(self) -> str:
        """Keep what was said of this position as a trial, and return its key."""
        trial = self.evening.trial(self._heard, self.session.clock(), self._measured)
        room, round_id = self.session.workspace.name, self.session.round_id
        kept = await self.session.journal.run(Store.keep, room, round_id, trial)
        self.query_one(GradeSheet).wipe()
        self._words.fill(words="", best=False)
        self._saw_grades = False
        self.app.hearing = None
        self.app.has_graded = True
        self._take(self.evening.adding(kept.key, trial))
        self.tell(f"Saved as {len(self._keys)}: {self.evening.names[kept.key]}.")
        return kept.key

    async def _go_on(self) -> None:
        if self._said or self.evening.is_ahead:
            await self._keep()
        following = self.evening.walk.following
        if following is None:
            self.tell(" ".join(map(sentence, walk_words(self.evening.walk))))
            return
        self._aim_at(following.posture, f"Next is {following.name}.")

    async def _compare(self) -> None:
        evening = self.evening
        if self._said or not evening.is_at_the_latest:
            # looked at as if it were kept: that it is when there is an answer
            trial = evening.trial(self._heard, self.session.clock(), self._measured)
            evening = evening.adding(_UNKEPT, trial)
        latest, before, names = evening.latest, evening.before, evening.names
        if latest is None or before is None:
            self.tell("There is no position before this one to compare it with.")
            return

        def take(said: str | None) -> None:
            if said is not None:
                self._do(self._prefer(said, before, latest))

        self.app.push_screen(PreferScreen(names[before], names[latest]), take)

    async def _prefer(self, said: str, before: str, latest: str) -> None:
        if latest == _UNKEPT:
            latest = await self._keep()
        better = {BEFORE: before, NEITHER: None}.get(said, latest)
        choice = Preference(self.session.clock(), before, latest, better)
        room, round_id = self.session.workspace.name, self.session.round_id
        await self.session.journal.run(Store.keep, room, round_id, choice)
        choices = (*self.evening.choices, choice)
        self._take(msgspec.structs.replace(self.evening, choices=choices))
        self.tell("That choice is saved.")

    @on(PickList.Picked, "#trials")
    def _pick(self, event: PickList.Picked) -> None:
        self._do(self._go_back(self._keys[event.place]))

    @on(TrialList.Removed)
    def _strike_out(self, event: TrialList.Removed) -> None:
        self._do(self._strike(self._keys[event.place]))

    async def _strike(self, key: str) -> None:
        back, name = key in self.evening.struck_out, self.evening.names[key]
        room, round_id = self.session.workspace.name, self.session.round_id
        strike = Struck(self.session.clock(), key, back)
        await self.session.journal.run(Store.keep, room, round_id, strike)
        self._take(self.evening.striking(key))
        how = "counts again" if back else "is struck out: it stays here, and counts no more"
        self.tell(sentence(f"{name} {how}"))

    async def _go_back(self, key: str) -> None:
        if self._said:
            await self._keep()
        self._aim_at(self.evening.back_to(key), f"Back to {self.evening.names[key]}.")

    def _aim_at(self, posture: PairPose, words: str) -> None:
        """Make a position the target, and go where the pair is brought there."""
        left, right = posture.placements.left, posture.placements.right
        targets = Pair[Placement | None](left, right)
        self.session.edit(self.session.draft.aimed_at(targets, posture.tilts_deg))
        self.app.go(Step.LIVE, words)

    def action_hide(self) -> None:
        self.app.blind = not self.app.blind
        self._show()

    @on(GradeSheet.Changed)
    def _show_grade(self) -> None:
        sheet = self.query_one(GradeSheet)
        self.query_one(BigFigures).text = sheet.figure

    @on(Choice.Changed, "#stations")
    def _order_stations(self, event: Choice.Changed) -> None:
        order = StationOrder.HALVING if event.value else msgspec.UNSET
        self.session.edit(msgspec.structs.replace(self.session.draft, station_order=order))
        self._take(msgspec.structs.replace(self.evening, setup=self.setup))

    @on(Choice.Changed, "#stage")
    def _vary(self, event: Choice.Changed) -> None:
        stage = None if event.value == _BY_THE_WALK else Varied(event.value)
        self._take(msgspec.structs.replace(self.evening, stage=stage))

    @on(PickList.Pointed, "#trials")
    def _tell_about(self, event: PickList.Pointed) -> None:
        key = self._keys[event.place]
        struck = key in self.evening.struck_out
        words = (_STRUCK,) if struck else trial_words(self.evening, key)
        self._put("about", *map(sentence, words))

    def action_dim(self) -> None:
        """Dim the screen, or light it again; either way the keys go to the grades."""
        super().action_dim()
        self.query_one(GradeSheet).focus()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "next_in_the_dark":
            return self.app.dim
        return super().check_action(action, parameters)

    def action_next_in_the_dark(self) -> None:
        self.action_next()

    @property
    def _keys(self) -> list[str]:
        return list(self.evening.listed)

    @property
    def _heard(self) -> Impression:
        """What was said so far of the present position."""
        return self._words.applied_to(
            Impression(
                grades=dict(self.query_one(GradeSheet).grades),
                blind=bool(self.evening.trials) and not self._saw_grades,
            )
        )

    @property
    def _said(self) -> bool:
        heard = self._heard
        return bool(heard.grades or heard.words or heard.best)

    @property
    def _columns(self) -> int:
        """How wide the chart may be."""
        return self.query_one("#aside").size.width - 1

    def _take(self, evening: Evening) -> None:
        self.evening = evening
        self._show()

    def _show(self) -> None:
        evening, blind = self.evening, self.app.blind
        self._saw_grades = self._saw_grades or not blind
        found = "measured" if self._measured else "not measured"
        place = evening.place_words(self._measured)
        self.query_one("#advice", Static).update(
            f"{sentence(f'{place} ({found})')} Listen and grade it."
        )
        self._put("walk", *map(sentence, walk_words(evening.walk)))
        rows = [self._row(number, key) for number, key in enumerate(evening.listed, 1)]
        self.query_one("#trials", PickList).show(rows)
        self._put("about")
        self._put("said", *(() if blind else map(sentence, said_words(evening))))
        self._put("chart", *(() if blind else [evening.chart_text(self._columns)]))
        self._show_grade()

    def _row(self, number: int, key: str) -> Content:
        if key in self.evening.struck_out:
            return Content.styled(
                f"{number:>2} {self.evening.names[key]}  struck out", "$text-muted"
            )
        heard = self.evening.trials[key].impression
        mean = None if self.app.blind else heard.mean_grade
        grade = "" if mean is None else f"  {mean:.1f}"
        flag = "  best" if heard.best and not self.app.blind else ""
        return Content(f"{number:>2} {self.evening.names[key]}{grade}{flag}")

    def _put(self, name: str, *sentences: str) -> None:
        line = self.query_one(f"#{name}", Static)
        line.update("\n".join(sentences))
        line.display = any(sentences)


BEFORE, THIS, NEITHER = "before", "this", "neither"


class PreferScreen(ModalScreen[str | None]):
    """Ends with ``BEFORE``, ``THIS`` or ``NEITHER``; with None when nothing was said."""

    BINDINGS: ClassVar[list[BindingType]] = [
        (either_case("f"), "dismiss('before')", "The one before"),
        (either_case("j"), "dismiss('this')", "This one"),
        ("space", "dismiss('neither')", "Neither"),
        ("escape", "dismiss(None)", "Leave"),
        ("ctrl+q", "app.quit", "Quit"),
    ]
    DEFAULT_CSS = """
    PreferScreen { align: center middle; }
    PreferScreen #question {
        width: 66; height: auto; background: $surface; border: round $primary; padding: 1 2;
    }
    """

    def __init__(self, before: str, this: str) -> None:
        """Both by what they are called."""
        super().__init__()
        self._words = (
            "Which was better, this one or the one before?\n\n"
            f"f  the one before: {before}\n"
            f"j  this one: {this}\n"
            "Space  neither"
        )

    def compose(self) -> ComposeResult:
        with Vertical(id="question"):
            yield Plain(self._words)
        yield KeyBar()
