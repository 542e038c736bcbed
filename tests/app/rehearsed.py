"""The app with a simulated person at the meter, for tests."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
from datetime import datetime
from pathlib import Path

import numpy as np
from sitting import Sitting

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.screens.live import LiveScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.big_figures import BigFigures
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.meters.address import Address
from witnessmark.meters.port import LinkState, utc_now
from witnessmark.model import Act, Placement, Reading, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.round import Round
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.driver import SimulatedMeter
from witnessmark_simulators.person import Person
from witnessmark_simulators.rehearsal_room import RehearsalRoom
from witnessmark_simulators.scenario import demo_scenario


class Rehearsed(Sitting):
    """The app with a simulated person at the meter, whose answers are waited for."""

    def __init__(self, sitting: Sitting, room: RehearsalRoom) -> None:
        super().__init__(sitting.app, sitting.pilot)
        self.room = room

    @property
    def live(self) -> LiveScreen:
        screen = self.app.get_screen(Step.LIVE.value)
        assert isinstance(screen, LiveScreen)
        return screen

    @property
    def figure(self) -> str:
        return self.live.query_one(BigFigures).text

    @property
    def below(self) -> str:
        """The second line of the large characters."""
        return self.live.query_one(BigFigures).below

    async def until_shown(self, readings: int) -> None:
        """Wait until so many readings are on the screen."""
        await self.until(
            lambda: self.live.guidance is not None and self.live.guidance.readings == readings
        )

    async def shoot(self) -> None:
        """Press the button of the simulated meter and wait for the reading to come in."""
        assert self.app.session.round is not None
        before = self.app.session.round.readings
        await self.pilot.press("space")
        await self.until_shown(before + 1)

    async def nudge(self) -> None:
        await self.press("n")

    async def walk(self) -> None:
        """Shoot the four shots of the cabinet that is being worked on."""
        for _ in range(4):
            await self.shoot()

    async def work_on(self, until: Act | None = None) -> None:
        """Shoot and nudge as the screen asks for, until all is done or a decision is offered."""
        for _ in range(120):
            state, guidance = self.app.session.round, self.live.guidance
            assert state is not None
            if state.finished or (guidance is not None and until in guidance.offered):
                return
            if state.work.stage is Stage.NUDGE and self.live.guidance:
                await self.nudge()
            await self.shoot()
        raise AssertionError("the pair was not brought to its end")

    def carry(self, side: Side, move: Placement) -> None:
        """Have the cabinet moved by so much while nobody measures."""
        start, world = self.room.truth[side], self.room.person.world
        moved = Placement(
            start.side_mm + move.side_mm,
            start.setback_mm + move.setback_mm,
            start.toe_in_deg + move.toe_in_deg,
        )
        self.room.person.world = world.moved(side, moved)

    async def decide(self, key: str) -> None:
        """Press a key whose decision is journaled and then taken."""
        before = self.live.guidance
        await self.pilot.press(key)
        await self.until(lambda: self.live.guidance is not before)


@asynccontextmanager
async def rehearse(
    store_file: Path,
    *,
    seed: int = 1,
    size: tuple[int, int] = (80, 24),
    phone: bool = False,
    opening: Workspace | None = None,
    shots: int = 0,
) -> AsyncGenerator[Rehearsed, None]:
    """The demo's room at its beginning, or the app with that person on any other ``opening``.

    So many ``shots`` were taken before the app is opened.
    """
    rng = np.random.default_rng(seed)
    scenario = demo_scenario(rng)
    room = RehearsalRoom(scenario.person(rng))
    opening = opening or Workspace.on(scenario.setup, name="Demo", meter_address="sim:")
    store = Store.open(store_file)
    if shots:
        shoot_before(store, room.person, opening, shots, utc_now())
    app = WitnessmarkApp(
        store,
        opening,
        open_driver=lambda text: SimulatedMeter(Address.parse(text), room=room),
        rehearsal=room,
        phone=phone,
    )
    async with app.run_test(size=size) as pilot:
        rehearsed = Rehearsed(Sitting(app, pilot), room)
        await rehearsed.until(
            lambda: (
                rehearsed.live.query_one(MeterLine).state is LinkState.OPEN
                and rehearsed.live.guidance is not None
            )
        )
        yield rehearsed


def shoot_before(
    store: Store, person: Person, opening: Workspace, shots: int, at: datetime
) -> Round:
    """Journal the first shots of a round; the state that they lead to."""
    setup = opening.draft.setup
    assert setup is not None
    round_id = store.start_round(store.save_setup(opening.name, setup, at, opening.choices), at)
    state = Round.begin(setup)
    for _ in range(shots):
        distance_mm = person.shoot(state.prompted).distance_mm
        assert distance_mm is not None
        reading = Reading(distance_mm, at, opening.meter_address)
        store.append(round_id, reading)
        state = state.feed(reading)
    return state
