"""From a meter to the journal and on: nothing is handed on before it is on disk."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import sys
from collections.abc import AsyncGenerator, Callable
from typing import TYPE_CHECKING, Final, NamedTuple

from witnessmark.errors import StoreError, WitnessmarkError
from witnessmark.meters.driver_calls import fire, waits_to_be_asked
from witnessmark.meters.port import Driver, Link, LinkState, Report
from witnessmark.meters.running import LET_GO_S, TellFault
from witnessmark.meters.watch import watch
from witnessmark.session.by_keyboard import is_keyboard
from witnessmark.session.events import Part
from witnessmark.store.store import Store

if TYPE_CHECKING:
    from witnessmark.meters.port import Clock
    from witnessmark.store.journal import Journal

OpenDriver = Callable[[str], Driver]
"""Gives the driver for an address; the meter is not touched yet."""

_GIVE_WAY_S: Final = 0.0001
"""Time, seconds, after which the arithmetic in a thread is asked to let a reading's digits through.

It is asked by who has waited for so long at a stretch. The arithmetic lets go of the interpreter by
itself between two steps, too briefly for a waiter to wake and take it, and the wait begins anew:
with a millisecond, which is longer than most steps, digits waited for the end of it all.
"""


class Destination(NamedTuple):
    """Where what comes now belongs, and the round that it is journaled under, if any.

    ``entry`` is the number that it has in the journal, once it is there.
    """

    part: Part
    round_id: int | None
    entry: int = 0


async def journaled_reports(
    driver: Driver,
    journal: Journal,
    place: Callable[[], Destination],
    refused: Callable[[StoreError], object],
    *,
    with_unasked: bool = False,
    left_behind: TellFault | None = None,
    let_go_s: float = LET_GO_S,
) -> AsyncGenerator[tuple[Report, Destination], None]:
    """Yield all that a meter brings, each report after it was committed to the journal.

    ``place`` gives where a report belongs when it comes. A meter that waits to be asked is asked as
    it is opened, when nobody holds it to anything: what it answers then is journaled outside any
    round, and handed on only ``with_unasked``. What cannot be stored never is: ``refused`` is
    called with the reason, and the meter is listened to further, for the disk may have room again
    for the next. ``left_behind`` is told of a driver that does not let go of its meter
    within ``let_go_s``.

    Raises:
        BadInput: when the driver finds its source wrong.
    """
    asked_by_nobody = False
    async with contextlib.aclosing(
        watch(driver, left_behind=left_behind, let_go_s=let_go_s)
    ) as reports:
        async for report in reports:
            here = place()
            if isinstance(report, Link):
                is_open = report.state is LinkState.OPEN
                asked_by_nobody = is_open and waits_to_be_asked(driver) and not with_unasked
                yield report, here
                continue
            is_of_none, asked_by_nobody = asked_by_nobody, False
            try:
                entry = await journal.append(None if is_of_none else here.round_id, report)
            except StoreError as error:
                refused(error)
                continue
            if not is_of_none:
                yield report, here._replace(entry=entry)


class SessionMeter:
    """Listens to one meter at a time."""

    def __init__(
        self,
        journal: Journal,
        open_driver: OpenDriver,
        clock: Clock,
        *,
        place: Callable[[], Destination],
        take: Callable[[Report, Destination], None],
        fail: Callable[[WitnessmarkError], None],
        watch_over: Callable[[asyncio.Task[None]], None],
        let_go_s: float = LET_GO_S,
    ) -> None:
        """``take`` is handed each report with the place that it belongs to by ``place``.

        ``fail`` is handed what goes wrong and a person can mend; ``watch_over`` each task, so that
        no defect passes unseen.
        """
        self.address = ""
        """What is listened to; empty when nothing is."""
        self.link: Link | None = None
        """How things stand with it; None until that is known."""
        self._journal = journal
        self._open_driver = open_driver
        self._clock = clock
        self._place = place
        self._hand_on = take
        self._fail = fail
        self._watch_over = watch_over
        self._let_go_s = let_go_s
        self._driver: Driver | None = None
        self._opened: Link | None = None
        self._tasks: set[asyncio.Task[None]] = set()
        """The one that listens, and earlier ones that still close what they had open."""

    @property
    def has_ended(self) -> bool:
        """Whether nothing more comes: the source ended by itself, or there is no such meter."""
        return not self._tasks

    def listen(self, address: str) -> None:
        """Listen to the meter of an address; one that is listened to already goes on."""
        if self.address == address:
            return
        self.stop()
        self.address = address
        task = asyncio.create_task(self._listen(address, tuple(self._tasks)), name="meter")
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        self._watch_over(task)

    def stop(self) -> None:
        """Listen no more; what is open is closed soon."""
        self.address, self.link, self._driver = "", None, None
        for task in self._tasks:
            if not task.cancelling():
                task.cancel()

    async def let_go(self) -> None:
        """Listen no more, and return when what was open is closed."""
        self.stop()
        # a serial port is closed by its own thread, which is waited for, however often cancelled
        if self._tasks:
            await asyncio.wait(self._tasks)

    async def lend(self, address: str) -> Driver:
        """Return the driver of an address for somebody else, with no meter open here.

        Raises:
            BadInput: when there is no driver for the address.
        """
        await self.let_go()
        return self._open_driver(address)

    @property
    def can_be_asked(self) -> bool:
        """Whether this meter measures only when it is asked to."""
        try:
            return waits_to_be_asked(self._driver)
        except WitnessmarkError:
            return False  # said when the meter was opened

    def ask(self) -> None:
        """Have a meter that waits to be asked measure now."""
        try:
            fire(self._driver)
        except WitnessmarkError as error:
            self._fail(error)

    async def _listen(self, address: str, before: tuple[asyncio.Task[None], ...]) -> None:
        if before:  # two at one port would disturb each other
            await asyncio.wait(before)
        if is_keyboard(address):
            words = "type a distance and Enter"
            self._take(Link(LinkState.OPEN, words, self._clock(), address), self._place())
            return
        try:
            self._driver = driver = self._open_driver(address)
            gc.freeze()  # or a collection of all that is loaded by now would hold up a reading
            sys.setswitchinterval(_GIVE_WAY_S)
            await self._journal.run(Store.make_room_ahead)
            reports = journaled_reports(
                driver,
                self._journal,
                self._place,
                self._fail,
                left_behind=self._fail,
                let_go_s=self._let_go_s,
            )
            async with contextlib.aclosing(reports):
                async for report, place in reports:
                    self._take(report, place)
        except WitnessmarkError as error:
            self._fail(error)

    def _take(self, report: Report, place: Destination) -> None:
        if isinstance(report, Link):
            self.link = report
            if report.state is LinkState.OPEN:
                self._opened = report
        elif self.link and self.link.state is LinkState.QUIET:
            self.link = self._opened
        self._hand_on(report, place)
