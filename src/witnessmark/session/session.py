"""One evening: the open room, its round, the meter and the phones.

Every event goes one way: to the journal, then to those who follow the session, then through the
round to the guidance, which is computed once and handed on. The session knows no screen: those
that there are ``subscribe``, and call its methods.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from witnessmark.errors import BadInput, StoreError, WitnessmarkError
from witnessmark.meters.port import Link, utc_now
from witnessmark.model import Act, Decision, Mark, Onward, Reading, SetupChanged, Side, TiltTaken
from witnessmark.session.digits_first import DigitsFirst
from witnessmark.session.draft import Draft
from witnessmark.session.events import (
    Came,
    DecidedOnPhone,
    Failed,
    Followers,
    Guided,
    LinkChanged,
    Listener,
    LiveRound,
    Part,
    RoundBegun,
)
from witnessmark.session.meter import Destination, OpenDriver, SessionMeter
from witnessmark.session.remote import RemoteViews
from witnessmark.session.workspace import Saver, Workspace
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store

if TYPE_CHECKING:
    from witnessmark.meters.port import Clock, Driver, Fault, Noise, Report
    from witnessmark.phone.state import ActWords
    from witnessmark.placing.guidance import Guidance
    from witnessmark.placing.round import Event, Round
    from witnessmark.session.resume import Resumed, Shown
    from witnessmark.store.records import Kept


class Session:
    """Owns all of an evening that is not on a screen. To be used within one event loop."""

    def __init__(
        self,
        store: Store,
        workspace: Workspace,
        *,
        act_words: Callable[[], Mapping[Act | Onward, ActWords]],
        clock: Clock = utc_now,
        open_driver: OpenDriver | None = None,
    ) -> None:
        """The session owns ``store`` from here on.

        ``act_words`` gives what decisions are called on a phone, ``open_driver`` the driver for an
        address; without it the installed drivers are asked.

        Raises:
            StoreError: when the store cannot be written; it is closed then.
        """
        try:
            self.scarce = store.readiness()
            """Why the store may not last for the evening; empty where it will."""
            begun = Workspace.unfinished_in(store)
        except StoreError:
            store.close()
            raise
        self.journal = Journal(store)
        self.clock = clock
        self.workspace = workspace
        """What the person has entered so far. Exchanged whole; saved by ``save``."""
        self.unfinished = {one.name: one for one in begun if one.name != workspace.name}
        """Other rooms that are not whole yet."""
        self.begins_afresh = False
        """Whether the next round of this room is a new one."""
        self.live: LiveRound | None = None
        self._left: LiveRound | None = None
        """The round that was left for this one, while nothing was recorded in this."""
        self.remote = RemoteViews(self._decide_on_phone, act_words)
        self._followers = Followers()
        self._saver = Saver(self.journal, clock, workspace)
        self._beginning = asyncio.Lock()
        self._listens_for: Part | None = Part.ROUND
        self._meter = SessionMeter(
            self.journal,
            open_driver or _open_driver,
            clock,
            place=self._place,
            take=self._take,
            fail=self._fail,
            watch_over=self._followers.watch_over,
        )
        self._waiting: list[Event] = []
        """What is in the journal, and not in the round yet."""
        self._last_entry = 0
        """The number in the journal of the last that is."""
        self._since_snapshot = 0
        """Events that the round was fed since its state was kept."""
        self._follow_soon = DigitsFirst(self._follow, self._followers.watch_over)
        self._passed_over = ""
        """What could not be read in the store, as it was told last."""
        self._short = ""
        """Why not all of the round is shown, as it was told last."""
        self._deciding: set[asyncio.Task[None]] = set()
        self._beside: set[asyncio.Task[None]] = set()
        """What nobody waits for before the end."""

    def subscribe(self, part: Part, listener: Listener) -> Callable[[], None]:
        """Call ``listener`` with what happens in a part of the session; return what ends that.

        It is called at once as something happens, so it must not take long.
        """
        return self._followers.add(part, listener)

    def _fail(self, error: WitnessmarkError, part: Part | None = None) -> None:
        part = part or self._listens_for or Part.ROUND
        self._followers.publish(Failed(part, str(error)))
        if part is Part.ROUND:
            self.remote.fail()

    # -- the open room

    @property
    def draft(self) -> Draft:
        """What is known of the setup."""
        return self.workspace.draft

    def edit(self, draft: Draft) -> None:
        """Take another draft of the setup."""
        self.workspace = msgspec.structs.replace(self.workspace, draft=draft)

    def aim_afresh(self, draft: Draft) -> None:
        """Take a draft with other targets, for which the next round is a new one."""
        self.edit(draft)
        self.begins_afresh = True

    async def save(self) -> int | None:
        """Save the open room if it was changed; the number its setup is stored under, if whole."""
        try:
            await self._saver.save(self.workspace)
        except StoreError as error:
            self._fail(error, Part.PROGRAM)
        return self._saver.setup_id

    async def move_to(self, workspace: Workspace) -> bool:
        """Leave this room for another, where what there is of this one could be saved.

        One that is not whole yet waits in ``unfinished``. The round stays in the journal.
        """
        async with self._beginning:
            await self.save()
            here = self.workspace
            if here.draft.setup is not None and not self._saver.has(here):
                return False
            if here.draft.setup is None and here.draft.is_begun:
                self.unfinished[here.name] = here
            if self.unfinished.get(workspace.name) == workspace:
                del self.unfinished[workspace.name]
            self.live = self._left = None
            self.remote.leave()
            await self._meter.let_go()
            self._saver.begin(workspace)
            self.begins_afresh = False
            self.workspace = workspace
            return True

    # -- the round

    @property
    def current(self) -> LiveRound | None:
        """The round that is under way in the open room, if one is."""
        live = self.live
        return live if live and live.room == self.workspace.name else None

    @property
    def round(self) -> Round | None:
        """The state of that round."""
        return self.current.state if self.current else None

    @property
    def guidance(self) -> Guidance | None:
        """What there is to do in it, and where the pair stands."""
        return self.current.guidance if self.current else None

    @property
    def round_id(self) -> int | None:
        """The number that it is journaled under."""
        return self.current.id if self.current else None

    async def resume(self) -> None:
        """Go on with the round of the open room, its setup and meter as they are now, or begin one.

        The meter is listened to from then on.
        """
        # in a thread, so that a screen is painted while the arithmetic loads
        await asyncio.to_thread(import_module, "witnessmark.session.resume")
        async with self._beginning:
            if self.begins_afresh:
                await self._begin_afresh()
            else:
                await self._resume()

    async def match(self, side: Side) -> None:
        """Go on with the round, now bringing one cabinet to the mirror image of the other."""
        from witnessmark.placing.alike import targets_to_match  # noqa: PLC0415

        live = self.current
        if live is not None and live.guidance.may_be_matched:
            guidance = live.guidance
            targets = targets_to_match(guidance.setup, guidance.measured, side)
            self.edit(self.draft.aimed_at(targets))
            await self.resume()

    async def marks(self) -> list[Kept[Mark]]:
        """Return the marks of the open room, in the order in which they were kept.

        Raises:
            StoreError: when they cannot be read.
        """
        return await self.journal.run(Store.kept, Mark, self.workspace.name)

    async def newly_passed_over(self) -> str:
        """Return a sentence about what could not be read in the store; empty where it was told."""
        before, self._passed_over = self._passed_over, await self.journal.run(_passed_over)
        return "" if self._passed_over == before else self._passed_over

    async def put_back(self) -> None:
        """Go on with a check of a mark, now putting back, with the shots that there are."""
        from witnessmark.placing.marks import put_back_after_check  # noqa: PLC0415

        live = self.current
        if live is None or not live.guidance.is_found_moved or live.guidance.against is None:
            return
        try:
            marks = await self.marks()
        except StoreError as error:
            self._fail(error, Part.ROUND)
            return
        records = [mark.record for mark in marks]
        setup, found = live.guidance.setup, live.guidance.against
        self.edit(Draft.of(put_back_after_check(setup, records, found)))
        await self.resume()

    async def begin_afresh(self) -> None:
        """Leave the round as it is in the journal, and begin another."""
        async with self._beginning:
            left = self.current
            await self._begin_afresh()
            self._left = left if self.current is not left else None

    @property
    def can_take_up_again(self) -> bool:
        """Whether the beginning of this round can be undone."""
        return self._left is not None

    async def take_up_again(self) -> None:
        """Go on with the round that was left for this one."""
        async with self._beginning:
            left, self._left = self._left, None
            if left is None:
                return
            try:
                # an undo before all else is that of the beginning
                await self.journal.append(self.round_id, Decision(Act.UNDO, self.clock()))
            except WitnessmarkError as error:
                self._fail(error, Part.ROUND)
            else:
                self.live = None
                await self._resume()

    async def _resume(self) -> None:
        from witnessmark.session.resume import resume_or_begin  # noqa: PLC0415

        room, setup_id, setup = self.workspace.name, await self.save(), self.draft.setup
        if setup_id is None or setup is None:
            return
        live = self.live
        if live is not None and live.room == room:
            if live.state.setup != setup:
                await self.record(SetupChanged(setup, self.clock()))
            self._listen()
            return
        try:
            resumed = await resume_or_begin(self.journal, room, setup_id, setup, self.clock())
        except WitnessmarkError as error:
            self._fail(error, Part.ROUND)
        else:
            self._begin(resumed, room)

    async def _begin_afresh(self) -> None:
        from witnessmark.session.resume import begin  # noqa: PLC0415

        room, setup_id, setup = self.workspace.name, await self.save(), self.draft.setup
        if setup_id is None or setup is None:
            return
        try:
            begun = await begin(self.journal, setup_id, setup, self.clock())
        except WitnessmarkError as error:
            self._fail(error, Part.ROUND)
        else:
            self._begin(begun, room)

    def _begin(self, begun: Resumed, room: str) -> None:
        self.begins_afresh = False
        self._waiting.clear()  # that is of the round before
        self._since_snapshot = begun.since_snapshot
        found = _guided(begun.state)
        guidance = found.shown.guidance
        if guidance is None:
            # the round waits in the journal until what it is about is entered otherwise
            self.live = None
        else:
            self._followers.publish(
                RoundBegun(begun.resumed, begun.is_elsewhere, begun.passed_over)
            )
            self._guide(begun.round_id, room, found.state, guidance, before=None)
        self._short = ""
        self._tell_refusal(found)
        self._listen()

    def _tell_refusal(self, found: _FollowUp) -> None:
        """Say which event is refused; of what is shown why it is not all, once."""
        if found.refused is not None:
            self._fail(found.refused, Part.ROUND)
        before, self._short = self._short, found.shown.why
        if self._short not in ("", before):
            self._fail(BadInput(self._short), Part.ROUND)

    async def record(
        self,
        event: Reading | Fault | Noise | Decision | TiltTaken | SetupChanged,
        part: Part = Part.ROUND,
    ) -> None:
        """Journal something that did not come from the meter, then take it in.

        What cannot be stored is not taken in: those who follow are sent ``Failed``.
        """
        place = self._place(part)
        try:
            entry = await self.journal.append(place.round_id, event)
        except WitnessmarkError as error:
            self._fail(error, part)
        else:
            self._take(event, place._replace(entry=entry))

    def _take(self, what: Report | Decision | TiltTaken | SetupChanged, place: Destination) -> None:
        """Hand on what is in the journal, and have what follows from it worked out."""
        if isinstance(what, Link):
            self._followers.publish(LinkChanged(what))
            self.remote.hear(what)
            return
        self._followers.publish(Came(place.part, what))
        if place.part is not Part.ROUND:
            return
        self.remote.hear(what)
        is_of_this_round = self.live is not None and place.round_id == self.live.id
        if is_of_this_round and isinstance(what, Reading | Decision | TiltTaken | SetupChanged):
            self._left = None
            self._waiting.append(what)
            self._last_entry = max(self._last_entry, place.entry)
            self._follow_soon.ask()

    async def _follow(self) -> None:
        """Bring what has come to the round, and hand on where that leads."""
        live, waiting = self.live, self._waiting
        self._waiting = []
        if live is None:
            return
        last_entry, state, refused = self._last_entry, live.state, None
        # in a thread, for readings that contradict each other may take a tenth of a second; one at
        # a time, for while the thread is at work the loop has to wrest each of its turns from it
        for event in waiting:
            state, why = await asyncio.to_thread(_fed, state, event)
            refused = refused or why
        found = await asyncio.to_thread(_guided, state, refused)
        if self.live is live:  # else the round was left meanwhile; what came is in its journal
            self._keep_now_and_then(live.id, last_entry, found.state, len(waiting))
            if (guidance := found.shown.guidance) is None:
                self.live = msgspec.structs.replace(live, state=found.state)
            else:
                self._guide(live.id, live.room, found.state, guidance, before=live.guidance)
            self._tell_refusal(found)

    def _keep_now_and_then(self, round_id: int, entry: int, state: Round, fed: int) -> None:
        """Have the state of a round kept, so that it is taken up soon however long it is."""
        from witnessmark.session.resume import SNAPSHOT_EVERY, keep_state  # noqa: PLC0415

        self._since_snapshot += fed
        if self._since_snapshot >= SNAPSHOT_EVERY:
            self._since_snapshot = 0
            keeping = keep_state(self.journal, round_id, entry, state)
            self._run_beside(keeping, "snapshot")

    def _run_beside(self, work: Coroutine[None, None, None], name: str) -> None:
        task = asyncio.create_task(work, name=name)
        self._beside.add(task)
        task.add_done_callback(self._beside.discard)
        self._followers.watch_over(task)

    def _guide(
        self, round_id: int, room: str, state: Round, guidance: Guidance, *, before: Guidance | None
    ) -> None:
        self.live = LiveRound(round_id, room, state, guidance)
        cue = self.remote.show(guidance, before)
        self._followers.publish(Guided(guidance, cue))

    async def go_onward(self, way: Onward) -> None:
        """Do what a person chose of what was found."""
        match way:
            case Onward.MOVE_LEFT:
                await self.match(Side.LEFT)
            case Onward.MOVE_RIGHT:
                await self.match(Side.RIGHT)
            case Onward.PUT_BACK:
                await self.put_back()

    def _decide_on_phone(self, act: Act | Onward) -> None:
        if self.live is None:  # it was decided on what is past
            return
        self._followers.publish(DecidedOnPhone(act))
        decided = (
            self.go_onward(act)
            if isinstance(act, Onward)
            else self.record(Decision(act, self.clock()))
        )
        deciding = asyncio.create_task(decided, name="decide")
        self._deciding.add(deciding)
        deciding.add_done_callback(self._deciding.discard)
        self._followers.watch_over(deciding)

    @property
    def is_behind(self) -> bool:
        """Whether something has come that the guidance does not show yet."""
        return self._follow_soon.is_awaited or bool(self._deciding)

    # -- the meter

    def listen_for(self, part: Part) -> None:
        """Listen to the chosen meter; what it brings belongs to ``part`` from now on.

        For the round it is listened to only where one is under way.
        """
        is_other, self._listens_for = part is not self._listens_for, part
        if is_other and self._meter.has_ended:
            self._meter.stop()
        self._listen()
        if is_other and (link := self._meter.link):
            self._followers.publish(LinkChanged(link))  # for a follower that joined late

    async def lend_meter(self, address: str) -> Driver:
        """Return the driver of an address, whose meter is left alone until ``listen_for``.

        Raises:
            BadInput: when there is no driver for the address.
        """
        self._listens_for = None
        return await self._meter.lend(address)

    @property
    def can_ask(self) -> bool:
        """Whether the chosen meter measures only when it is asked to."""
        return self._meter.can_be_asked and self._meter.address == self.workspace.meter_address

    def ask(self) -> None:
        """Have a meter that waits to be asked measure now."""
        self._meter.ask()

    def _listen(self) -> None:
        if self._listens_for is None or (self._listens_for is Part.ROUND and self.live is None):
            self._meter.stop()
        else:
            self._meter.listen(self.workspace.meter_address)

    def _place(self, part: Part | None = None) -> Destination:
        part = part or self._listens_for or Part.ROUND
        return Destination(part, self.live.id if part is Part.ROUND and self.live else None)

    async def aclose(self) -> None:
        """Save, let go of the meter and of the phones, and close the store."""
        await self.save()
        await self._meter.let_go()
        await self.remote.stop("The program has ended.")
        if unfinished := self._deciding | self._beside:
            await asyncio.wait(unfinished)
        self._follow_soon.stop()
        await self.journal.aclose()


def _passed_over(store: Store) -> str:
    return store.passed_over


class _FollowUp(NamedTuple):
    """A round after what has come, what is shown of it, and why an event was refused, if so."""

    state: Round
    shown: Shown
    refused: WitnessmarkError | None


def _fed(state: Round, event: Event) -> tuple[Round, WitnessmarkError | None]:
    from witnessmark.session.resume import fed  # noqa: PLC0415 - loads the arithmetic

    return fed(state, event)


def _guided(state: Round, refused: WitnessmarkError | None = None) -> _FollowUp:
    from witnessmark.session.resume import shown  # noqa: PLC0415 - loads the arithmetic

    return _FollowUp(state, shown(state), refused)


def _open_driver(address: str) -> Driver:
    from witnessmark.meters.finding import open_driver  # noqa: PLC0415

    return open_driver(address)
