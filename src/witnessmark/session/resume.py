"""Which round an evening goes on with: the one that was under way, or a new one."""

from __future__ import annotations

import asyncio
import contextlib
from datetime import datetime, timedelta
from typing import NamedTuple

from witnessmark.errors import StoreError, WitnessmarkError
from witnessmark.model import Act, Decision, Setup, SetupChanged
from witnessmark.placing.round import Event, Round
from witnessmark.sentences import sentence
from witnessmark.store.journal import Journal
from witnessmark.store.records import UNREADABLE, JournalEntry, Snapshot, StartedRound
from witnessmark.store.store import Store

STALE_AFTER = timedelta(hours=12)
"""Time without an event after which a round is over: the cabinets may stand anywhere by then."""


SNAPSHOT_EVERY = 25
"""Events after which the state of a round is kept: as many at least can be undone once it is taken
up, and no more than twice as many are fed again."""


class Resumed(NamedTuple):
    """A round, which is this copy's of the program, and the number its events are journaled under.

    ``is_elsewhere`` says that another copy is at work on the one that was under way,
    ``since_snapshot`` how many events came after its state was kept last, ``passed_over`` what of
    the store could not be read.
    """

    round_id: int
    state: Round
    resumed: bool
    is_elsewhere: bool = False
    since_snapshot: int = 0
    passed_over: str = ""


async def resume_or_begin(
    journal: Journal, room: str, setup_id: int, setup: Setup, now: datetime
) -> Resumed:
    """Go on with the latest round of a room if it was left not long ago, else begin one.

    The state is brought back by feeding the journal's entries to the round again, beginning with a
    state that was kept on the way. Where the setup was changed since, that is journaled and fed as
    well. A round that another copy of the program is at work on is left to it.

    Raises:
        StoreError: when the store cannot be read or written.
    """
    latest = await journal.run(Store.latest_round, room)
    if latest is None:
        return await begin(journal, setup_id, setup, now)
    # claimed before it is read, or another copy could add to it after that
    is_ours = await journal.run(Store.claim_round, latest.key)
    last_at, brought_back = await _bring_back(journal, latest)
    # either way, for a clock may have been wrong
    is_fresh = abs(now - last_at) < STALE_AFTER
    passed_over = await journal.run(_passed_over)
    if not is_ours or not is_fresh:
        begun = await begin(journal, setup_id, setup, now)
        return begun._replace(is_elsewhere=is_fresh, passed_over=passed_over)
    state, count, refused = brought_back.state, brought_back.fed, brought_back.refused
    if (midway := brought_back.midway) is not None:  # a long round of which no states were kept
        count = SNAPSHOT_EVERY
        await keep_state(journal, latest.id, *midway)
    if state.setup != setup:
        revised = SetupChanged(setup, now)
        await journal.append(latest.id, revised)
        state, why = fed(state, revised)
        refused = refused or why
    if refused is not None:
        passed_over = f"{passed_over} {sentence(str(refused))}".strip()
    return Resumed(
        latest.id,
        state,
        resumed=brought_back.fed > 0,
        since_snapshot=count,
        passed_over=passed_over,
    )


async def begin(journal: Journal, setup_id: int, setup: Setup, now: datetime) -> Resumed:
    """Begin a round in which nothing has been measured.

    Raises:
        StoreError: when the store cannot be written.
    """
    round_id = await journal.run(Store.start_round, setup_id, now)
    return Resumed(round_id, Round.begin(setup), resumed=False)


async def keep_state(journal: Journal, round_id: int, entry: int, state: Round) -> None:
    """Keep the state of a round after an entry, if it can be brought back from what is kept.

    Where it cannot be stored all is as it was: the round is only taken up more slowly.
    """
    packed = await asyncio.to_thread(state.packed)  # a long round takes a while
    with contextlib.suppress(StoreError):
        await journal.run(Store.keep_snapshot, round_id, Snapshot(entry, packed))


def fed(state: Round, event: Event) -> tuple[Round, WitnessmarkError | None]:
    """Return a round after an event, and why it is as it was where the event is refused."""
    try:
        return state.feed(event), None
    except WitnessmarkError as error:
        return state, error


class _BroughtBack(NamedTuple):
    """A state, how many entries led to it, and a state on the way with its number of entries.

    ``refused`` is why the first of those that led nowhere did not.
    """

    state: Round
    fed: int
    midway: tuple[int, Round] | None
    refused: WitnessmarkError | None


async def _bring_back(journal: Journal, latest: StartedRound) -> tuple[datetime, _BroughtBack]:
    """Return when the last of a round came, and its state after that."""
    snapshot = await journal.run(Store.snapshot_before, latest.id, SNAPSHOT_EVERY)
    for begins_with in (snapshot, None):
        after = begins_with.after if begins_with else 0
        entries = await journal.run(Store.numbered_entries, latest.id, after)
        # in a thread, for it may take long, and the screen is to be painted
        back = await asyncio.to_thread(_fed, latest.setup.setup, begins_with, entries)
        if back is not None:
            break
    assert back is not None  # noqa: S101 - all the entries always lead somewhere
    return (entries[-1][1].at if entries else latest.started_at), back


def _fed(
    setup: Setup, begins_with: Snapshot | None, entries: list[tuple[int, JournalEntry]]
) -> _BroughtBack | None:
    """Return the state after these entries; None where the state to begin with does not do.

    So it is where it is of a program that knew other states, or more is undone than came after it.
    """
    try:
        state = Round.unpacked(begins_with.body) if begins_with else Round.begin(setup)
    except UNREADABLE:
        return None
    midway = refused = None
    for place, (id_, entry) in enumerate(entries, 1):
        is_undo = isinstance(entry, Decision) and entry.act is Act.UNDO
        if is_undo and begins_with is not None and not state.past:
            return None
        if isinstance(entry, Event):
            state, why = fed(state, entry)
            refused = refused or why
        if len(entries) > 2 * SNAPSHOT_EVERY and place == len(entries) - SNAPSHOT_EVERY:
            midway = id_, state
    return _BroughtBack(state, len(entries), midway, refused)


def _passed_over(store: Store) -> str:
    return store.passed_over
