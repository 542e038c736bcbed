"""Which round an evening goes on with: the one that was under way, or a new one."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import NamedTuple

from witnessmark.model import Setup, SetupChanged
from witnessmark.placing.round import Event, Round
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store

STALE_AFTER = timedelta(hours=12)
"""Time without an event after which a round is over: the cabinets may stand anywhere by then."""


class Resumed(NamedTuple):
    """A round, which is this copy's of the program, and the number its events are journaled under.

    ``is_elsewhere`` says that another copy is at work on the one that was under way.
    """

    round_id: int
    state: Round
    resumed: bool
    is_elsewhere: bool = False


async def resume_or_begin(
    journal: Journal, room: str, setup_id: int, setup: Setup, now: datetime
) -> Resumed:
    """Go on with the latest round of a room if it was left not long ago, else begin one.

    The state is brought back by feeding the journal's entries to the round again. Where the setup
    was changed since, that is journaled and fed as well. A round that another copy of the program
    is at work on is left to it.

    Raises:
        StoreError: when the store cannot be read or written.
    """
    latest = await journal.run(Store.latest_round, room)
    if latest is None:
        return await begin(journal, setup_id, setup, now)
    # claimed before it is read, or another copy could add to it after that
    is_ours = await journal.run(Store.claim_round, latest.key)
    entries = await journal.run(Store.entries, latest.id)
    last_at = max((entry.at for entry in entries), default=latest.started_at)
    is_fresh = now - last_at < STALE_AFTER
    if not is_ours or not is_fresh:
        begun = await begin(journal, setup_id, setup, now)
        return begun._replace(is_elsewhere=is_fresh)
    state = Round.begin(latest.setup.setup)
    for entry in entries:
        if isinstance(entry, Event):
            state = state.feed(entry)
    if state.setup != setup:
        revised = SetupChanged(setup, now)
        await journal.append(latest.id, revised)
        state = state.feed(revised)
    return Resumed(latest.id, state, resumed=bool(entries))


async def begin(journal: Journal, setup_id: int, setup: Setup, now: datetime) -> Resumed:
    """Begin a round in which nothing has been measured.

    Raises:
        StoreError: when the store cannot be written.
    """
    round_id = await journal.run(Store.start_round, setup_id, now)
    return Resumed(round_id, Round.begin(setup), resumed=False)
