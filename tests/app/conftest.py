"""What the tests of the app share: a setup, and an app on a store of its own."""

from __future__ import annotations

from collections.abc import AsyncGenerator, Awaitable, Callable, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path

import pytest
import textual.app
import textual.pilot
import textual.screen
from at_rest import loop_at_rest, paint, put_off_painting
from known_styles import look_up_what_is_known
from patience import HUNG_S
from sitting import Sitting
from textual.notifications import Notification

from witnessmark.app.app import WitnessmarkApp
from witnessmark.drawing.canvas import BrailleCanvas, Canvas
from witnessmark.meters.finding import Tell
from witnessmark.meters.port import Clock, FoundMeter, utc_now
from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup
from witnessmark.session import digits_first
from witnessmark.session.meter import OpenDriver
from witnessmark.session.workspace import Workspace
from witnessmark.store import database
from witnessmark.store.store import Store
from witnessmark_simulators.serial_line import SerialLine


@pytest.fixture(autouse=True)
def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Has an app waited for until it is at rest, and painted at the end; no notice runs out."""
    monkeypatch.setattr(textual.app, "wait_for_idle", loop_at_rest)
    monkeypatch.setattr(textual.pilot, "wait_for_idle", loop_at_rest)
    monkeypatch.setattr(textual.screen, "UPDATE_PERIOD", 1.0)
    monkeypatch.setattr(textual.screen.Screen, "_compositor_refresh", put_off_painting)
    # on a busy machine more seconds may pass between two keys than a notice is shown
    monkeypatch.setattr(Notification, "time_left", HUNG_S)
    # no meter here sends so fast that its digits need rests between two workings out
    monkeypatch.setattr(digits_first, "_REST_S", 0.0)
    # room for a stream of readings is four megabytes to write, in each test
    monkeypatch.setattr(database, "ROOM_AHEAD_BYTES", 0)


@pytest.fixture(scope="session", autouse=True)
def known_looked_up() -> Iterator[None]:
    """Has each style sheet parsed and matched once for all apps of a session."""
    with pytest.MonkeyPatch.context() as patch:
        look_up_what_is_known(patch)
        yield


@pytest.fixture
def setup() -> Setup:
    """A whole setup with targets that are mirror images."""
    cabinet, target = Cabinet(262, 391, 940), Placement(1450, 1900, 8)
    return Setup(
        room=Room.rectangular(5360, 7240),
        cabinets=Pair(cabinet, cabinet),
        seat=Seat(4400, 2680, 1020),
        targets=Pair[Placement | None](target, target),
    )


@pytest.fixture
def opening(setup: Setup) -> Workspace:
    """The app's beginning with that setup."""
    return Workspace.on(setup, name="Attic", meter_address="typed:")


@pytest.fixture
def store_file(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite3"


@pytest.fixture
def sit_down(store_file: Path) -> Callable[..., AbstractAsyncContextManager[Sitting]]:
    """Opens the app: ``async with sit_down(opening, size=(80, 24)) as sitting``."""

    @asynccontextmanager
    async def sit(
        opening: Workspace | None = None,
        *,
        size: tuple[int, int] = (80, 24),
        discover: Callable[[Tell], Awaitable[list[FoundMeter]]] | None = None,
        open_driver: OpenDriver | None = None,
        canvas: type[Canvas] = BrailleCanvas,
        clock: Clock = utc_now,
    ) -> AsyncGenerator[Sitting, None]:
        store = Store.open(store_file)
        beginning = opening or Workspace.saved_in(store)
        app = WitnessmarkApp(
            store,
            beginning,
            clock=clock,
            discover=discover or _nothing_found,
            open_driver=open_driver,
            canvas=canvas,
        )
        async with app.run_test(size=size) as pilot:
            sitting = Sitting(app, pilot)
            await sitting.settle()
            yield sitting
            paint(app)

    return sit


@pytest.fixture
def line() -> Iterator[SerialLine]:
    """A meter's serial line."""
    with SerialLine() as line:
        yield line


@pytest.fixture
def profiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of one's own profiles, empty at first."""
    folder = tmp_path / "profiles"
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(folder))
    return folder


async def _nothing_found(_tell: Tell) -> list[FoundMeter]:
    return []
