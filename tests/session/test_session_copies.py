"""Two copies of the program on one store: each has a round of its own."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from evening import ATTIC, evening, simulated_room
from other_copy import started, told

from witnessmark.model import Reading
from witnessmark.placing.round import Round
from witnessmark.session.events import RoundBegun
from witnessmark.store.store import Store
from witnessmark.words.live import say
from witnessmark_simulators.scenario import DEMO_SETUP

NOW = datetime(2026, 5, 17, 21, 0, tzinfo=UTC)


@pytest.fixture
def left_an_hour_ago(store_file: Path) -> Path:
    """A store whose round was left an hour ago, with one reading in it."""
    with Store.open(store_file) as store:
        ago = NOW - timedelta(hours=1)
        choices = {"meter": "typed:"}
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, ago, choices), ago)
        store.append(round_id, Reading(1000.0, ago, "typed:"))
    return store_file


def readings(store_file: Path, round_id: int) -> list[float]:
    with Store.open(store_file) as store:
        entries = store.entries(round_id)
    return [entry.distance_mm for entry in entries if isinstance(entry, Reading)]


def test_the_first_copy_goes_on_and_the_second_begins_its_own(left_an_hour_ago: Path) -> None:
    with started(left_an_hour_ago, NOW) as one:
        first = told(one)
        with started(left_an_hour_ago, NOW) as two:
            second = told(two)
            assert (first.round_id, first.resumed, first.is_elsewhere) == (1, True, False)
            assert (second.round_id, second.resumed, second.is_elsewhere) == (2, False, True)
            for number in range(5):
                first.read(1001 + number)
                second.read(2001 + number)
    assert readings(left_an_hour_ago, 1) == [1000, 1001, 1002, 1003, 1004, 1005]
    assert readings(left_an_hour_ago, 2) == [2001, 2002, 2003, 2004, 2005]


def test_copies_that_start_together_share_no_round(left_an_hour_ago: Path) -> None:
    with ExitStack() as stack:
        together = [stack.enter_context(started(left_an_hour_ago, NOW)) for _ in range(4)]
        copies = [told(process) for process in together]
        assert sorted(copy.round_id for copy in copies) == [1, 2, 3, 4]
        assert [copy.round_id for copy in copies if copy.resumed] == [1]
        assert all(copy.is_elsewhere is not copy.resumed for copy in copies)


def test_after_a_kill_the_round_is_taken_up_again(left_an_hour_ago: Path) -> None:
    with started(left_an_hour_ago, NOW) as one:
        told(one).read(1001)
        one.kill()
        one.wait(timeout=60)
        with started(left_an_hour_ago, NOW) as two:
            second = told(two)
            assert (second.round_id, second.resumed, second.is_elsewhere) == (1, True, False)
            second.read(1002)
    assert readings(left_an_hour_ago, 1) == [1000, 1001, 1002]


def test_a_round_of_another_day_is_left_to_whoever_has_it_without_a_word(
    left_an_hour_ago: Path,
) -> None:
    tomorrow = NOW + timedelta(hours=20)
    with started(left_an_hour_ago, NOW) as one:
        told(one)
        with started(left_an_hour_ago, tomorrow) as two:
            second = told(two)
            assert (second.round_id, second.resumed, second.is_elsewhere) == (2, False, False)


async def test_a_round_that_was_killed_is_resumed_and_brought_to_its_end(store_file: Path) -> None:
    room, state, now = simulated_room(), Round.begin(DEMO_SETUP), datetime.now(UTC)
    with Store.open(store_file) as store:
        store.save_setup(ATTIC.name, DEMO_SETUP, now, ATTIC.choices)
    with started(store_file, now) as process:
        first = told(process)
        assert (first.round_id, first.resumed, first.is_elsewhere) == (1, False, False)
        for _ in range(6):
            mm = room.person.shoot(state.prompted).distance_mm
            assert mm is not None
            first.read(mm)
            state = state.feed(Reading(mm, now, "sim:"))
        process.kill()
        process.wait(timeout=60)
    async with evening(store_file, room=room) as there:
        await there.begin()
        assert there.of(RoundBegun) == [RoundBegun(resumed=True, is_elsewhere=False)]
        assert there.round == state
        await there.work_on()
        assert say(there.guidance).headline.figure == "BOTH IN"
        assert len(readings(store_file, 1)) == there.round.readings


async def test_a_round_that_another_copy_is_at_work_on_is_left_to_it(store_file: Path) -> None:
    now = datetime.now(UTC)
    with Store.open(store_file) as store:
        store.save_setup(ATTIC.name, DEMO_SETUP, now, ATTIC.choices)
    with started(store_file, now) as process:
        first = told(process)
        first.read(1450.0)
        async with evening(store_file) as there:
            await there.begin()
            assert there.of(RoundBegun) == [RoundBegun(resumed=False, is_elsewhere=True)]
            assert there.round.readings == 0
            await there.shoot()
        first.read(1451.0)
    assert readings(store_file, first.round_id) == [1450.0, 1451.0]


async def test_a_round_is_free_for_another_copy_once_it_was_left(store_file: Path) -> None:
    async with evening(store_file) as one:
        await one.begin()
        await one.shoot()
        async with evening(store_file) as two:
            await two.begin()
            assert two.of(RoundBegun) == [RoundBegun(resumed=False, is_elsewhere=True)]
            await two.shoot()
    assert not list(store_file.parent.glob("*.lock"))
    async with evening(store_file) as three:
        await three.begin()
        assert three.of(RoundBegun) == [RoundBegun(resumed=True, is_elsewhere=False)]


async def test_beginning_afresh_lets_the_round_go_and_claims_another(store_file: Path) -> None:
    async with evening(store_file) as there:
        await there.begin()
        first = sorted(store_file.parent.glob("*.lock"))
        await there.session.begin_afresh()
        second = sorted(store_file.parent.glob("*.lock"))
        assert (len(first), len(second)) == (1, 1)
        assert first != second
    assert not list(store_file.parent.glob("*.lock"))
