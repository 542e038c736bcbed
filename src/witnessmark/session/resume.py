"""Which round an evening goes on with: the one that was under way, or a new one."""

from __future__ import annotations

import asyncio
import bisect
import contextlib
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import NamedTuple

import msgspec
from numpy.linalg import LinAlgError

from witnessmark.errors import BadInput, StoreError, WitnessmarkError
from witnessmark.model import Act, Decision, Setup, SetupChanged
from witnessmark.model.limits import AIR, check_record
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import Event, Round
from witnessmark.sentences import sentence
from witnessmark.session.draft import Draft
from witnessmark.store.journal import Journal
from witnessmark.store.records import UNREADABLE, JournalEntry, Snapshot, StartedRound
from witnessmark.store.store import Store
from witnessmark.words.live_notices import LATEST_LEFT_OUT, USUAL_AIR, left_out_words

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
    state, count, left_out = brought_back.state, brought_back.fed, brought_back.left_out
    if (midway := brought_back.midway) is not None:  # a long round of which no states were kept
        count = SNAPSHOT_EVERY
        await keep_state(journal, latest.id, *midway)
    if state.setup != setup:
        revised = SetupChanged(setup, now)
        entry = await journal.append(latest.id, revised)
        state, why = fed(state, revised)
        left_out += ((entry, why),) if why else ()
    if left_out:
        passed_over = f"{passed_over} {left_out_words(left_out)}".strip()
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
        if not isinstance(event, SetupChanged):  # which a person can mend, and is shown for that
            check_record(event, type(event).__name__.lower())
        with _figures_refused():
            return state.feed(event), None
    except WitnessmarkError as error:
        return state, error


class Shown(NamedTuple):
    """What there is to do in a round; None where nothing can be said of it.

    Where a figure in it is refused, ``refused`` says why and ``instead`` what is shown for now.
    """

    guidance: Guidance | None
    refused: WitnessmarkError | None = None
    instead: str = ""

    @property
    def why(self) -> str:
        """Both in sentences; empty where all is shown."""
        return "" if self.refused is None else f"{sentence(self.refused)} {self.instead}".strip()


def shown(state: Round) -> Shown:
    """Return the guidance of a round, or as much of it as the arithmetic can do with."""
    whole = _guided(state)
    if whole.refused is None:
        return whole
    if not AIR.admits(state.setup.temperature_c):
        in_usual_air = _guided(_with_air(state, Draft().temperature_c))
        if in_usual_air.guidance is not None:
            return Shown(in_usual_air.guidance, whole.refused, USUAL_AIR)
    # the latest that can be shown: what came after it is what the arithmetic cannot do with
    last = bisect.bisect_left(state.past, 1, key=lambda one: _guided(one).guidance is None) - 1
    guidance = _guided(state.past[last] if last >= 0 else Round.begin(state.setup)).guidance
    return Shown(guidance, whole.refused, LATEST_LEFT_OUT if guidance else "")


def _guided(state: Round) -> Shown:
    try:
        with _figures_refused():
            return Shown(guide(state))
    except WitnessmarkError as error:
        return Shown(None, error)


def _with_air(state: Round, temperature_c: float) -> Round:
    setup = msgspec.structs.replace(state.setup, temperature_c=temperature_c)
    return fed(state, SetupChanged(setup, datetime.min))[0]  # noqa: DTZ901 - it is stored nowhere


@contextlib.contextmanager
def _figures_refused() -> Iterator[None]:
    """Refuse a figure on which numbers end, as a target at 1e308 mm in a store that is damaged."""
    try:
        yield
    except (ArithmeticError, LinAlgError) as error:
        raise BadInput(f"a figure is too large or too small to calculate with ({error})") from error


class _BroughtBack(NamedTuple):
    """A state, how many entries led to it, and a state on the way with its number of entries.

    ``left_out`` has the numbers of those that led nowhere, and why.
    """

    state: Round
    fed: int
    midway: tuple[int, Round] | None
    left_out: tuple[tuple[int, WitnessmarkError], ...]


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
    midway = None
    left_out = []
    for place, (id_, entry) in enumerate(entries, 1):
        is_undo = isinstance(entry, Decision) and entry.act is Act.UNDO
        if is_undo and begins_with is not None and not state.past:
            return None
        if isinstance(entry, Event):
            state, why = fed(state, entry)
            if why is not None:
                left_out.append((id_, why))
        if len(entries) > 2 * SNAPSHOT_EVERY and place == len(entries) - SNAPSHOT_EVERY:
            midway = id_, state
    return _BroughtBack(state, len(entries), midway, tuple(left_out))


def _passed_over(store: Store) -> str:
    return store.passed_over
