"""Rows that are gone through with the arrow keys: chosen, and where they are entries taken out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import ScrollableContainer
from textual.content import Content
from textual.geometry import Region
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from witnessmark.app.widgets.bars import clickable


class PickList(Widget, can_focus=True):
    """Rows of text, one of them pointed at; a row may run over several lines.

    The owner keeps what the rows stand for.
    """

    DEFAULT_CSS = """
    PickList { height: auto; link-style: none; link-style-hover: underline; }
    PickList:focus { background: $boost; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", show=False, id="entries.before"),
        Binding("down", "step(1)", show=False, id="entries.after"),
        Binding(
            "enter",
            "pick",
            "Choose",
            id="entries.pick",
            tooltip="Choose this row",
        ),
    ]

    @dataclass
    class Picked(Message):
        """The person took up the row at ``place``."""

        entries: PickList
        place: int

        @property
        def control(self) -> PickList:
            return self.entries

    @dataclass
    class Pointed(Message):
        """The person went to the row at ``place``."""

        entries: PickList
        place: int

        @property
        def control(self) -> PickList:
            return self.entries

    rows: reactive[tuple[Content, ...]] = reactive((), layout=True)
    place: reactive[int] = reactive(0)

    def __init__(
        self,
        *,
        empty: str = "",
        always_points: bool = False,
        id: str | None = None,
    ) -> None:
        """``empty`` is shown while there is no row.

        The pointer is seen while the person is in the list, or always where it ``always_points``.
        """
        super().__init__(id=id)
        self.empty = empty
        self.always_points = always_points

    def show(self, rows: Sequence[Content | str]) -> None:
        """Show these rows; the pointer stays where it was, or goes to the last row."""
        self.rows = tuple(Content(row) if isinstance(row, str) else row for row in rows)
        self.place = max(0, min(self.place, len(rows) - 1))

    def action_step(self, by: int) -> None:
        if self.rows:
            self.action_point(min(max(self.place + by, 0), len(self.rows) - 1))

    def action_pick(self) -> None:
        if self.rows:
            self.post_message(self.Picked(self, self.place))

    def action_point(self, place: int) -> None:
        self.place = place
        self.reveal()
        self.post_message(self.Pointed(self, place))

    def reveal(self) -> None:
        """Scroll what the list stands in to the row that is pointed at."""
        if isinstance(self.parent, ScrollableContainer) and self.rows:
            heights = [row.plain.count("\n") + 1 for row in self.rows]
            top = self.virtual_region.y + sum(heights[: self.place])
            row = Region(0, top, 1, heights[self.place])
            self.parent.scroll_to_region(row, animate=False)

    def render(self) -> Content:
        if not self.rows:
            return Content.styled(self.empty, "$text-muted")
        return Content("\n").join(self._row(place, row) for place, row in enumerate(self.rows))

    def _row(self, place: int, row: Content) -> Content:
        pointed = place == self.place and (self.has_focus or self.always_points)
        pointer = "▸ " if pointed else "  "
        return clickable(Content.assemble(pointer, row), f"point({place})")


class EntryList(PickList):
    """Entries that can be taken up to be changed, and taken out.

    The owner shows them again after ``Removed`` or ``Picked``.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "delete,backspace",
            "remove",
            "Remove",
            key_display="Del",
            id="entries.remove",
            tooltip="Remove this row from the list",
        ),
        Binding(
            "enter",
            "pick",
            "Edit",
            id="entries.pick",
            tooltip="Edit this row, or measure it again",
        ),
    ]

    @dataclass
    class Removed(Message):
        """The person wants the row at ``place`` out of the list."""

        entries: EntryList
        place: int

        @property
        def control(self) -> EntryList:
            return self.entries

    def action_remove(self) -> None:
        if self.rows:
            self.post_message(self.Removed(self, self.place))
