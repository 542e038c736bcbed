"""Taking up a long round: from a state that was kept, and to the same as from the whole journal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import numpy as np
import pytest
from evening import evening

from witnessmark.errors import BadInput, WitnessmarkError
from witnessmark.model import Act, Decision, Reading, Side
from witnessmark.placing.expectation import expect
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import UNDO_STEPS, Event, Round
from witnessmark.session import resume
from witnessmark.session.draft import Draft
from witnessmark.session.events import Failed, Guided, RoundBegun
from witnessmark.session.resume import SNAPSHOT_EVERY, resume_or_begin
from witnessmark.session.workspace import Workspace
from witnessmark.store.journal import Journal
from witnessmark.store.records import Snapshot
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

NOW = datetime(2026, 5, 17, 19, 30, tzinfo=UTC)


def as_expected(state: Round, rng: np.random.Generator) -> Reading:
    """A reading that the prompted shot may well give."""
    try:
        expected_mm = expect(state.work, state.prompted).reading_mm
    except WitnessmarkError:
        expected_mm = 1500.0
    return Reading(round(expected_mm + rng.normal(0.0, 0.4), 1), NOW, "sim:")


def lived(count: int, seed: int = 1, undone: float = 0.0) -> Iterator[tuple[Event, Round]]:
    """Events of a round, one after another, and its state after each."""
    rng = np.random.default_rng(seed)
    state = Round.begin(DEMO_SETUP)
    for place in range(count):
        event: Event = as_expected(state, rng)
        if place and rng.random() < undone:  # an undo before all else is that of the beginning
            event = Decision(Act.UNDO, NOW)
        state = state.feed(event)
        yield event, state


async def taken_up(path: Path, now: datetime = NOW) -> tuple[Round, bool]:
    """The state of the latest round as it is taken up, and whether it was."""
    async with Journal(Store.open(path)) as journal:
        resumed = await resume_or_begin(journal, "Attic", 1, DEMO_SETUP, now)
    return resumed.state, resumed.resumed


def bare(state: Round) -> Round:
    return msgspec.structs.replace(state, past=())


@pytest.fixture
def fed(monkeypatch: pytest.MonkeyPatch) -> list[Event]:
    """All that is fed to a round."""
    events: list[Event] = []
    feed: Callable[[Round, Event], Round] = Round.feed

    def counting(state: Round, event: Event) -> Round:
        events.append(event)
        return feed(state, event)

    monkeypatch.setattr(Round, "feed", counting)
    return events


def test_what_can_be_undone_takes_no_more_and_more_memory() -> None:
    states = [state for _, state in lived(UNDO_STEPS + 30)]
    assert len(states[-1].past) == UNDO_STEPS
    back = states[-1].feed(Decision(Act.UNDO, NOW))
    assert bare(back) == bare(states[-2])


def test_a_state_that_was_packed_is_brought_back_the_same() -> None:
    for _, state in lived(40):
        assert Round.unpacked(state.packed()) == bare(state)


async def test_a_long_round_is_taken_up_without_feeding_it_all_again(
    store_file: Path, fed: list[Event]
) -> None:
    async with evening(store_file) as there:
        await there.session.resume()
        rng = np.random.default_rng(1)
        for _ in range(5 * SNAPSHOT_EVERY):
            reading = as_expected(there.round, rng)
            now = there.session.clock()
            await there.session.record(msgspec.structs.replace(reading, at=now))
            await there.settle()
        left = there.round
    fed.clear()
    async with evening(store_file) as there:
        await there.session.resume()
        assert there.of(RoundBegun)[0].resumed
        assert bare(there.round) == bare(left)
        assert len(there.round.past) >= SNAPSHOT_EVERY
    assert SNAPSHOT_EVERY <= len(fed) <= 3 * SNAPSHOT_EVERY


async def test_a_long_round_of_before_is_fed_again_only_once(
    store_file: Path, fed: list[Event]
) -> None:
    events = list(lived(4 * SNAPSHOT_EVERY))
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, NOW), NOW)
        for event, _ in events:
            store.append(round_id, event)
    for expected in (4 * SNAPSHOT_EVERY, SNAPSHOT_EVERY):
        fed.clear()
        state, _ = await taken_up(store_file)
        assert bare(state) == bare(events[-1][1])
        assert len(fed) == expected


@pytest.mark.parametrize("seed", range(4))
async def test_what_was_undone_since_a_state_was_kept_is_undone(
    store_file: Path, seed: int
) -> None:
    events = list(lived(4 * SNAPSHOT_EVERY, seed, undone=0.55))
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, NOW), NOW)
        for place, (event, state) in enumerate(events, 1):
            id_ = store.append(round_id, event)
            if place % SNAPSHOT_EVERY == 0:
                store.keep_snapshot(round_id, Snapshot(id_, state.packed()))
    state, _ = await taken_up(store_file)
    assert bare(state) == bare(events[-1][1])


async def test_a_state_of_another_program_is_left_alone(store_file: Path) -> None:
    events = list(lived(SNAPSHOT_EVERY + 5))
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, NOW), NOW)
        store.append(round_id, events[0][0])
        store.keep_snapshot(round_id, Snapshot(1, b"\x80"))
        for event, _ in events[1:]:
            store.append(round_id, event)
    state, _ = await taken_up(store_file)
    assert bare(state) == bare(events[-1][1])


async def test_an_entry_under_a_future_clock_keeps_no_round_for_ever(store_file: Path) -> None:
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, NOW), NOW)
        store.append(round_id, Reading(1500.0, NOW + timedelta(days=9000), "sim:"))
    assert not (await taken_up(store_file))[1]


async def test_an_entry_that_cannot_be_read_stops_no_evening(store_file: Path) -> None:
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, NOW), NOW)
        store.append(round_id, Reading(1500.0, datetime.now(UTC), "sim:"))
        store._connection.execute(
            "INSERT INTO journal (round_id, key, kind, at, body) "
            "VALUES (?, 'k', 'dream', '2026-05-17', '{}')",
            (round_id,),
        )
    async with evening(store_file) as there:
        await there.session.resume()
        (begun,) = there.of(RoundBegun)
        assert begun.resumed
        assert "journal entry 2 cannot be read and is left out" in begun.passed_over
        assert there.round.readings == 1


HOT = msgspec.structs.replace(DEMO_SETUP, temperature_c=60.0)


def until_both_stand() -> list[Event]:
    """Readings until both cabinets are located, at the present time."""
    events = []
    for event, state in lived(40):
        assert isinstance(event, Reading)
        events.append(msgspec.structs.replace(event, at=datetime.now(UTC)))
        if guide(state).poses is not None:
            return events
    raise AssertionError("both cabinets were not located")


@pytest.mark.parametrize("coming", [0, 2])
async def test_air_that_no_formula_is_for_ends_no_evening(store_file: Path, coming: int) -> None:
    """A stranger's room, or one of before: the readings are kept, and it is said what to mend."""
    events: list[Event] = until_both_stand()
    before, behind = events[: len(events) - coming], events[len(events) - coming :]
    with Store.open(store_file) as store:
        now = datetime.now(UTC)
        round_id = store.start_round(store.save_setup("Attic", HOT, now), now)
        for event in before:
            store.append(round_id, event)
    workspace = Workspace.on(HOT, name="Attic", meter_address="sim:")
    async with evening(store_file, workspace=workspace) as there:
        await there.session.resume()
        for event in behind:
            await there.session.record(event)
            await there.settle()
        (failed,) = there.of(Failed)  # and not again at every reading
        assert failed.why == (
            "Temperature: 60 degrees Celsius must lie between -20 and 50. Until that is mended, "
            "air of 20 °C is taken."
        )
        assert there.of(Guided)[-1].guidance.symmetry is not None
        assert there.round.readings == len(events)
        there.session.edit(Draft.of(DEMO_SETUP))
        await there.session.resume()
        await there.settle()
        assert there.of(Guided)[-1].guidance.symmetry is not None
        assert there.round.readings == len(events)


