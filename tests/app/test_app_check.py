"""Checking a meter: what is worked out, and how the screen leads through it."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting, saved_in, serial_driver
from textual.widgets import Static

from witnessmark.app.screens.check import CheckScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.meters.check import Meaning, next_segment
from witnessmark.meters.port import Fault
from witnessmark.model import Edge, Meter, Reading
from witnessmark.session.meter_check import from_figure, from_one_distance, from_three_marks
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store
from witnessmark.words.meter_check import figures
from witnessmark_simulators.serial_line import SerialLine

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
AT = datetime(2026, 5, 6, 7, 8, tzinfo=UTC)
FINE = Meter(repeatability_mm=0.2, resolution_mm=0.1, zero_mm=0.7)


# --- what is worked out


def test_a_makers_figure_is_halved_or_divided_by_the_root_of_three() -> None:
    two_sigma = from_figure(FINE, 1.5, Meaning.TWO_SIGMA, Units.MM).meter
    limit = from_figure(FINE, 1.5, Meaning.LIMIT, Units.MM).meter
    assert two_sigma is not None
    assert limit is not None
    assert two_sigma.repeatability_mm == pytest.approx(0.75)
    assert limit.repeatability_mm == pytest.approx(0.8660254)
    with pytest.raises(BadInput, match="above 0"):
        from_figure(FINE, 0, Meaning.LIMIT, Units.MM)


@pytest.mark.parametrize(("error_mm", "word"), [(1.6, "long"), (-1.6, "short")])
def test_what_three_marks_show_is_taken_off_again(error_mm: float, word: str) -> None:
    readings = (1500 + error_mm, 2200 + error_mm, 3700 + error_mm)
    finding = from_three_marks(FINE, readings, Units.MM)
    assert finding is not None
    assert finding.meter is not None
    assert f"It reads 1.60 mm too {word}" in finding.words
    assert finding.meter.zero_correction_mm == pytest.approx(-error_mm)
    assert finding.meter.zero_mm == pytest.approx(FINE.shot_sigma_mm * 3**0.5)
    corrected = [Reading(mm, AT, "test").from_the_edge_mm(finding.meter) for mm in readings]
    assert corrected == pytest.approx([1500, 2200, 3700])


def test_a_correction_that_there_is_already_is_replaced_not_doubled() -> None:
    corrected = msgspec.structs.replace(FINE, zero_correction_mm=-1.6)
    finding = from_three_marks(corrected, (1501.6, 2201.6, 3701.6), Units.MM)
    assert finding is not None
    assert finding.meter is not None
    assert finding.meter.zero_correction_mm == pytest.approx(-1.6)


def test_the_offset_of_the_edge_is_no_part_of_the_zero_error() -> None:
    held = msgspec.structs.replace(FINE, edge=Edge.FRONT, edge_offset_mm=-118.0)
    finding = from_three_marks(held, (1618.5, 2318.5, 3818.5), Units.MM)
    assert finding is not None
    assert finding.meter is not None
    assert finding.meter.zero_correction_mm == pytest.approx(-0.5)


def test_what_may_be_chance_is_not_used_where_more_is_known_already() -> None:
    coarse = Meter(repeatability_mm=0.5, resolution_mm=1.0, zero_mm=0.7)
    finding = from_three_marks(coarse, (1500, 2200, 3700), Units.MM)
    assert finding is not None
    assert finding.meter is None
    assert "may be chance" in finding.words
    assert from_three_marks(coarse, (1500, 2200), Units.MM) is None


def test_three_marks_shot_over_and_over_make_the_zero_better_known() -> None:
    coarse = Meter(repeatability_mm=0.5, resolution_mm=1.0, zero_mm=0.7)
    five = (1501, 2201, 3702, 1502, 2201, 3701, 1501, 2202, 3701, 1501, 2201, 3701, 1501, 2201)
    finding = from_three_marks(coarse, (*five, 3702), Units.MM)
    assert finding is not None
    assert finding.meter is not None
    # the means are 1501.2, 2201.2 and 3701.4 mm; each has the variance of a shot over five
    assert finding.meter.zero_correction_mm == pytest.approx(-1.0)
    assert finding.meter.zero_mm == pytest.approx((3 / 5) ** 0.5 * coarse.shot_sigma_mm, rel=1e-3)
    assert from_three_marks(coarse, five, Units.MM) == from_three_marks(
        coarse, five[:12], Units.MM
    )  # what is no whole round yet waits
    with pytest.raises(BadInput, match="the shots of BC are up to 101 mm apart"):
        from_three_marks(coarse, (1501, 2201, 3702, 1501, 2302), Units.MM)


def test_another_edge_than_the_one_held_is_named() -> None:
    finding = from_three_marks(FINE, (1610, 2310, 3810), Units.MM)
    assert finding is not None
    assert "another edge than the one held" in finding.words
    with pytest.raises(BadInput, match="check that the marks are in line"):
        from_three_marks(FINE, (1500, 2200, 2700), Units.MM)


def test_five_shots_of_one_distance_show_how_well_it_repeats() -> None:
    shots = (2500.0, 2500.4, 2499.8, 2500.1, 2500.2)
    assert from_one_distance(FINE, shots[:4], Units.MM) is None
    finding = from_one_distance(FINE, shots, Units.MM)
    assert finding is not None
    assert finding.meter is not None
    assert finding.meter.repeatability_mm == pytest.approx(0.2236068)
    # sigma / sqrt(2 (n - 1)), twice
    assert "0.22 mm, itself known to about ±0.16 mm" in finding.words


def test_shots_of_two_distances_are_refused_and_equal_ones_explained() -> None:
    with pytest.raises(BadInput, match="not of one distance"):
        from_one_distance(FINE, (2500, 2500, 2500, 2500, 2600), Units.MM)
    finding = from_one_distance(FINE, (2500,) * 5, Units.MM)
    assert finding is not None
    assert "the display's steps hide any scatter" in finding.words
    with pytest.raises(BadInput, match="cannot both be 0"):
        from_one_distance(Meter(resolution_mm=0), (2500,) * 5, Units.MM)


def test_the_marks_are_gone_through_in_order() -> None:
    one_round = [("A", "B"), ("B", "C"), ("A", "C")]
    segments = [next_segment((1.0,) * taken) for taken in range(16)]
    assert segments == [*(5 * one_round), None]
    assert "Correction    -1.60 mm" in figures(
        msgspec.structs.replace(FINE, zero_correction_mm=-1.6), Units.MM
    )


# --- the screen


class Checker:
    """The check screen, and somebody at it."""

    def __init__(self, sitting: Sitting) -> None:
        self.sitting = sitting

    def says(self, selector: str) -> str:
        return str(self.sitting.app.screen.query_one(selector, Static).content)

    async def type(self, *lengths: str) -> None:
        for length in lengths:
            await self.sitting.fill(reading=length)
            self.sitting.field("reading").query_one("Input").focus()
            await self.sitting.press("enter")


async def begun(sitting: Sitting) -> Checker:
    await sitting.press("m", "ctrl+t")
    assert isinstance(sitting.app.screen, CheckScreen)
    return Checker(sitting)


def outside_any_round(store_file: Path) -> list[object]:
    with Store.open(store_file) as store:
        return list(store.entries(None))


async def test_five_typed_shots_are_journaled_and_used(
    sit_down: SitDown, opening: Workspace, store_file: Path
) -> None:
    async with sit_down(opening) as sitting:
        checker = await begun(sitting)
        assert sitting.cursor_in == "reading"
        await sitting.type("2500 mm")
        await sitting.press("enter")
        assert "Shot 2 of 5" in checker.says("#ask")
        await checker.type("2500.4 mm", "2499.8 mm", "2500.1 mm", "2600.2 mm")
        assert "they are not of one distance" in checker.says("#found")
        await sitting.press("ctrl+s")
        assert sitting.app.session.draft.meter == opening.draft.meter
        await sitting.press("ctrl+u")
        await checker.type("2500.2 mm")
        assert "0.22 mm" in checker.says("#found")
        await sitting.press("ctrl+s")
        assert sitting.app.session.draft.meter.repeatability_mm == pytest.approx(0.2236068)
        assert "are used from now on" in checker.says("#told")
        assert "Repeatability  0.22 mm" in checker.says("#figures")
        await sitting.press("escape")
        assert sitting.is_at(Step.METER)
        assert sitting.field("repeatability").value == pytest.approx(0.2236068)
        await sitting.press("escape", "g")
    entries = outside_any_round(store_file)
    taken = [entry.distance_mm for entry in entries if isinstance(entry, Reading)]
    assert taken == [2500.0, 2500.4, 2499.8, 2500.1, 2600.2, 2500.2]
    saved = saved_in(store_file)
    assert saved is not None
    assert saved.setup.meter.repeatability_mm == pytest.approx(0.2236068)


async def test_three_marks_give_the_correction_and_its_uncertainty(
    sit_down: SitDown, opening: Workspace
) -> None:
    draft = msgspec.structs.replace(opening.draft, meter=FINE)
    opening = msgspec.structs.replace(opening, draft=draft, meter_address="typed:?unit=m")
    async with sit_down(opening) as sitting:
        checker = await begun(sitting)
        await sitting.choose("what", "marks")
        assert "from A to B" in checker.says("#ask")
        # bare numbers are a meter's, in the unit that is chosen for it
        await checker.type("1.5016", "2.2016")
        assert "from A to C" in checker.says("#ask")
        await checker.type("3.7016", "9.9")
        assert "the shots of AB are up to 8398.4 mm apart" in checker.says("#found")
        await sitting.press("ctrl+u")
        assert "Again, more certain: shot 1 of 3, from A to B" in checker.says("#ask")
        assert "AC  3701.6 mm" in checker.says("#taken")
        assert "1.60 mm too long" in checker.says("#found")
        await sitting.press("ctrl+s", "escape")
        assert sitting.field("zero-correction").value == pytest.approx(-1.6)
        assert sitting.field("zero").value == pytest.approx(FINE.shot_sigma_mm * 3**0.5)
        await sitting.press("escape", "g")
        assert sitting.app.session.draft.meter.zero_correction_mm == pytest.approx(-1.6)


async def test_the_makers_figure_is_offered_by_what_it_means(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        checker = await begun(sitting)
        assert not sitting.field("figure").display
        await sitting.choose("what", "figure")
        assert not sitting.field("reading").display
        await sitting.fill(figure="1.5 mm")
        assert "One standard deviation of it is 0.75 mm" in checker.says("#found")
        await sitting.choose("meaning", Meaning.LIMIT)
        assert "0.87 mm" in checker.says("#found")
        await sitting.press("ctrl+s")
        assert sitting.app.session.draft.meter.repeatability_mm == pytest.approx(0.8660254)


@pytest.mark.parametrize("edge", Edge)
async def test_the_edge_that_is_held_is_told(
    sit_down: SitDown, opening: Workspace, edge: Edge
) -> None:
    draft = msgspec.structs.replace(opening.draft, meter=Meter(edge=edge))
    async with sit_down(msgspec.structs.replace(opening, draft=draft)) as sitting:
        checker = await begun(sitting)
        assert ("end piece" if edge is Edge.OTHER else str(edge)) in checker.says("#how")


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")
async def test_the_meters_button_is_all_that_is_needed_and_the_round_sees_nothing_of_it(
    sit_down: SitDown, opening: Workspace, line: SerialLine, store_file: Path
) -> None:
    opening = msgspec.structs.replace(opening, meter_address=line.address)
    async with sit_down(opening, open_driver=serial_driver) as sitting:
        checker = await begun(sitting)
        shown = sitting.app.screen.query_one(MeterLine)
        await sitting.until(lambda: "is open" in shown.text)
        for mm in (2500.0, 2500.4, 2499.8, 2500.1):
            asked = checker.says("#ask")
            line.send(f"{mm / 1000:.4f} m\r\n".encode())
            await sitting.until(lambda asked=asked: checker.says("#ask") != asked)  # type: ignore[misc]
        assert "Shot 5 of 5" in checker.says("#ask")
        line.send(b"E31\r\n")
        await sitting.until(lambda: "meter says: E31" in shown.text)
        line.send(b"2.5002 m\r\n")
        await sitting.until(lambda: "0.22 mm" in checker.says("#found"))
        await sitting.press("f1")
        assert "Keys: Check the meter" in sitting.text
        await sitting.press("escape")
        assert sitting.is_at(Aside.CHECK)
        await sitting.press("escape")
        assert sitting.is_at(Step.METER)
    kinds = [type(entry) for entry in outside_any_round(store_file)]
    assert kinds == [Reading] * 4 + [Fault, Reading]
    with Store.open(store_file) as store:
        latest = store.latest_round()
        assert latest is not None
        assert store.entries(latest.id) == []
