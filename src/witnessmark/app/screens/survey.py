"""Surveying the room: distances in any order, until its corners are found and checked."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import msgspec
from textual import on
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.measure import MEASURE
from witnessmark.app.forms.numbers import LengthEntry
from witnessmark.app.screens.form import MeasuringScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.entry_list import EntryList
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.strokes import Drawing
from witnessmark.drawing.survey import survey_drawing
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.model import Measure, Reading, Wall
from witnessmark.placing.figures import length, misfit
from witnessmark.sentences import hanging, listed, refusal
from witnessmark.session.surveying import MeasureAnswers, gap_of_pair, with_known
from witnessmark.survey.checks import MeasureCheck, check_measures
from witnessmark.survey.course import Asked, Course, asked_next, worked_out
from witnessmark.survey.names import SurveyNames
from witnessmark.words.survey import HOW_TO_SURVEY, ask_words, corner_words, how_words, stand_words

if TYPE_CHECKING:
    from textual.app import ComposeResult

_OPEN: Final = (
    "If a side has no wall, as toward the other leg of an L, lay something straight: a string, "
    "a tape, a rug's edge. The corners are where it meets the walls beside it."
)

_TOLD_NOTHING = 0.01
"""A distance of less redundancy than this is checked by no other: its misfit means nothing."""
_NAME_BESIDE = 12
"""Longer names have lines of their own, for the pane is narrow."""
_BROAD = 32
"""Columns of the list in the narrowest terminal."""
_SET_IN = 6 * " "


class SurveyScreen(MeasuringScreen):
    """Asks for one distance after another; any other may be chosen, taken again or taken out.

    The distances are kept in the draft as they come, so that nothing is lost when this is left.
    """

    STEP = Aside.SURVEY
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Measure the distance asked for, or choose another. The corners are calculated from them."
    )
    DEFAULT_CSS = """
    SurveyScreen {
        #ask { text-style: bold; color: $accent; height: auto; }
        #how-to { height: auto; margin-bottom: 1; }
        #found { height: auto; margin-top: 1; }
        #plan { height: 50%; min-height: 9; }
        #aside > #heads { color: $text-muted; margin: 1 0 0 0; }
        #measures { margin-bottom: 1; }
    }
    """

    @dataclass
    class Solved(Message):
        """How the survey stands with the distances so far."""

        course: Course

    def __init__(self) -> None:
        super().__init__()
        self.measures: tuple[Measure, ...] = ()
        self.course = Course(())
        self.asked = Asked()
        self._before: list[tuple[Measure, ...]] = []
        self._retaken: list[Measure] = []
        self._open: Choice[tuple[Wall, ...]] = Choice(
            "Without a wall", [], (), hint=_OPEN, id="open"
        )
        self._list = EntryList(empty="No distance yet.", id="measures")
        self._form: FormView[MeasureAnswers]
        self._reading: LengthEntry

    @property
    def names(self) -> SurveyNames:
        """How the survey is put into words."""
        return SurveyNames(self._open.value, self.session.draft.units)

    def fields(self) -> ComposeResult:
        units = self.session.draft.units
        yield Plain(id="ask")
        yield Plain(id="how-to")
        self._offer_sides()
        self._form = FormView(MEASURE, units)
        self._reading = self.reading_entry(units, hint=("Type what the meter shows, then Enter."))
        yield self._open
        yield self._form
        yield self._reading
        yield Plain(id="found")

    def _offer_sides(self) -> None:
        room = self.session.draft.known_room
        known = room.datum if room else ()
        options: dict[tuple[Wall, ...], str] = {(): "none", **{(wall,): wall for wall in Wall}}
        if known not in options:
            options[known] = listed(known)
        self._open.offer(list(options.items()), known)

    def aside(self) -> ComposeResult:
        yield PlanView(id="plan")
        yield Plain(_heads(self.session.draft.units), id="heads")
        yield self._list

    def on_mount(self) -> None:
        self._reading.focus()
        self._keep(self.session.draft.survey)

    def take(self, reading: Reading) -> None:
        mm = reading.from_the_edge_mm(self.session.draft.meter)
        try:
            chosen = self._chosen
            measure = msgspec.structs.replace(chosen, reading_mm=mm)
            check_measures([measure], self.names)
        except BadInput as error:
            self.tell(f"{refusal(error)} That reading is in the journal but not used.", wrong=True)
            self.app.bell()
            return
        again = self.asked.again
        if again is None:
            self._change((*self.measures, measure))
        else:
            self._retaken.append(measure)
            self._change((*self.measures[:again], measure, *self.measures[again + 1 :]))

    @on(EntryList.Removed)
    def _take_out(self, event: EntryList.Removed) -> None:
        self._change(self.measures[: event.place] + self.measures[event.place + 1 :])

    @on(EntryList.Picked)
    def _take_again(self, event: EntryList.Picked) -> None:
        self._ask(Asked(self.measures[event.place], event.place))
        self._reading.focus()

    def action_take_back(self) -> None:
        self._keep(self._before.pop())

    def _change(self, measures: tuple[Measure, ...]) -> None:
        self._before.append(self.measures)
        self._keep(measures)

    def _keep(self, measures: tuple[Measure, ...]) -> None:
        self.measures, self.course = measures, Course(measures)
        self.session.edit(msgspec.structs.replace(self.session.draft, survey=measures))
        # at once, or a program that is killed would know the readings, but not of what they are
        self.run_worker(self.session.save(), name="save")
        self._solve()

    @on(Choice.Changed)
    def _solve(self) -> None:
        solving = self._work_out(self.measures, self.names)
        self.run_worker(solving, group="solve", exclusive=True)

    async def _work_out(self, measures: tuple[Measure, ...], names: SurveyNames) -> None:
        course = await asyncio.to_thread(worked_out, measures, self.session.draft.meter, names)
        self.post_message(self.Solved(course))

    @on(Solved)
    def _go_on(self, event: Solved) -> None:
        self.course = event.course
        self._ask(asked_next(self.course, self.names, self._retaken))

    def _ask(self, asked: Asked) -> None:
        if asked.measure is None:
            self._form.fill(kind=None)
        else:
            self._form.put(MeasureAnswers.of(asked.measure))
        self._show(asked)

    @property
    def _chosen(self) -> Measure:
        """The distance that the form holds.

        Raises:
            BadInput: when it holds none yet.
        """
        return MeasureAnswers(**self._form.values).measure

    @on(FormView.Changed)
    def _ask_for_chosen(self, event: FormView.Changed) -> None:
        if event.name == "kind":
            self._form.fill(at_mm=None)
        try:
            self._show(Asked(self._chosen))
        except BadInput:
            self._show(Asked())

    def _show(self, asked: Asked) -> None:
        self.asked = asked
        draft, names, course = self.session.draft, self.names, self.course
        self.query_one("#ask", Static).update(ask_words(course, asked, names))
        how = how_words(asked.measure, draft.meter.edge, names) if asked.measure else ""
        self.query_one("#how-to", Static).update(how)
        self.query_one("#heads").display = bool(course.measures)
        self._list.show(_rows(course, names))
        self.query_one("#found", Static).update("\n".join(self._found_words()))
        self.tell(stand_words(course), wrong=course.is_wrong)
        self.query_one(PlanView).show(self._drawing(asked))
        self.refresh_bindings()

    def _found_words(self) -> Iterable[str]:
        found = self.course.found
        if found is None:
            return [HOW_TO_SURVEY]
        return corner_words(found, gap_of_pair(found, self.session.draft), self.names)

    def _drawing(self, asked: Asked) -> Drawing:
        course, draft, is_found = self.course, self.session.draft, self.course.found is not None
        room = course.room(draft.meter, self.names)
        if is_found:
            room = with_known(room, draft.known_room)
        return survey_drawing(room, course.measures, asked.measure, is_found=is_found)

    async def action_use(self) -> None:
        found, draft = self.course.found, self.session.draft
        if found is None:
            return
        room, seat = with_known(found.room, draft.known_room), draft.known_seat
        self.session.edit(
            msgspec.structs.replace(draft, room=room, seat=seat, room_known=msgspec.UNSET)
        )
        self.notify("The room now has the corners found; the distances are kept.")
        await self.action_leave()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "use":
            return self.course.found is not None
        if action == "take_back":
            return bool(self._before)
        return super().check_action(action, parameters)


def _heads(units: Units) -> str:
    """Return what stands over the columns of the rows."""
    return f"{'':5}{'read':>{_read_width(units)}} {'misfit':>{_misfit_width(units)}}"


def _rows(course: Course, names: SurveyNames) -> list[Content]:
    """The distances that were taken, each with its misfit, and what is wrong where one is."""
    taken = zip(course.measures, course.checks, strict=True)
    return [_row(place, measure, check, names) for place, (measure, check) in enumerate(taken, 1)]


def _row(place: int, measure: Measure, check: MeasureCheck | None, names: SurveyNames) -> Content:
    suspect = check is not None and check.suspect
    off = ""
    if check is not None and (suspect or check.redundancy > _TOLD_NOTHING):
        off = misfit(round(check.residual_mm, 1) + 0.0, names.units)
    read = length(measure.reading_mm, names.units)
    figures = f"{read:>{_read_width(names.units)}} {off:>{_misfit_width(names.units)}}"
    start = f"{'✗' if suspect else ' '}{place:2}{figures}  "
    name = names.measure(measure).removeprefix("the ").removeprefix("diagonal from ")
    more = [name] if len(name) > _NAME_BESIDE else []
    if check is not None and check.cause:
        more.append(check.cause)
    lines = [hanging(words, _BROAD, first=_SET_IN, rest=_SET_IN) for words in more]
    beside = "" if name in more else name
    return Content("\n").join(
        [Content.assemble((start, "$text-error" if suspect else ""), beside), *map(Content, lines)]
    )


def _read_width(units: Units) -> int:
    return 8 if units.is_metric else 12


def _misfit_width(units: Units) -> int:
    return 7 if units.is_metric else 12
