"""Two copies of the program on one store: each has a round of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractAsyncContextManager, ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import pytest
from sitting import Sitting

from witnessmark.app.screens.live import LiveScreen
from witnessmark.model import Reading, Setup
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
COPY = Path(__file__).with_name("second_copy.py")
NOW = datetime(2026, 5, 17, 21, 0, tzinfo=UTC)


class Copy(NamedTuple):
    """Another copy of the program, and what it said of the round that it took."""

    process: subprocess.Popen[str]
    round_id: int
    resumed: bool
    is_elsewhere: bool

    def read(self, distance: int) -> None:
        """Journal a reading and wait until it is on disk."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print(distance, file=self.process.stdin, flush=True)
        assert self.process.stdout.readline().strip().isdigit()


@contextmanager
def started(store_file: Path, now: datetime = NOW) -> Iterator[subprocess.Popen[str]]:
    with subprocess.Popen(
        [sys.executable, COPY, store_file, now.isoformat()],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def told(process: subprocess.Popen[str]) -> Copy:
    assert process.stdout is not None
    round_id, resumed, is_elsewhere = process.stdout.readline().split()
    return Copy(process, int(round_id), resumed == "True", is_elsewhere == "True")


@pytest.fixture
def evening(store_file: Path, setup: Setup) -> Path:
    """A store whose round was left an hour ago, with one reading in it."""
    with Store.open(store_file) as store:
        ago = NOW - timedelta(hours=1)
        choices = {"meter": "typed:"}
        round_id = store.start_round(store.save_setup("Attic", setup, ago, choices), ago)
        store.append(round_id, Reading(1000.0, ago, "typed:"))
    return store_file


def readings(store_file: Path, round_id: int) -> list[float]:
    with Store.open(store_file) as store:
        entries = store.entries(round_id)
    return [entry.distance_mm for entry in entries if isinstance(entry, Reading)]


def test_the_first_copy_goes_on_and_the_second_begins_its_own(evening: Path) -> None:
    with started(evening) as one:
        first = told(one)
        with started(evening) as two:
            second = told(two)
            assert (first.round_id, first.resumed, first.is_elsewhere) == (1, True, False)
            assert (second.round_id, second.resumed, second.is_elsewhere) == (2, False, True)
            for number in range(5):
                first.read(1001 + number)
                second.read(2001 + number)
    assert readings(evening, 1) == [1000, 1001, 1002, 1003, 1004, 1005]
    assert readings(evening, 2) == [2001, 2002, 2003, 2004, 2005]


def test_copies_that_start_together_share_no_round(evening: Path) -> None:
    with ExitStack() as stack:
        together = [stack.enter_context(started(evening)) for _ in range(4)]
        copies = [told(process) for process in together]
        assert sorted(copy.round_id for copy in copies) == [1, 2, 3, 4]
        assert [copy.round_id for copy in copies if copy.resumed] == [1]
        assert all(copy.is_elsewhere is not copy.resumed for copy in copies)


def test_after_a_kill_the_round_is_taken_up_again(evening: Path) -> None:
    with started(evening) as one:
        told(one).read(1001)
        one.kill()
        one.wait(timeout=60)
        with started(evening) as two:
            second = told(two)
            assert (second.round_id, second.resumed, second.is_elsewhere) == (1, True, False)
            second.read(1002)
    assert readings(evening, 1) == [1000, 1001, 1002]


def test_a_round_of_another_day_is_left_to_whoever_has_it_without_a_word(evening: Path) -> None:
    tomorrow = NOW + timedelta(hours=20)
    with started(evening) as one:
        told(one)
        with started(evening, tomorrow) as two:
            second = told(two)
            assert (second.round_id, second.resumed, second.is_elsewhere) == (2, False, False)


async def test_the_live_screen_says_that_the_round_is_another_copys(
    evening: Path, sit_down: SitDown, setup: Setup
) -> None:
    now = datetime.now(UTC)
    with started(evening, now) as one:
        assert told(one).round_id in {1, 2}
        opening = Workspace.on(setup, name="Attic", meter_address="typed:")
        async with sit_down(opening) as sitting:
            live = sitting.app.screen
            assert isinstance(live, LiveScreen)
            assert sitting.app.session.round is not None
            assert sitting.app.session.round.readings == 0
            (notice,) = sitting.notices
            assert notice.startswith(
                "The round is open in another copy of the program; this one begins its own."
            )


async def test_a_round_is_free_for_another_copy_once_the_app_was_left(
    store_file: Path, sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.type("1450")
        await sitting.press("enter")
        with started(store_file, datetime.now(UTC)) as while_open:
            assert told(while_open).is_elsewhere
    with Store.open(store_file) as store:
        rounds = store.rows("SELECT id FROM round")
    assert len(rounds) == 2


async def test_beginning_afresh_lets_the_round_go_and_takes_another(
    store_file: Path, sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        first = sorted(store_file.parent.glob("*.lock"))
        await sitting.press("b")
        second = sorted(store_file.parent.glob("*.lock"))
        assert (len(first), len(second)) == (1, 1)
        assert first != second
    assert not list(store_file.parent.glob("*.lock"))
