"""What the keys do and what can hurt, the manual's page for a screen, and all other pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from rich.table import Table
from rich.text import Text
from textual import on, work
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Markdown

from witnessmark.app.commands import commands_for, spoken_keys
from witnessmark.app.steps import ASIDES, EVENING, FORMS, Aside, Place, Step
from witnessmark.app.widgets.bars import KeyBar
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.app.widgets.plain import Plain
from witnessmark.manual import TOPICS, manual_page, manual_pages
from witnessmark.words.cautions import DARK, LASER, LOCAL_RULES, LOUDNESS, MOVING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.app import ComposeResult

TOPIC_OF: Final[dict[Place, str]] = {
    Aside.ALIKE: "symmetry",
    Aside.PUT_BACK: "marks",
    Step.ROOM: "room",
    Step.CABINETS: "cabinets",
    Step.LAYOUT: "layout",
    Step.METER: "meter",
    Step.LIVE: "live",
    Step.LISTEN: "listening",
    Step.MARKS: "marks",
    Aside.SURVEY: "awkward",
    Aside.FITTINGS: "awkward",
    Aside.LEARN: "teaching",
    Aside.CHECK: "meter",
    Aside.CABINET: "cabinets",
    Aside.POINT: "cabinets",
    Aside.TILT: "cabinets",
    Aside.HISTORY: "history",
    Aside.ROOMS: "history",
    Aside.SOUND: "sound",
    Aside.FORESIGHT: "foresight",
}
"""The page of the manual that is about a place."""

_WITH_LISTS = frozenset({Aside.SURVEY, Aside.FITTINGS})
_TO_CHOOSE_FROM = frozenset({Step.MARKS, Aside.ROOMS})
_IN_LISTS = ("↑ ↓, Enter, Del", "In the list: point at a row, take it up again, take it out.")
_IN_GRADES = (
    ("1 to 5", "Grade the row that is pointed at: 1 bad, 2 poor, 3 fair, 4 good, 5 excellent."),
    ("f, j", "One grade worse or better; both keys can be felt for. Space goes on."),
    ("Del", "Take the grade back."),
    ("Enter", "In the list: make that position the target again."),
    ("Del", "In the list: strike that position out, or let it count again. Nothing is deleted."),
)
_CHOSEN = ("↑ ↓, Enter", "In the list: point at a row, choose it.")
_IN_FIELDS = (
    ("↑ ↓, Tab, Enter", "Go from field to field; Shift+Tab goes to the one before."),
    ("← →", "Choose among the options where there are several."),
)


class HelpScreen(ModalScreen[None]):
    """The keys of a place and the cautions, then its page; the contents lead to the other pages."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "Leave"),
        Binding("question_mark,f1", "dismiss", "Help"),
        Binding("tab", "change_column", "Contents", key_display="Tab", priority=True),
        Binding("shift+tab", "change_column", show=False, priority=True),
        Binding("pagedown", "scroll_page(1)", "Scroll", priority=True),
        Binding("pageup", "scroll_page(-1)", show=False, priority=True),
        Binding("ctrl+q", "app.quit", "Quit"),
    ]
    DEFAULT_CSS = """
    HelpScreen { background: $surface; }
    HelpScreen #contents { width: 27; border-right: solid $primary; }
    HelpScreen PickList { padding: 0 1; link-color: $foreground; }
    HelpScreen #page { width: 1fr; padding: 0 1; }
    HelpScreen #page > * { max-width: 90; }
    HelpScreen #keys { margin-bottom: 1; }
    HelpScreen Markdown { padding: 0; }
    HelpScreen MarkdownBlock { color: $foreground; }
    HelpScreen MarkdownHeader { color: $accent; content-align: left middle; margin: 1 0; }
    HelpScreen MarkdownH1 { margin: 0 0 1 0; }
    """

    def __init__(self, place: Place, *, rehearsed: bool) -> None:
        """``place`` is where its keys work, with those of the demo if ``rehearsed``."""
        super().__init__()
        self.place = place
        self.rehearsed = rehearsed

    def compose(self) -> ComposeResult:
        with Horizontal():
            with VerticalScroll(id="contents", can_focus=False):
                yield PickList()
            with VerticalScroll(id="page"):
                yield Plain(self._keys_page(), id="keys")
                yield Markdown(open_links=False)
        yield KeyBar()

    def on_mount(self) -> None:
        """Show the keys and this place's page; the arrow keys scroll them."""
        here = TOPIC_OF[self.place]
        headings = [f"{page.heading}{' ◂' * (page.topic == here)}" for page in manual_pages()]
        self.query_one(PickList).show([f"Keys: {self.place.heading}", *headings])
        self.query_one("#page").focus()
        self._turn_to(0)

    @on(PickList.Pointed)
    def _leaf(self, event: PickList.Pointed) -> None:
        self._turn_to(event.place)

    @on(PickList.Picked)
    def _read(self) -> None:
        self.query_one("#page").focus()

    @on(Markdown.LinkClicked)
    def _follow(self, event: Markdown.LinkClicked) -> None:
        topic = event.href.removesuffix(".md")
        self.query_one(PickList).action_point(TOPICS.index(topic) + 1)

    def action_change_column(self) -> None:
        contents, page = self.query_one(PickList), self.query_one("#page")
        (page if contents.has_focus else contents).focus()

    def action_scroll_page(self, way: int) -> None:
        page = self.query_one("#page", VerticalScroll)
        page.scroll_relative(y=way * max(1, page.size.height - 2), animate=False)

    def _turn_to(self, place: int) -> None:
        """Show a row of the contents; the first is of the keys, and the page of their place."""
        self.query_one("#keys").display = place == 0
        self.query_one("#page", VerticalScroll).scroll_home(animate=False)
        topic = TOPICS[place - 1] if place else TOPIC_OF[self.place]
        self._show(topic)

    @work(group="page", exclusive=True)
    async def _show(self, topic: str) -> None:
        # a page takes a moment: the keys are painted first, and one that is leafed past is left
        await self.query_one(Markdown).update(manual_page(topic).text)

    def _keys_page(self) -> Table:
        page = Table.grid(padding=(0, 2))
        page.add_column(justify="right", style="bold", no_wrap=True)
        page.add_column()
        page.add_row("", Text(f"Keys: {self.place.heading}"), style="bold")
        for keys, words in self._keys():
            page.add_row(Text(keys), Text(words))
        page.add_row("")
        page.add_row("", "Take care", style="bold")
        for name, words in self._cautions():
            page.add_row(Text(name), Text(words))
        return page

    def _keys(self) -> Iterator[tuple[str, str]]:
        for command in commands_for(self.place):
            if self.rehearsed or not command.id.startswith("rehearsal."):
                yield spoken_keys(command.keys), command.explained
        if self.place is Step.LIVE:
            yield "0 to 9", "Begin to type a distance, as from a tape; Enter takes it."
        if self.place is Step.LISTEN:
            yield from _IN_GRADES
        if self.place in FORMS | EVENING | ASIDES:
            yield from _IN_FIELDS
        if self.place in _WITH_LISTS:
            yield _IN_LISTS
        if self.place in _TO_CHOOSE_FROM:
            yield _CHOSEN

    def _cautions(self) -> Iterator[tuple[str, str]]:
        yield from (("Laser", LASER), ("Cabinets", MOVING))
        if self.place is Step.LISTEN:
            yield "Loudness", LOUDNESS
        if self.place in EVENING | {Step.LIVE}:
            yield "Darkness", DARK
        yield "Rules", LOCAL_RULES
