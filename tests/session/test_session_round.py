"""A round is played without a screen: by the button, after a kill, and with a phone beside it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from evening import evening, simulated_room
from patience import until
from visitor import Visitor

from witnessmark.errors import StoreError
from witnessmark.meters.port import LinkState, Noise
from witnessmark.model import Act, Decision, Placement, Reading
from witnessmark.placing.cues import Sign
from witnessmark.placing.guidance import Guidance
from witnessmark.placing.round import Round
from witnessmark.session import resume
from witnessmark.session.events import (
    Came,
    DecidedOnPhone,
    Failed,
    Guided,
    LinkChanged,
    Part,
    RoundBegun,
    SessionEvent,
)
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark.words.live import say
from witnessmark_simulators.meter import fault, garbage
from witnessmark_simulators.scenario import DEMO_SETUP

AT = datetime(2026, 6, 3, 19, 30, tzinfo=UTC)


def entries(store_file: Path) -> list[object]:
    """What is journaled in the latest round."""
    with Store.open(store_file) as store:
        latest = store.latest_round()
        assert latest is not None
        return list(store.entries(latest.id))


@pytest.mark.parametrize("seed", [1, 4])
async def test_a_round_is_played_from_the_first_reading_to_both_in(
    store_file: Path, seed: int
) -> None:
    async with evening(store_file, room=simulated_room(seed)) as there:
        await there.begin()
        assert there.of(RoundBegun) == [RoundBegun(resumed=False, is_elsewhere=False)]
        await there.work_on()
        assert there.guidance.finished
        assert say(there.guidance).headline.figure == "BOTH IN"
        for off in there.off_target():
            assert abs(off.side_mm) <= 3
            assert abs(off.setback_mm) <= 3
            assert abs(off.toe_in_deg) <= 0.5
        signs = [event.cue.sign for event in there.of(Guided) if event.cue]
        assert signs.count(Sign.IN) >= 2
        taken = there.round.readings
    assert len(entries(store_file)) == taken


async def test_a_phone_sees_each_reading_and_decides(store_file: Path) -> None:
    async with evening(store_file) as there:
        await there.begin()
        await there.session.remote.start("127.0.0.1")
        server = there.session.remote.server
        assert server is not None
        async with Visitor(server.url).socket() as phone:
            first = await phone.told()
            assert (first.state.figure, first.state.meter.link) == ("FRONT OUTER", "meter ready")
            await phone.send(Act.SKIP, first.seq)
            then = await phone.told_of(lambda state: state.figure == "REAR OUTER")
            assert there.of(DecidedOnPhone) == [DecidedOnPhone(Act.SKIP)]
            await phone.send(Act.UNDO, then.seq)
            await phone.told_of(lambda state: state.figure == "FRONT OUTER")
            for _ in range(4):
                await there.shoot()
            told = await phone.told_of(lambda state: state.figure == "72 mm")
            assert told.sound is not None
            assert say(there.guidance).headline.figure == "L ↑ 72 mm"
            await there.session.aclose()
            assert await phone.ended() == (1001, "The program has ended.")
    acts = [entry.act for entry in entries(store_file) if isinstance(entry, Decision)]
    assert acts == [Act.SKIP, Act.UNDO]


async def test_a_phone_gets_the_walk_foreseen_once_it_is_drawn(store_file: Path) -> None:
    """It comes later than the first state, and what was decided on that one counts."""
    async with evening(store_file) as there:
        await there.begin()
        await there.session.remote.start("127.0.0.1")
        server = there.session.remote.server
        assert server is not None
        async with Visitor(server.url).socket() as phone:
            first = await phone.told()
            drawn = await phone.told_of(lambda state: state.walk.startswith("<svg"))
            assert drawn.seq == first.seq
            await there.shoot()
            assert (
                await phone.told_of(lambda state: state.figure != first.state.figure)
            ).state.walk


async def test_a_phones_decision_that_cannot_be_stored_changes_nothing(
    store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with evening(store_file) as there:
        await there.begin()
        await there.session.remote.start("127.0.0.1")
        server = there.session.remote.server
        assert server is not None
        async with Visitor(server.url).socket() as phone:
            first = await phone.told()
            with monkeypatch.context() as patch:
                patch.setattr(Store, "append_all", full)
                await phone.send(Act.SKIP, first.seq)
                told = await phone.told()
            assert told.state.figure == first.state.figure
            assert told.state.meter.last == "see the computer: there is a problem"
            await phone.send(Act.SKIP, told.seq)
            await phone.told_of(lambda state: state.figure == "REAR OUTER")
    assert len(entries(store_file)) == 1


async def test_what_is_decided_on_a_phone_as_the_program_ends_is_journaled(
    store_file: Path,
) -> None:
    async with evening(store_file) as there:
        await there.begin()
        there.session.remote._decided(Act.SKIP)
    assert [type(entry) for entry in entries(store_file)] == [Decision]


async def test_guidance_is_computed_once_an_event(
    store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    computed: list[Guidance] = []
    guide = resume.guide

    def counted(state: Round) -> Guidance:
        computed.append(guide(state))
        return computed[-1]

    monkeypatch.setattr(resume, "guide", counted)
    async with evening(store_file) as there:
        await there.begin()
        await there.session.remote.start("127.0.0.1")
        assert len(computed) == 1
        for _ in range(4):
            await there.shoot()
        for act in (Act.OTHER, Act.OTHER, Act.UNDO):
            await there.session.record(Decision(act, AT))
            await there.settle()
        assert len(computed) == 8
        handed_on = [event.guidance for event in there.of(Guided)]
        assert all(one is other for one, other in zip(handed_on, computed, strict=True))
        # a meter's own troubles lead nowhere, so nothing is computed for them
        there.room.person.meter.misbehave_next(fault("too little light comes back"))
        there.room.press_button(there.guidance.prompt.kind)
        await until(lambda: len(there.of(Came)) == 8)
        assert len(computed) == 8


async def test_an_event_is_on_disk_before_it_is_sent_and_sent_before_what_follows(
    store_file: Path,
) -> None:
    async with evening(store_file) as there:
        on_disk: list[int] = []
        with Store.open(store_file) as beside:

            def look(event: SessionEvent) -> None:
                if isinstance(event, Came):
                    on_disk.append(len(beside.entries(there.session.round_id)))

            there.session.subscribe(Part.ROUND, look)
            await there.begin()
            for _ in range(3):
                await there.shoot()
        assert on_disk == [1, 2, 3]
        order = [
            type(event) for event in there.sent[Part.ROUND] if not isinstance(event, LinkChanged)
        ]
        assert order == [RoundBegun, Guided, *[Came, Guided] * 3]


async def test_what_cannot_be_stored_is_refused_and_the_meter_is_read_on(store_file: Path) -> None:
    """2026-11-25: after a reading that could not be stored the meter was not listened to."""
    async with evening(store_file) as there:
        await there.begin()
        await there.session.journal.run(hold_to_its_pages)
        there.room.person.meter.misbehave_next(garbage(b"x" * 40_000))
        there.room.press_button(there.guidance.prompt.kind)
        await until(lambda: there.of(Failed))
        (failed,) = there.of(Failed)
        assert "the disk is full, so nothing more is stored" in failed.why
        assert there.of(Came) == []
        await there.session.journal.run(let_grow)
        await there.shoot()
        assert there.round.readings == 1
    assert [type(entry) for entry in entries(store_file)] == [Reading]


async def test_when_the_disk_is_full_all_that_was_sent_is_stored_and_nothing_else(
    store_file: Path,
) -> None:
    workspace = Workspace.on(DEMO_SETUP, name="Attic", meter_address="typed:")
    async with evening(store_file, workspace=workspace) as there:
        await there.begin()
        await there.session.journal.run(hold_to_its_pages, 4)
        for number in range(20):
            long = Reading(1322.0 + number, AT, "typed:", b"x" * 1500)
            await there.session.record(long)
        await there.settle()
        stored = len(there.of(Came))
        assert 0 < stored < 20
        assert len(there.of(Failed)) == 20 - stored
        assert there.round.readings == stored
    assert len(entries(store_file)) == stored


async def test_a_meter_that_is_unplugged_is_heard_again_and_its_noise_is_no_reading(
    store_file: Path,
) -> None:
    async with evening(store_file) as there:
        await there.begin()
        there.room.person.meter.misbehave_next(garbage(b"\x00\xff"))
        there.room.press_button(there.guidance.prompt.kind)
        await until(lambda: there.of(Came))
        assert [type(event.what) for event in there.of(Came)] == [Noise]
        there.room.unplug()
        await until(lambda: there.link is LinkState.LOST)
        there.room.plug_in()
        await until(lambda: there.link is LinkState.OPEN)
        await there.shoot()
        assert there.round.readings == 1


async def test_a_round_begun_afresh_leaves_the_one_before_as_it_was(store_file: Path) -> None:
    async with evening(store_file) as there:
        await there.begin()
        await there.shoot()
        first = there.session.round_id
        await there.session.begin_afresh()
        assert there.round.readings == 0
        assert there.session.round_id != first
        await there.shoot()
        assert there.round.readings == 1
    async with evening(store_file) as there:
        await there.begin()
        assert there.round.readings == 1
        assert first is not None
        assert len(await there.session.journal.run(Store.entries, first)) == 1


async def test_the_beginning_of_a_round_is_undone_while_nothing_is_recorded_in_it(
    store_file: Path,
) -> None:
    async with evening(store_file) as one:
        await one.begin()
        await one.shoot()
        before, measured = one.session.round_id, one.round
        assert not one.session.can_take_up_again
        await one.session.begin_afresh()
        assert one.session.round_id != before
        assert one.session.can_take_up_again
        await one.session.take_up_again()
        assert (one.session.round_id, one.round) == (before, measured)
        assert not one.session.can_take_up_again
    # and whoever comes back goes on with that one
    async with evening(store_file) as again:
        await again.begin()
        assert (again.session.round_id, again.round) == (before, measured)
        await again.session.begin_afresh()
        await again.shoot()
        assert not again.session.can_take_up_again


async def test_a_setup_that_was_changed_is_judged_anew_on_going_on(store_file: Path) -> None:
    async with evening(store_file) as there:
        await there.begin()
        for _ in range(4):
            await there.shoot()
        target = Placement(1320.0, 1750.0, 12.0)
        session = there.session
        session.edit(
            session.draft.aimed_at(session.draft.targets.replacing(there.guidance.side, target))
        )
        await session.resume()
        await there.settle()
        assert there.round.setup.targets.left == target
        assert there.round.readings == 4
        appraisal = there.guidance.cabinets.left.appraisal
        assert appraisal is not None
        await session.resume()  # nothing was changed since
    assert len(entries(store_file)) == 5


def full(*_: object) -> list[int]:
    raise StoreError("store.sqlite3: the disk is full; free some space")


def hold_to_its_pages(store: Store, more: int = 0) -> None:
    """Let the store grow by so many pages and no more."""
    (pages,) = store.rows("SELECT page_count FROM pragma_page_count")[0]
    store._connection.execute(f"PRAGMA max_page_count = {pages + more}")


def let_grow(store: Store) -> None:
    """Let the store grow again."""
    store._connection.execute("PRAGMA max_page_count = 1000000")
