"""The list of what was entered: the pointer, taking out, taking up."""

from __future__ import annotations

from textual import on
from textual.app import App, ComposeResult

from witnessmark.app.widgets.entry_list import EntryList


class ListApp(App[None]):
    """A list whose owner does what it asks for."""

    def __init__(self) -> None:
        super().__init__()
        self.entries = ["one", "two\n  and more of it", "three"]
        self.picked: list[str] = []

    def compose(self) -> ComposeResult:
        yield EntryList(empty="nothing yet")

    def on_mount(self) -> None:
        self.query_one(EntryList).show(self.entries)

    @on(EntryList.Removed)
    def remove(self, event: EntryList.Removed) -> None:
        del self.entries[event.place]
        event.entries.show(self.entries)

    @on(EntryList.Picked)
    def pick(self, event: EntryList.Picked) -> None:
        self.picked.append(self.entries[event.place])


def shown(app: ListApp) -> list[str]:
    return app.query_one(EntryList).render().plain.splitlines()


async def test_the_arrows_point_at_one_row_and_stop_at_the_ends() -> None:
    app = ListApp()
    async with app.run_test() as pilot:
        assert shown(app)[0] == "▸ one"
        await pilot.press("up")
        assert shown(app)[0] == "▸ one"
        await pilot.press("down", "down", "down")
        assert shown(app) == ["  one", "  two", "  and more of it", "▸ three"]


async def test_the_row_that_is_pointed_at_is_taken_out_and_the_next_one_pointed_at() -> None:
    app = ListApp()
    async with app.run_test() as pilot:
        await pilot.press("down", "delete")
        assert shown(app) == ["  one", "▸ three"]
        await pilot.press("backspace", "delete", "delete")
        assert app.entries == []
        assert shown(app) == ["nothing yet"]


async def test_enter_takes_up_the_row_that_is_pointed_at() -> None:
    app = ListApp()
    async with app.run_test() as pilot:
        await pilot.press("down", "down", "enter")
        assert app.picked == ["three"]


async def test_a_row_that_is_clicked_is_pointed_at() -> None:
    app = ListApp()
    async with app.run_test() as pilot:
        await pilot.click(EntryList, offset=(4, 3))
        assert shown(app)[-1] == "▸ three"
