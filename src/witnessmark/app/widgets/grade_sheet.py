"""The grades of one position: a row to each thing that is listened for, a digit to each grade."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from witnessmark.app.commands import either_case
from witnessmark.app.widgets.bars import clickable
from witnessmark.model import GRADED, GRADES, Attribute

LISTENED_FOR = {
    Attribute.SPATIAL: "how wide, deep and real the space sounds",
    Attribute.STEREO: "how well placed the players are",
    Attribute.CLARITY: "how easily you hear details",
    Attribute.BALANCE: "whether no part masks another",
    Attribute.TIMBRE: "how natural voices and bass are",
    Attribute.OVERALL: "how it sounds overall",
}
_LABEL_WIDTH = 10
_MIDDLE = 3


class GradeSheet(Widget, can_focus=True):
    """Digits grade the row that is pointed at and go on; two keys that touch finds go by steps."""

    DEFAULT_CSS = """
    GradeSheet { height: auto; link-style: none; link-style-hover: underline; }
    GradeSheet:focus { background: $boost; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        *(
            Binding(str(grade), f"grade({grade})", words, show=False, id=f"grade.{grade}")
            for grade, words in GRADES.items()
        ),
        Binding("up", "step(-1)", show=False, id="grade.before"),
        Binding("down,space", "step(1)", "Go on", key_display="Space", id="grade.after"),
        Binding(
            either_case("j"), "change(1)", "Better", id="grade.better", tooltip="One grade better"
        ),
        Binding(
            either_case("f"), "change(-1)", "Worse", id="grade.worse", tooltip="One grade worse"
        ),
        Binding("delete,backspace", "clear", show=False, id="grade.clear"),
    ]

    @dataclass
    class Changed(Message):
        """A grade was given or taken back, or another row is pointed at."""

        sheet: GradeSheet

    grades: reactive[dict[Attribute, int]] = reactive(dict)
    place: reactive[int] = reactive(0)

    @property
    def attribute(self) -> Attribute:
        """The one that is pointed at."""
        return GRADED[self.place]

    @property
    def figure(self) -> str:
        """What is pointed at with its grade, for large letters."""
        return f"{self.attribute.upper()} {self.grades.get(self.attribute, '-')}"

    def wipe(self) -> None:
        """Clear the grades and go to the first row."""
        self.grades, self.place = {}, 0
        self._tell()

    def action_grade(self, grade: int) -> None:
        self._put(grade)
        self.action_step(1)

    def action_change(self, by: int) -> None:
        """One grade better or worse; the first press is the one in the middle."""
        before = self.grades.get(self.attribute)
        self._put(_MIDDLE if before is None else min(max(before + by, min(GRADES)), max(GRADES)))

    def action_clear(self) -> None:
        self.grades = {key: own for key, own in self.grades.items() if key != self.attribute}
        self._tell()

    def action_step(self, by: int) -> None:
        self.place = (self.place + by) % len(GRADED)
        self._tell()

    def action_give(self, place: int, grade: int) -> None:
        self.place = place
        self._put(grade)

    def _put(self, grade: int) -> None:
        self.grades = {**self.grades, self.attribute: grade}
        self._tell()

    def _tell(self) -> None:
        self.post_message(self.Changed(self))

    def render(self) -> Content:
        rows = [self._row(place, attribute) for place, attribute in enumerate(GRADED)]
        about = Content.styled(f"  {LISTENED_FOR[self.attribute]}", "$text-muted")
        return Content("\n").join((*rows, about))

    def _row(self, place: int, attribute: Attribute) -> Content:
        given = self.grades.get(attribute)
        pointer = "▸ " if place == self.place and self.has_focus else "  "
        grades = [self._grade(place, grade, given) for grade in reversed(GRADES)]
        words = "" if given is None else GRADES[given]
        return Content.assemble(pointer, attribute.ljust(_LABEL_WIDTH), *grades, f" {words}")

    def _grade(self, place: int, grade: int, given: int | None) -> Content:
        sign = f"[{grade}]" if grade == given else f" {grade} "
        return clickable(
            Content.styled(sign, "bold" if grade == given else ""), f"give({place}, {grade})"
        )
