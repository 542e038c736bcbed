"""The whole loop through a pseudo-terminal: real driver, watching, journal on disk, round."""

from __future__ import annotations

import contextlib
import os
from collections.abc import AsyncGenerator
from pathlib import Path

import pytest
from person_at_work import BEGINNING, MOST_READINGS, SETUP, Clock, Worker, ended

from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import Fault, Link, LinkState, Noise, Report
from witnessmark.meters.watch import watch
from witnessmark.model import Act, Decision, Reading, Side
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.store.journal import Journal
from witnessmark.store.store import Store
from witnessmark.words.live import say
from witnessmark_drivers.serial_text import SerialText
from witnessmark_simulators.meter import fault, garbage
from witnessmark_simulators.serial_line import SerialLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")


class Desk:
    """The program's side of the line: reports to the journal first, then to the round."""

    def __init__(self, line: SerialLine, worker: Worker, journal: Journal, round_id: int) -> None:
        self.line = line
        self.worker = worker
        self.state = Round.begin(SETUP)
        self.seen: list[str] = []
        self._journal = journal
        self._round_id = round_id
        self._clock = Clock()

    async def work(self) -> None:
        """Go on until both cabinets are done with."""
        driver = open_driver(self.line.address, self._clock)
        assert type(driver) is SerialText
        reports = watch(driver, quiet_after_s=None, pauses_s=(0.01,))
        async with contextlib.aclosing(reports):
            await self._follow(reports)

    async def _follow(self, reports: AsyncGenerator[Report, None]) -> None:
        async for report in reports:
            self.seen.append(
                report.state.value if isinstance(report, Link) else type(report).__name__
            )
            match report:
                case Link(LinkState.LOST):
                    self.line.plug_in()
                    continue
                case Reading() | Fault() | Noise():
                    await self._take(report)
            if guide(self.state).finished or self.state.readings > MOST_READINGS:
                return
            self._press()

    def _press(self) -> None:
        self.line.send(self.worker.obey(guide(self.state)).raw)

    async def _take(self, report: Reading | Fault | Noise) -> None:
        await self._journal.append(self._round_id, report)
        if isinstance(report, Reading):
            self.state = self.state.feed(report)

    async def decide(self, act: Act) -> None:
        command = Decision(act, self._clock())
        await self._journal.append(self._round_id, command)
        self.state = self.state.feed(command)


def replayed(path: Path) -> Round:
    """The state that the journal alone brings back, read from the disk anew."""
    with Store.open(path) as store:
        latest = store.latest_round()
        assert latest is not None
        state = Round.begin(latest.setup.setup)
        for entry in store.entries(latest.id):
            if isinstance(entry, Reading | Decision):
                state = state.feed(entry)
    return state


@contextlib.asynccontextmanager
async def desk(path: Path, seed: int) -> AsyncGenerator[Desk, None]:
    store = Store.open(path)
    round_id = store.start_round(store.save_setup("Loft", SETUP, BEGINNING), BEGINNING)
    async with Journal(store) as journal:
        with SerialLine() as line:
            yield Desk(line, Worker(seed), journal, round_id)


@pytest.mark.parametrize("seed", [3, 21, 144, 250])
async def test_a_pair_is_brought_in_over_a_serial_line(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "store.sqlite3"
    async with desk(path, seed) as at:
        await at.work()
    end = ended(at.worker, guide(at.state))
    assert end.finished
    assert end.called_in == (True, True)
    assert end.truly_in == (True, True)
    assert set(at.seen) == {"open", "Reading"}
    assert at.seen.count("Reading") == end.readings
    back = replayed(path)
    assert back == at.state
    assert guide(back) == guide(at.state)


async def test_faults_garbage_and_a_pulled_plug_change_nothing_but_the_way(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite3"
    async with desk(path, 8) as at:
        meter = at.worker.person.meter
        meter.misbehave_next(garbage(b"\x07?12.5#\r\n"))
        meter.misbehave_next(fault("too little light comes back"))
        original, sent = at.line.send, []

        def send(raw: bytes) -> None:
            sent.append(raw)
            original(raw) if len(sent) != 9 else at.line.unplug()

        at.line.send = send  # type: ignore[method-assign]
        await at.work()
    assert at.seen[:4] == ["open", "Fault", "Noise", "Reading"]
    assert at.seen.count("lost") == 1
    assert at.seen.count("open") == 2
    assert say(guide(at.state)).headline.figure == "BOTH IN"
    assert at.worker.truly_in(Side.LEFT)
    assert at.worker.truly_in(Side.RIGHT)
    assert at.seen.count("Reading") == at.state.readings
    assert replayed(path) == at.state


async def test_decisions_come_back_from_the_journal_too(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite3"
    async with desk(path, 5) as at:
        for act in (Act.SKIP, Act.UNDO, Act.OTHER, Act.HOLD, Act.HOLD, Act.OTHER, Act.KEEP):
            await at.decide(act)
        await at.work()
        await at.decide(Act.UNDO)
        await at.decide(Act.MOVED)
    assert not at.state.finished
    assert replayed(path) == at.state
