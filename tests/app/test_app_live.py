"""The live screen, driven by the meter's button, by a tape, and by single keys."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from at_rest import loop_at_rest
from rehearsed import rehearse
from sitting import Sitting

from witnessmark.app.following import Happened
from witnessmark.app.steps import Step
from witnessmark.app.widgets.bars import KeyBar
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.typed_entry import TypedEntry
from witnessmark.drawing.bigfont import big_rows
from witnessmark.errors import StoreError
from witnessmark.meters.port import LinkState
from witnessmark.model import Act, Decision, Placement, Reading, Setup, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.session.events import Guided
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.meter import fault, garbage

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


def readings_in(store_file: Path) -> list[float]:
    with Store.open(store_file) as store:
        latest = store.latest_round()
        assert latest is not None
        return [
            entry.distance_mm for entry in store.entries(latest.id) if isinstance(entry, Reading)
        ]


@pytest.mark.parametrize(("seed", "size"), [(1, (80, 24)), (4, (140, 45))])
async def test_a_pair_is_stood_on_its_targets_by_the_button_alone(
    store_file: Path, seed: int, size: tuple[int, int]
) -> None:
    async with rehearse(store_file, seed=seed, size=size) as person:
        await person.work_on()
        assert person.figure == "BOTH IN"
        assert "Both cabinets" in person.text
        assert person.text.count("✓ in") >= 6
        for side in Side:
            target = person.app.session.round.setup.targets[side]  # type: ignore[union-attr]
            assert target is not None
            off = person.room.truth[side].minus(target)
            assert abs(off.side_mm) <= 3
            assert abs(off.setback_mm) <= 3
            assert abs(off.toe_in_deg) <= 0.5


async def test_the_prompt_follows_each_reading_and_each_is_on_disk(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        assert person.figure == "L FRONT OUTER ←"
        assert "Left cabinet, shot 1 of 4: front-outer to left wall (should read" in person.text
        await person.shoot()
        assert person.figure == "L REAR OUTER ←"
        assert len(readings_in(store_file)) == 1
        await person.shoot()
        assert person.figure == "L REAR OUTER ↑"
        assert len(readings_in(store_file)) == 2


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_how_the_meter_is_held_stands_below_the_shot_in_large_characters(
    store_file: Path, size: tuple[int, int]
) -> None:
    async with rehearse(store_file, size=size) as person:
        for told in ("ON OUTER SIDE", "ON OUTER SIDE", "ON REAR FACE", "ON REAR FACE"):
            assert person.below == told
            assert big_rows(told, size[0], 4)[0].strip() in person.text
            await person.shoot()
        assert person.figure == "L ↑ 72 mm"
        assert person.below == "REAR INNER ↑"  # which shot follows the nudge


async def test_a_whole_walk_brings_the_nudge_with_its_cabinet_arrow_and_length(
    store_file: Path,
) -> None:
    async with rehearse(store_file) as person:
        for _ in range(4):
            await person.shoot()
        guidance = person.live.guidance
        assert guidance is not None
        assert guidance.stage is Stage.NUDGE
        error = person.room.truth.left.minus(Placement(1310.0, 1750.0, 12.0))
        # setback is what this start is farthest out in: too far from the front wall
        assert error.setback_mm == pytest.approx(72, abs=3)
        assert person.figure == "L ↑ 72 mm"
        assert "72 mm toward the front wall" in person.text


async def test_a_wrong_looking_reading_is_questioned_and_the_next_one_settles_it(
    store_file: Path,
) -> None:
    async with rehearse(store_file) as person:
        await person.press(*"9999", "enter")
        await person.until(lambda: person.live.guidance.question is not None)  # type: ignore[union-attr]
        assert person.figure == "L 9999 mm?"
        assert "Shoot again" in person.text
        assert readings_in(store_file) == [9999.0]
        await person.shoot()
        assert person.live.guidance is not None
        assert person.live.guidance.question is None
        assert person.figure == "L REAR OUTER ←"


async def test_a_reading_taken_at_another_shot_is_put_there_by_a_key(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        for _ in range(3):
            await person.shoot()
        assert not person.live.check_action("decide", ("there",))
        last = person.app.session.round.last  # type: ignore[union-attr]
        assert last is not None
        await person.press(*f"{last.reading_mm + 7:.0f}", "enter")
        await person.until(lambda: person.live.guidance.question is not None)  # type: ignore[union-attr]
        assert "This fits rear-outer to front wall. Press t" in person.text
        assert person.live.check_action("decide", ("there",))
        await person.decide("t")
        state = person.app.session.round
        assert state is not None
        assert state.question is None
        assert state.last is not None
        assert state.last.kind == last.kind
        assert person.figure == "L REAR INNER ↑"


async def test_keys_undo_skip_and_change_the_cabinet(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        await person.shoot()
        await person.decide("u")
        assert person.figure == "L FRONT OUTER ←"
        await person.decide("s")
        assert person.figure == "L REAR OUTER ←"
        await person.decide("o")
        assert person.figure == "R REAR INNER ↑"
        assert len(readings_in(store_file)) == 1


async def test_a_held_shot_counts_down_to_its_target(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        await person.decide("s")
        await person.decide("s")
        await person.decide("h")
        await person.shoot()
        assert person.figure.startswith("L ↑ ")
        person.room.nudge(Side.LEFT, Placement(0.0, -25.0, 0.0))
        far = person.figure
        await person.shoot()
        assert person.figure.startswith("L ↑ ")
        assert float(person.figure.split()[2]) < float(far.split()[2]) - 10


async def test_a_distance_can_be_typed_from_a_tape_at_any_time(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        await person.press(*"1.2")
        entry = person.live.query_one(TypedEntry)
        assert entry.has_class("-shown")
        assert entry.value == "1.2"
        await person.press(*"15", "space", "m", "enter")
        await person.until_shown(1)
        assert not entry.has_class("-shown")
        assert readings_in(store_file) == [1215.0]
        assert person.figure == "L REAR OUTER ←"


async def test_what_is_no_length_is_refused_in_words_and_stays_to_be_mended(
    store_file: Path,
) -> None:
    async with rehearse(store_file) as person:
        await person.press(*"12q", "enter")
        await person.until(lambda: "is not a length" in " ".join(person.notices))
        assert person.live.query_one(TypedEntry).value == "12q"
        await person.pilot.press("escape")
        assert readings_in(store_file) == []


async def test_faults_garbage_and_unplugging_are_told_and_nothing_is_taken(
    store_file: Path,
) -> None:
    async with rehearse(store_file) as person:
        line = person.live.query_one(MeterLine)
        person.room.person.meter.misbehave_next(fault("too little light comes back"))
        await person.pilot.press("space")
        await person.until(lambda: "too little light" in line.text)
        person.room.person.meter.misbehave_next(garbage(b"\x00\xff"))
        await person.pilot.press("space")
        await person.until(lambda: line.odd == 1)
        assert "1 odd" in person.text
        person.room.unplug()
        await person.until(lambda: line.state is LinkState.LOST)
        assert "unplugged" in person.text
        person.room.plug_in()
        await person.until(lambda: line.state is LinkState.OPEN)
        assert readings_in(store_file) == []
        await person.shoot()
        assert len(readings_in(store_file)) == 1


async def test_a_reading_that_cannot_be_stored_is_not_shown(
    store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with rehearse(store_file) as person:

        def full(*_: object) -> list[int]:
            raise StoreError("store.sqlite3: the disk is full; free some space")

        monkeypatch.setattr(Store, "append_all", full)
        await person.pilot.press("space")
        line = person.live.query_one(MeterLine)
        await person.until(lambda: "the disk is full" in line.text)
        assert person.figure == "L FRONT OUTER ←"


async def test_the_round_goes_on_after_the_program_was_left(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        await person.shoot()
        await person.shoot()
        left = person.app.session.round
    async with rehearse(store_file) as person:
        assert person.app.session.round == left
        assert person.figure == "L REAR OUTER ↑"
        await person.press("b", "b")
        await person.until(lambda: person.figure == "L FRONT OUTER ←")
        assert person.app.session.round is not None
        assert person.app.session.round.readings == 0


async def test_a_round_that_another_copy_has_is_said_to_be_there(
    sit_down: SitDown, opening: Workspace, setup: Setup, store_file: Path
) -> None:
    with Store.open(store_file) as other:
        now = datetime.now(UTC)
        other.start_round(other.save_setup(opening.name, setup, now, opening.choices), now)
        async with sit_down(opening) as sitting:
            (notice,) = sitting.notices
            assert notice.startswith(
                "The round is open in another copy of the program, so this copy begins its own."
            )


async def test_readings_come_in_behind_another_screen_and_new_targets_are_judged(
    store_file: Path,
) -> None:
    async with rehearse(store_file) as person:
        for _ in range(4):
            await person.shoot()
        await person.press("r", "escape")
        assert person.is_at(Step.ROOM)
        kind = person.live.guidance.prompt.kind  # type: ignore[union-attr]
        person.room.press_button(kind)
        await person.until_shown(5)
        assert len(readings_in(store_file)) == 5


async def test_the_plan_shows_where_the_cabinet_was_measured(store_file: Path) -> None:
    async with rehearse(store_file, size=(140, 45)) as person:
        before = person.live.query_one(PlanView).text
        for _ in range(4):
            await person.shoot()
        assert person.live.query_one(PlanView).text != before


async def test_one_key_calls_a_cabinet_good_enough_where_it_is_probably_in(
    store_file: Path,
) -> None:
    async with rehearse(store_file, seed=4) as person:
        assert not person.live.check_action("decide", ("enough",))
        await person.work_on(until=Act.ENOUGH)
        side = person.live.guidance.side  # type: ignore[union-attr]
        assert "Press d if" in str(person.live.query_one("#details").content)  # type: ignore[attr-defined]
        assert "d Good enough" in str(person.live.query_one(KeyBar).content)
        await person.decide("d")
        assert person.app.session.round.works[side].stage is Stage.ENOUGH  # type: ignore[union-attr]
        await person.decide("u")
        assert person.app.session.round.works[side].stage is Stage.NUDGE  # type: ignore[union-attr]
    with Store.open(store_file) as store:
        latest = store.latest_round()
        assert latest is not None
        acts = [entry.act for entry in store.entries(latest.id) if isinstance(entry, Decision)]
    assert acts[-2:] == [Act.ENOUGH, Act.UNDO]


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_the_shot_is_drawn_with_its_corner_and_its_wall(
    store_file: Path, size: tuple[int, int]
) -> None:
    async with rehearse(store_file, size=size) as person:
        shot = person.live.query_one("#shot", PlanView)
        for corner, wall in (("front-outer", "left"), ("rear-outer", "left")):
            assert corner in shot.text
            assert f"{wall} wall" in shot.text
            await person.shoot()
        assert person.live.query_one("#plan").display == (size[0] > 100)


async def test_a_lost_meter_is_told_in_large_letters_until_it_is_back_or_a_tape_is_used(
    store_file: Path,
) -> None:
    async with rehearse(store_file) as person:
        person.room.unplug()
        await person.until(lambda: person.figure == "NO METER")
        assert person.below == "L FRONT OUTER ←"
        assert "Switch the meter on" in person.text
        assert "Next: left front-outer to left wall" in person.text
        await person.press(*"1215", "enter")
        await person.until(lambda: person.figure == "L REAR OUTER ←")
        person.room.plug_in()
        line = person.live.query_one(MeterLine)
        await person.until(lambda: line.state is LinkState.OPEN)
        person.room.unplug()
        await person.until(lambda: person.figure == "NO METER")
        person.room.plug_in()
        await person.until(lambda: person.figure == "L REAR OUTER ←")


async def test_one_cabinet_that_is_in_is_announced_in_large_letters(store_file: Path) -> None:
    async with rehearse(store_file) as person:
        while person.app.session.round.side is Side.LEFT:  # type: ignore[union-attr]
            if person.live.guidance and person.live.guidance.asked:
                await person.nudge()
            await person.shoot()
        assert (person.figure, person.below) == ("LEFT IN", "R REAR INNER ↑")
        assert "Next: right cabinet, shot 1 of 4: rear-inner to front wall" in person.text
        await person.shoot()
        assert person.figure == "R REAR OUTER ↑"


@pytest.mark.parametrize("ends", [("live", "_pruning", True), ("app", "_running", False)])
async def test_what_is_worked_out_while_the_app_ends_is_shown_nowhere(
    store_file: Path, monkeypatch: pytest.MonkeyPatch, ends: tuple[str, str, bool]
) -> None:
    async with rehearse(store_file) as person:
        part, name, value = ends
        guidance = person.live.guidance
        assert guidance is not None
        await person.live.query_one("#guidance").remove()  # as its parts go, before itself
        with monkeypatch.context() as ending:
            ending.setattr(getattr(person, part), name, value)
            person.live.post_message(Happened(Guided(guidance, None)))
            await loop_at_rest()
        await person.settle()
