from __future__ import annotations

from datetime import UTC, datetime

import pytest

from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import Link, LinkState, Noise, Report, TakesLines
from witnessmark.model import Reading

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)


async def typed(*lines: str, address: str = "typed:") -> list[Report]:
    """What the driver reports of lines, without the link that opens."""
    driver = open_driver(address, clock=lambda: AT)
    assert isinstance(driver, TakesLines)
    for line in lines:
        driver.submit(line)
    driver.end()
    reports = [report async for report in driver.reports()]
    assert isinstance(reports[0], Link)
    assert reports[0].state is LinkState.OPEN
    return reports[1:]


async def test_lengths_as_people_write_them_are_readings() -> None:
    seen = await typed("1512", "1.512 m\n", "8' 3 1/2\"", "4 m")
    assert [one.distance_mm for one in seen if isinstance(one, Reading)] == pytest.approx(
        [1512.0, 1512.0, 2527.3, 4000.0]
    )


async def test_the_time_is_that_of_typing() -> None:
    times = iter([AT, AT.replace(hour=11), AT.replace(hour=12)])
    driver = open_driver("typed:", clock=lambda: next(times))
    assert isinstance(driver, TakesLines)
    driver.submit("1512")
    driver.end()
    link, reading = [report async for report in driver.reports()]
    assert (reading.at.hour, link.at.hour) == (10, 11)


@pytest.mark.parametrize("line", ["twelve", "-1512", "0", "1.512 m 1.513 m", "101 m", "\x1b[A"])
async def test_what_is_no_length_is_noise_with_the_reason(line: str) -> None:
    (noise,) = await typed(line)
    assert isinstance(noise, Noise)
    assert "is not a" in noise.why


async def test_bare_metres_ask_for_their_unit_and_take_it() -> None:
    (noise,) = await typed("2.514")
    assert isinstance(noise, Noise)
    assert "?unit=m" in noise.why
    assert await typed("2.514", address="typed:?unit=m") == [
        Reading(2514.0, AT, "typed:?unit=m", b"2.514")
    ]


async def test_full_width_digits_take_the_unit_too() -> None:
    (reading,) = await typed("２.５", address="typed:?unit=m")
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(2500.0)


async def test_enter_alone_is_nothing() -> None:
    assert await typed("", "  \n") == []
