"""Workspace and leaving: what is loaded, what is saved, and what is said when it cannot be."""

from __future__ import annotations

import gc
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import at_rest
import pytest
from sitting import Sitting, saved_in
from textual.css.stylesheet import Stylesheet
from textual.screen import Screen

from witnessmark.app import make_app, uncollected
from witnessmark.app.app import DARK, WitnessmarkApp
from witnessmark.app.screens.live import LiveScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.big_figures import BigFigures
from witnessmark.app.widgets.typed_entry import TypedEntry
from witnessmark.errors import StoreError
from witnessmark.model import Setup
from witnessmark.session.session import Session
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark.words.live_notices import CONFIRM_NEW_ROUND

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


@pytest.mark.parametrize(
    ("module", "unloaded"),
    [
        ("witnessmark.app", {"textual", "numpy", "sqlite3"}),
        ("witnessmark.app.app", {"numpy", "serial", "bleak"}),
        ("witnessmark.app.screens.room", {"numpy", "serial", "bleak"}),
        # tomllib: what a meter's profile is read with
        ("witnessmark.app.screens.live", {"numpy", "serial", "bleak", "tomllib"}),
        ("witnessmark.drawing.strokes", {"textual", "rich", "numpy"}),
        ("witnessmark.drawing.plan", {"textual", "rich", "numpy"}),
    ],
)
def test_heavy_libraries_wait(module: str, unloaded: set[str]) -> None:
    code = f"import sys, {module}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert "witnessmark" in loaded
    assert not loaded & unloaded


async def test_the_first_frame_is_painted_before_the_round_is_taken_up(
    store_file: Path, opening: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    happened: list[str] = []
    display, resume = WitnessmarkApp._display, Session.resume

    def displayed(app: WitnessmarkApp, screen: Screen[object], frame: object) -> None:
        if frame is not None and not app._batch_count:  # else Textual throws the frame away
            happened.append("painted")
        display(app, screen, frame)  # type: ignore[arg-type]

    async def resumed(session: Session) -> None:
        happened.append("resumed")
        await resume(session)

    monkeypatch.setattr(Screen, "_compositor_refresh", at_rest._paint)
    monkeypatch.setattr(WitnessmarkApp, "_display", displayed)
    monkeypatch.setattr(Session, "resume", resumed)
    app = make_app(Store.open(store_file), opening)
    async with app.run_test():
        await at_rest.at_rest(app)
        assert app.screen.query_one(BigFigures).text
    assert happened[0] == "painted"
    assert happened.count("resumed") == 1


async def test_what_is_typed_ahead_of_the_first_frame_finds_its_line(
    store_file: Path, opening: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(WitnessmarkApp, "on_ready", lambda _: None)
    app = make_app(Store.open(store_file), opening)
    async with app.run_test() as pilot:
        await pilot.press(*"2.435")
        await at_rest.until_in(app, lambda: app.screen.query_one(TypedEntry).value == "2.435")
        assert not app.screen.query(BigFigures)
        app.painted.set()
        await at_rest.at_rest(app)
        assert app.screen.query_one(BigFigures).text
        assert app.screen.query_one(TypedEntry).value == "2.435"


async def test_who_asks_for_a_new_round_before_there_is_one_is_not_told_that_it_has_begun(
    store_file: Path, opening: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(WitnessmarkApp, "on_ready", lambda _: None)
    app = make_app(Store.open(store_file), opening)
    async with app.run_test() as pilot:
        live = app.screen
        assert isinstance(live, LiveScreen)
        await pilot.press("b")
        await at_rest.until_in(app, lambda: live._notice == CONFIRM_NEW_ROUND)
        app.painted.set()
        await at_rest.at_rest(app)
        assert app.session.round is not None
        assert live._notice == ""


async def test_garbage_is_looked_for_from_the_first_frame_on(
    store_file: Path, opening: Workspace
) -> None:
    frozen = gc.get_freeze_count()
    app = make_app(Store.open(store_file), opening)
    try:
        with uncollected():
            assert not gc.isenabled()
            async with app.run_test():
                await at_rest.at_rest(app)
                assert gc.isenabled()
                assert gc.get_freeze_count() > frozen
    finally:
        gc.unfreeze()
    assert gc.isenabled()


async def test_the_app_begins_in_its_own_colours(
    store_file: Path, opening: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    again: list[Stylesheet] = []
    monkeypatch.setattr(Stylesheet, "reparse", again.append)
    app = make_app(Store.open(store_file), opening)
    async with app.run_test():
        await at_rest.at_rest(app)
        assert app.screen.styles.background.hex.lower() == DARK.background
        assert not again  # all that is painted first would be styled twice


async def test_the_factory_opens_what_was_saved_last(store_file: Path, setup: Setup) -> None:
    with Store.open(store_file) as store:
        store.save_setup("Barn", setup, datetime(2026, 1, 2, tzinfo=UTC), {"meter": "sim:"})
    app = make_app(Store.open(store_file))
    async with app.run_test():
        assert app.session.workspace == Workspace.on(setup, name="Barn", meter_address="sim:")


async def test_the_factory_takes_an_opening_over_what_was_saved(
    store_file: Path, setup: Setup, opening: Workspace
) -> None:
    with Store.open(store_file) as store:
        store.save_setup("Barn", setup, datetime(2026, 1, 2, tzinfo=UTC))
    app = make_app(Store.open(store_file), opening)
    async with app.run_test():
        assert app.session.workspace.name == "Attic"


async def test_half_a_setup_is_not_saved(sit_down: SitDown, store_file: Path) -> None:
    async with sit_down() as sitting:
        await sitting.fill(width="5.36 m", length="7.24 m")
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.CABINETS)
    assert saved_in(store_file) is None


async def test_a_store_that_fails_is_told_and_stops_nothing(
    sit_down: SitDown, opening: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> int:
        raise StoreError("store.sqlite3: the disk is full; free some space")

    monkeypatch.setattr(Store, "save_setup", full)
    async with sit_down(opening) as sitting:
        await sitting.press("r")
        await sitting.fill(name="Cellar")
        await sitting.press("ctrl+n")
        assert sitting.is_at(Step.CABINETS)
        notices = list(sitting.app._notifications)
        assert notices
        assert all("the disk is full" in notice.message for notice in notices)
        assert all(notice.severity == "error" for notice in notices)


def test_a_store_that_cannot_be_written_is_told_before_anything_is_shown(
    store_file: Path, opening: Workspace
) -> None:
    store = Store.open(store_file)
    store._connection.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match="cannot be written; set WITNESSMARK_STORE"):
        make_app(store, opening)
    with pytest.raises(StoreError, match="closed"):
        store.latest_setup()


async def test_a_disk_that_is_nearly_full_is_told_as_the_app_opens(
    sit_down: SitDown, opening: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=20_000_000))
    async with sit_down(opening) as sitting:
        assert "only 20 MB are left on this disk; free some space" in " ".join(sitting.notices)
        assert not sitting.app._notifications
