from __future__ import annotations

import asyncio
import os
import tracemalloc
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.finding import open_driver
from witnessmark.meters.json_lines import to_json_line
from witnessmark.meters.port import Fault, Link, LinkState, Report
from witnessmark.meters.watch import watch
from witnessmark.model import Reading
from witnessmark_drivers.replay import Replay

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
EARLIER = datetime(2025, 12, 31, 23, 59, 59, 123_456, tzinfo=UTC)
RECORDED = [
    Reading(1512.0, EARLIER, "serial:COM3", b"1.512 m"),
    Fault("E7", EARLIER, "serial:COM3", b"E7"),
]


FileOf = Callable[[str], Path]
"""Writes a file that holds the text."""


@pytest.fixture
def file_of(tmp_path: Path) -> FileOf:
    def write(text: str) -> Path:
        file = tmp_path / "readings.txt"
        file.write_text(text)
        return file

    return write


async def replayed(file: Path, options: str = "") -> list[Report]:
    return [one async for one in open_driver(f"replay:{file}{options}", clock=lambda: AT).reports()]


async def test_recorded_readings_and_faults_come_back_as_they_were(file_of: FileOf) -> None:
    file = file_of("".join(to_json_line(one) + "\n" for one in RECORDED))
    assert (await replayed(file))[1:] == RECORDED


async def test_a_mark_that_an_editor_sets_before_the_text_does_no_harm(file_of: FileOf) -> None:
    assert len(await replayed(file_of("\ufeff1512\n"))) == 2


async def test_lengths_are_readings_of_now(file_of: FileOf) -> None:
    file = file_of("1512\r\n\n8' 3 1/2\"\n2.514 m")
    link, *readings = await replayed(file)
    assert isinstance(link, Link)
    assert [one.distance_mm for one in readings if isinstance(one, Reading)] == pytest.approx(
        [1512.0, 2527.3, 2514.0]
    )
    assert readings[0] == Reading(1512.0, AT, f"replay:{file}", b"1512")


async def test_numbers_without_a_unit_take_that_of_the_address(file_of: FileOf) -> None:
    file = file_of("2.514\n")
    _, reading = await replayed(file, "?unit=m")
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(2514.0)


async def test_the_end_of_the_file_closes_the_link(file_of: FileOf) -> None:
    file = file_of("1512\n")
    *_, last = [one async for one in watch(open_driver(f"replay:{file}"))]
    assert isinstance(last, Link)
    assert last.state is LinkState.CLOSED


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ("twelve", "is not a length"),
        ("2.514", "no unit given"),
        ("{", "not a reading as JSON"),
        ('{"distance_mm": -1}', r"\$\.distance_mm"),
    ],
)
async def test_a_wrong_line_is_named_before_anything_is_replayed(
    file_of: FileOf, wrong: str, words: str
) -> None:
    file = file_of(f"1512\n\n{wrong}\n")
    with pytest.raises(BadInput, match=f"line 3: .*{words}"):
        await anext(open_driver(f"replay:{file}").reports())


async def test_a_file_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be read: Is a directory"):
        await replayed(tmp_path)
    (tmp_path / "binary").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match="not a text file"):
        await replayed(tmp_path / "binary")


async def test_readings_come_as_far_apart_as_asked(file_of: FileOf) -> None:
    file = file_of("1512\n1513\n")
    naps: list[float] = []

    async def sleep(seconds: float) -> None:
        naps.append(seconds)

    driver = Replay(Address.parse(f"replay:{file}?every=1.5"), sleep=sleep)
    seen = [len(naps) async for _ in driver.reports()]
    assert seen == [0, 0, 1]
    assert set(naps) == {1.5}


@pytest.mark.parametrize(
    ("text", "least"),
    [("\n" * 5000, 10), ("1512\n\n" * 2500, 2500), ("\n" * 4999 + "1512", 9)],
    ids=["blank", "odd", "last"],
)
async def test_others_have_their_turn_whatever_the_lines_hold(
    file_of: FileOf, text: str, least: int
) -> None:
    file, turns = file_of(text), 0

    async def take_turns() -> None:
        nonlocal turns
        while True:
            turns += 1
            await asyncio.sleep(0)

    other = asyncio.create_task(take_turns())
    reports = open_driver(f"replay:{file}").reports()
    await anext(reports)
    assert turns >= 9  # while all is checked: one in 500 lines
    turns = 0
    assert len([one async for one in reports]) == text.count("1512")
    assert turns >= least
    other.cancel()


@pytest.mark.parametrize("name", ["~nobody-of-this-name/x", "a\0b"])
async def test_what_can_be_no_path_is_refused(name: str) -> None:
    with pytest.raises(BadInput, match=r"nobody here|zero byte"):
        await replayed(Path(name))


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/tty", "/dev/stdin"])
@pytest.mark.skipif(os.name != "posix", reason="devices are files on POSIX systems alone")
async def test_a_device_is_refused(device: str) -> None:
    with pytest.raises(BadInput, match="cannot be read"):
        await replayed(Path(device))


@pytest.mark.skipif(os.name != "posix", reason="pipes are files on POSIX systems alone")
async def test_a_pipe_that_nobody_writes_to_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(BadInput, match="a device or a pipe"):
        await replayed(tmp_path / "pipe")


async def test_a_file_without_line_ends_is_not_read_into_memory(tmp_path: Path) -> None:
    file = tmp_path / "long.txt"
    with file.open("wb") as sparse:
        sparse.truncate(400_000_000)
    tracemalloc.start()
    try:
        with pytest.raises(BadInput, match="line 1: over 4000 signs"):
            await replayed(file)
        assert tracemalloc.get_traced_memory()[1] < 5_000_000
    finally:
        tracemalloc.stop()
