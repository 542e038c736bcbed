"""The tilt screen: by the meter's button or typed, its targets, and what the round makes of it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting, serial_driver
from textual.widgets import Static

from witnessmark.app.screens.tilt import TiltScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.meters.port import LinkState
from witnessmark.model import Cabinet, Pair, PlumbReadings, Tilt, TiltTaken, TouchPoint
from witnessmark.placing.guidance import guide
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark_simulators.serial_line import SerialLine

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
FEET = {
    "front-inner": TouchPoint(120.0, 20.0),
    "front-outer": TouchPoint(-120.0, 20.0),
    "rear": TouchPoint(0.0, 340.0),
}


def known(sitting: Sitting) -> str:
    return str(sitting.app.screen.query_one("#known", Static).content)


def meter_line(sitting: Sitting) -> MeterLine:
    return sitting.app.screen.query_one(MeterLine)


def asked(sitting: Sitting) -> str:
    return str(sitting.app.screen.query_one("#ask", Static).content)


def tilts(sitting: Sitting) -> Pair[Tilt | None]:
    assert sitting.app.session.round is not None
    return sitting.app.session.round.tilts


async def test_two_typed_distances_are_the_tilt_of_the_cabinet(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("i")
        assert sitting.is_at(Aside.TILT)
        assert "Left cabinet, low" in asked(sitting)
        await sitting.type("300")
        await sitting.press("enter")
        assert "Left cabinet, high (low was 300.0 mm)" in asked(sitting)
        await sitting.type("321")
        await sitting.press("enter")
        assert "LEFT   +1.50°" in known(sitting)
        assert "RIGHT  not measured yet" in known(sitting)
        await sitting.press("escape")
        assert sitting.is_at(Step.LIVE)
        left = tilts(sitting).left
        assert left is not None
        assert left.tilt_deg == pytest.approx(1.5037, abs=1e-3)
    with Store.open(store_file) as store:
        latest = store.latest_round()
        assert latest is not None
        (leaned,) = store.entries(latest.id)
        assert isinstance(leaned, TiltTaken)
        assert leaned.readings == PlumbReadings(300.0, 321.0, 800.0)
        assert len(store.entries(None)) == 2


async def test_by_the_meters_button_both_cabinets_are_taken_and_compared(
    sit_down: SitDown, opening: Workspace, line: SerialLine
) -> None:
    opening = msgspec.structs.replace(opening, meter_address=line.address)
    async with sit_down(opening, size=(140, 45), open_driver=serial_driver) as sitting:
        await sitting.press("i")
        await sitting.until(lambda: meter_line(sitting).state is LinkState.OPEN)
        line.send(b"0.300 m\r\n0.314 m\r\n")
        await sitting.until(lambda: "LEFT   +1.00°" in known(sitting))
        await sitting.choose("side", "right")
        line.send(b"0.305 m\r\n0.333 m\r\n")
        await sitting.until(lambda: "RIGHT  +2.00°" in known(sitting))
        assert "The right cabinet leans back 1.00° more than the left" in known(sitting)
        await sitting.press("escape")
        assert "tilt" in sitting.text


async def test_an_angle_is_typed_and_what_to_turn_is_told(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    cabinet = Cabinet(262, 391, 940, feet=FEET, thread="M8")
    draft = msgspec.structs.replace(opening.draft, cabinets=Pair(cabinet, cabinet))
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        await sitting.press("i")
        await sitting.choose("way", "angle")
        await sitting.fill(left_target="2°")
        sitting.field("angle").query_one("Input").focus()
        await sitting.type("1.2")
        await sitting.press("enter")
        assert "target +2.00°, off -0.80°" in known(sitting)
        assert "turn the" in known(sitting)
        assert "One person steadies it" in known(sitting)
        await sitting.press("escape")
        assert sitting.app.session.draft.tilt_targets_deg.left == pytest.approx(2.0)
        assert sitting.app.session.round is not None
        tilt = guide(sitting.app.session.round).cabinets.left.tilt
        assert tilt is not None
        assert tilt.error_deg == pytest.approx(-0.8)
    with Store.open(store_file) as store:
        assert not list(store.entries(None))  # an angle is no distance


async def test_readings_that_mean_a_cabinet_falling_over_are_told_and_not_taken(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("i")
        for text in ("300", "1500"):
            await sitting.type(text)
            await sitting.press("enter")
        assert sitting.told.startswith("✗ tilt: these readings mean a lean of 56°")
        assert "LEFT   not measured yet" in known(sitting)
        await sitting.press("escape")
        assert tilts(sitting).left is None


async def test_tilts_are_known_again_when_the_program_is_opened_again(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("i")
        for text in ("300", "321"):
            await sitting.type(text)
            await sitting.press("enter")
        await sitting.press("escape")
    async with sit_down() as sitting:
        assert tilts(sitting).left is not None
        await sitting.press("i")
        assert isinstance(sitting.app.screen, TiltScreen)
        assert "LEFT   +1.50°" in known(sitting)