@pytest.mark.parametrize("place", [0, 5])
async def test_a_reading_out_of_all_reason_is_left_out(store_file: Path, place: int) -> None:
    """Of a store that is damaged: it is told which, and the screen shows all the rest."""
    events: list[Event] = until_both_stand()
    wild = Reading(1e308, datetime.now(UTC), "sim:")
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, NOW), datetime.now(UTC))
        for event in (*events[:place], wild, wild, *events[place:]):
            store.append(round_id, event)
    async with evening(store_file) as there:
        await there.session.resume()
        (begun,) = there.of(RoundBegun)
        assert begun.resumed
        assert begun.passed_over == (
            f"2 journal entries are left out of this round. The first is {place + 1}: "
            "Reading.distance: 1e+308 mm must lie above 0, to 100 m."
        )
        await there.session.record(events[0])
        await there.settle()
        assert there.of(Guided)[-1].guidance.symmetry is not None
        assert there.round.readings == len(events) + 1


async def test_where_only_the_latest_cannot_be_shown_the_rest_is(store_file: Path) -> None:
    """What no figure of the setup explains: the live screen is never blank for it."""
    events: list[Event] = until_both_stand()
    with Store.open(store_file) as store:
        round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, NOW), datetime.now(UTC))
        for event in events:
            store.append(round_id, event)

    def only_before(state: Round) -> Guidance:
        if state.readings > len(events) - 2:
            raise BadInput("path: the seat must stand away from both cabinets")
        return guide(state)

    async with evening(store_file) as there:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(resume, "guide", only_before)
            await there.session.resume()
        (failed,) = there.of(Failed)
        assert failed.why == (
            "Path: the seat must stand away from both cabinets. Until that is mended, what came "
            "last is left out here; it stays in the journal."
        )
        (guided,) = there.of(Guided)
        assert guided.guidance.readings == len(events) - 2
        assert there.round.readings == len(events)


def test_a_figure_on_which_numbers_end_is_refused() -> None:
    far = msgspec.structs.replace(DEMO_SETUP.targets.left, side_mm=1.7e308)
    wild = msgspec.structs.replace(DEMO_SETUP, targets=DEMO_SETUP.targets.replacing(Side.LEFT, far))
    state = Round.begin(wild)
    with np.errstate(all="raise"):  # FloatingPointError, as numbers end
        for event, _ in lived(40):
            state, why = resume.fed(state, event)
            if why is not None:
                break
    assert why is not None
    assert str(why).startswith("a figure is too large or too small to calculate with")
