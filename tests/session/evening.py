"""A session without a screen: a simulated person at its meter, and all that it sent."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TypeVar

import numpy as np
from patience import until

from witnessmark.meters.address import Address
from witnessmark.meters.port import LinkState
from witnessmark.model import Act, Onward, Placement, Side
from witnessmark.phone.state import ACTS, ActWords
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import Guidance
from witnessmark.placing.round import Round
from witnessmark.session.events import Crashed, LinkChanged, Part, SessionEvent
from witnessmark.session.meter import OpenDriver
from witnessmark.session.session import Session
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.driver import SimulatedMeter
from witnessmark_simulators.rehearsal_room import RehearsalRoom
from witnessmark_simulators.scenario import DEMO_SETUP, demo_scenario

E = TypeVar("E")
ATTIC = Workspace.on(DEMO_SETUP, name="Attic", meter_address="sim:")


class Evening:
    """A session, the simulated room and person at its meter, and what it sent."""

    def __init__(self, session: Session, room: RehearsalRoom) -> None:
        self.session = session
        self.room = room
        self.sent: dict[Part, list[SessionEvent]] = {part: [] for part in Part}
        for part, events in self.sent.items():
            session.subscribe(part, events.append)

    @property
    def round(self) -> Round:
        """The round under way."""
        assert self.session.live is not None
        return self.session.live.state

    @property
    def guidance(self) -> Guidance:
        """What there is to do now."""
        assert self.session.live is not None
        return self.session.live.guidance

    def of(self, kind: type[E], part: Part = Part.ROUND) -> list[E]:
        """The events of one kind that were sent to those who follow a part."""
        return [event for event in self.sent[part] if isinstance(event, kind)]

    @property
    def link(self) -> LinkState | None:
        """How things stand with the meter, by the last that was sent of it."""
        changes = self.of(LinkChanged)
        return changes[-1].link.state if changes else None

    async def begin(self) -> None:
        """Begin or go on, and wait for the meter."""
        await self.session.resume()
        await until(lambda: self.link is LinkState.OPEN)

    async def settle(self) -> None:
        """Wait until the guidance shows all that has come."""
        await until(lambda: not self.session.is_behind)

    async def shoot(self) -> None:
        """Press the button of the simulated meter and wait for what follows."""
        before = self.round.readings
        self.room.press_button(self.guidance.prompt.kind)
        await until(lambda: self.round.readings > before)

    async def work_on(self) -> None:
        """Shoot and nudge as the guidance asks for until there is nothing left to do."""
        for _ in range(120):
            if self.round.finished:
                return
            if self.guidance.stage is Stage.NUDGE and self.guidance.asked:
                self.room.nudge(self.guidance.side, self.guidance.asked)
            await self.shoot()
        raise AssertionError("the pair was not brought to its end")

    def off_target(self) -> list[Placement]:
        """How far each cabinet truly stands from its target."""
        targets = self.round.setup.targets
        return [self.room.truth[side].minus(target) for side in Side if (target := targets[side])]


@asynccontextmanager
async def evening(
    store_file: Path,
    *,
    workspace: Workspace = ATTIC,
    room: RehearsalRoom | None = None,
    open_driver: OpenDriver | None = None,
) -> AsyncGenerator[Evening, None]:
    """A session on a store of its own; the meter is that of a simulated room, or any other."""
    room = room or simulated_room()
    session = Session(
        Store.open(store_file),
        workspace,
        act_words=act_words,
        open_driver=open_driver or simulated_driver(room),
    )
    there = Evening(session, room)
    try:
        yield there
    finally:
        await session.aclose()
    if crashed := there.of(Crashed, Part.PROGRAM):
        raise ExceptionGroup("the session", [one.error for one in crashed])


def simulated_room(seed: int = 1) -> RehearsalRoom:
    """A person in the demo's room, where the cabinets do not stand on their targets yet."""
    rng = np.random.default_rng(seed)
    return RehearsalRoom(demo_scenario(rng).person(rng))


def simulated_driver(room: RehearsalRoom) -> OpenDriver:
    """The meter of the person in a simulated room."""
    return lambda text: SimulatedMeter(Address.parse(text), room=room)


def act_words() -> dict[Act | Onward, ActWords]:
    """What decisions are called on a phone."""
    return {act: ActWords(act.capitalize(), f"{act.capitalize()}.") for act in ACTS}
