"""The meter's settings: what is in reach, how its bytes are read, by which edge it is held."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting, saved_in
from textual.widgets import OptionList, Static

from witnessmark.lengths import Units
from witnessmark.meters.finding import Tell
from witnessmark.meters.port import FoundMeter
from witnessmark.model import Edge, Setup
from witnessmark.session.draft import Draft
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
BLUETOOTH = """format = "witnessmark profile 1"

[bluetooth]
characteristic = "0000abcd-0000-1000-8000-00805f9b34fb"

[frame]
length = 4
distance = { at = 0, order = "little", type = "uint16", unit = "mm" }
"""


async def found_one(tell: Tell) -> list[FoundMeter]:
    tell("Bluetooth is switched off; switch it on in the system's settings")
    return [FoundMeter("ble:C0:FF:EE:00:12:34", "Lab meter, strong signal (-48 dBm)")]


async def test_what_is_in_reach_is_listed_and_where_nobody_could_look_is_told(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening, size=(140, 45), discover=found_one) as sitting:
        await sitting.press("m")
        assert "ble:C0:FF:EE:00:12:34" in sitting.text
        assert "Lab meter, strong signal" in sitting.text
        assert "! Bluetooth is switched off; switch it on" in sitting.text
        sitting.app.screen.query_one(OptionList).focus()
        await sitting.press("enter")
        assert sitting.app.session.workspace.meter_address == "ble:C0:FF:EE:00:12:34"


async def test_a_profile_is_chosen_for_the_address(
    sit_down: SitDown, opening: Workspace, profiles: Path
) -> None:
    profiles.mkdir()
    (profiles / "own-bluetooth.toml").write_text(BLUETOOTH)
    serial = msgspec.structs.replace(opening, meter_address="serial:COM3?unit=m")
    async with sit_down(serial) as sitting:
        await sitting.press("m")
        names = [name for name, _ in sitting.choice("profile").options]
        assert names[0] == ""
        assert "text-metres" in names
        assert "own-bluetooth" not in names
        await sitting.choose("profile", "text-metres")
        assert sitting.app.session.workspace.meter_address == "serial:COM3?profile=text-metres"
        assert sitting.field("address").value == "serial:COM3?profile=text-metres"
        assert not sitting.choice("unit").display
        await sitting.choose("profile", "")
        assert sitting.app.session.workspace.meter_address == "serial:COM3"
        await sitting.fill(address="ble:C0:FF:EE:00:12:34")
        names = [name for name, _ in sitting.choice("profile").options]
        assert names == ["", "own-bluetooth"]


async def test_a_profile_brings_the_step_of_the_meters_display(
    sit_down: SitDown, opening: Workspace, profiles: Path
) -> None:
    profiles.mkdir()
    told = BLUETOOTH.replace("\n\n[bluetooth]", '\nstep = "5 mm"\n\n[bluetooth]')
    (profiles / "own-bluetooth.toml").write_text(told)
    ble = msgspec.structs.replace(opening, meter_address="ble:C0:FF:EE:00:12:34")
    async with sit_down(ble) as sitting:
        await sitting.press("m")
        await sitting.choose("profile", "own-bluetooth")
        assert sitting.app.session.draft.meter.resolution_mm == 5.0
        await sitting.choose("profile", "")
        assert sitting.app.session.draft.meter.resolution_mm == 5.0


async def test_a_profile_that_is_wrong_or_missing_is_told(
    sit_down: SitDown, opening: Workspace, profiles: Path
) -> None:
    profiles.mkdir()
    (profiles / "broken.toml").write_text(BLUETOOTH.replace("length = 4", "length = 900"))
    async with sit_down(opening) as sitting:
        await sitting.press("m")
        await sitting.fill(address="serial:COM3?profile=nobody")
        assert "broken.toml: frame.length" in sitting.told
        (profiles / "broken.toml").unlink()
        await sitting.fill(address="serial:COM4?profile=nobody")
        assert 'no profile "nobody" here' in sitting.told
        assert sitting.choice("profile").value == "nobody"


@pytest.mark.parametrize("address", ["typed:", "serial:COM3", "ble:C0:FF:EE:00:12:34"])
async def test_the_unit_of_bare_numbers_is_chosen_for_the_address(
    sit_down: SitDown, opening: Workspace, address: str
) -> None:
    async with sit_down(msgspec.structs.replace(opening, meter_address=address)) as sitting:
        await sitting.press("m")
        assert sitting.choice("unit").value is None
        assert sitting.choice("unit").in_words == "not chosen"
        await sitting.choose("unit", "ft")
        assert sitting.app.session.workspace.meter_address == f"{address}?unit=ft"
        await sitting.fill(address=f"{address}?unit=in")
        assert sitting.choice("unit").value == "in"
        await sitting.choose("unit", None)
        assert sitting.app.session.workspace.meter_address == address


async def test_what_sends_its_own_units_is_not_asked_for_any(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(msgspec.structs.replace(opening, meter_address="sim:")) as sitting:
        await sitting.press("m")
        assert not sitting.choice("unit").display
        assert not sitting.choice("profile").display


async def test_the_edge_its_offset_and_the_correction_are_kept_and_told(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        assert "Hold the meter's rear edge flush on the outer side" in sitting.text
        await sitting.press("m")
        await sitting.choose("edge", "front")
        await sitting.fill(edge_offset="-118 mm", zero_correction="\N{MINUS SIGN}0.8 mm")
        assert sitting.field("edge-offset").problem is None
        await sitting.press("escape", "g")
        assert "Hold the meter's front edge even with the outer side" in sitting.text
    saved = saved_in(store_file)
    assert saved is not None
    meter = saved.setup.meter
    assert (meter.edge, meter.edge_offset_mm, meter.zero_correction_mm) == (Edge.FRONT, -118, -0.8)


async def test_an_offset_is_typed_and_shown_in_the_persons_units(
    sit_down: SitDown, setup: Setup
) -> None:
    inches = msgspec.structs.replace(setup, units=Units.INCH_16)
    async with sit_down(Workspace.on(inches, name="Attic", meter_address="typed:")) as sitting:
        await sitting.press("m")
        await sitting.fill(edge_offset='-4 5/8"')
        assert sitting.app.session.draft.meter.edge_offset_mm == pytest.approx(-117.475)
        await sitting.press("escape", "c", "m")
        assert sitting.field("edge-offset").query_one("Input").value == '-4 5/8"'  # type: ignore[attr-defined]
        await sitting.fill(edge_offset="2 m")
        assert "must lie between" in str(sitting.field("edge-offset").problem)


async def test_a_newcomer_sees_what_is_needed_and_what_is_changed_is_told_on_the_fold(
    sit_down: SitDown, opening: Workspace
) -> None:
    usual = msgspec.structs.replace(opening.draft, meter=Draft().meter)
    async with sit_down(msgspec.structs.replace(opening, draft=usual)) as sitting:
        await sitting.press("m")
        assert not sitting.field("position").is_shown
        assert "the tolerance" in fold_line(sitting)
        assert "Changed" not in fold_line(sitting)
        await sitting.press("ctrl+x")
        assert sitting.field("position").is_shown
        await sitting.fill(position="2 mm", zero="0.3 mm")
        await sitting.choose("edge", Edge.THREAD)
        await sitting.press("ctrl+x")
        assert (
            "Changed: held by its tripod thread, zero error 0.3 mm and position within 2.0 mm."
            in fold_line(sitting)
        )
        assert fold_line(sitting).endswith("Ctrl+X shows them.")


def fold_line(sitting: Sitting) -> str:
    return str(sitting.app.screen.query_one("#more", Static).content)
