"""Files of readings for the fuzzing, and a second opinion on every reading that is replayed."""

from __future__ import annotations

import asyncio
import io
import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from damaged_files import (
    UNIT_MM,
    Fed,
    Once,
    check_refusal,
    damaged,
    drawn_length,
    is_same,
    length_mm,
)
from numpy.random import Generator

from witnessmark.errors import WitnessmarkError
from witnessmark.meters.finding import open_driver
from witnessmark.meters.json_lines import from_json_line, to_json_line
from witnessmark.meters.port import Fault, Link, Noise, Report
from witnessmark.meters.watch import watch
from witnessmark.model import Reading

AT: Final = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
UNITS: Final = ("", "m", "cm", "mm", "in", "ft")


def replays(folder: Path) -> Once:
    """Files of readings, damaged, replayed from a folder."""
    file = folder / "readings.jsonl"

    def once(rng: Generator) -> Fed:
        unit = UNITS[int(rng.integers(len(UNITS)))]
        data = damaged(sound_readings(unit, rng), sound_readings(unit, rng), rng)
        file.write_bytes(data)
        address = f"replay:{file}" + (f"?unit={unit}" if unit else "")
        try:
            reports = asyncio.run(replayed(address))
        except WitnessmarkError as error:
            check_refusal(error, data)
            return Fed(len(data))
        return Fed(len(data), check_reports(reports, data, unit, address))

    return once


async def replayed(address: str) -> list[Report]:
    """All that a file brings by the port, as the program takes it."""
    reports = watch(open_driver(address, clock=lambda: AT), quiet_after_s=None, retry=False)
    return [one async for one in reports if not isinstance(one, Link)]


def sound_readings(unit: str, rng: Generator) -> bytes:
    """Lines as they are recorded, and lengths as people write them."""
    ends = "\r\n" if rng.random() < 0.2 else "\n"
    lines = [_line(unit, rng) for _ in range(int(rng.integers(1, 12)))]
    return (ends.join(lines) + (ends if rng.random() < 0.8 else "")).encode()


def _line(unit: str, rng: Generator) -> str:
    share = float(rng.random())
    if share < 0.1:
        return ""
    if share < 0.5:
        bare = f"{float(rng.uniform(100, 9000)) / UNIT_MM[unit or 'mm']:.3f}"
        return bare if share < 0.2 else str(drawn_length(rng, 100, 9000))
    at = AT.replace(second=int(rng.integers(60)), microsecond=int(rng.integers(10**6)))
    raw = rng.bytes(int(rng.integers(0, 12)))
    if share < 0.6:
        return to_json_line(Fault("E7 “too little light”", at, "serial:COM3", raw))
    return to_json_line(Reading(float(rng.uniform(1, 99_999)), at, "ble:AA:BB", raw))


def check_reports(reports: list[Report], data: bytes, unit: str, address: str) -> int:
    """Judge every report of a file; how many distances there were."""
    text = io.TextIOWrapper(io.BytesIO(data), "utf-8-sig").read()
    lines = [line for line in text.split("\n") if line.strip()]
    distances = 0
    for report, line in zip(reports, lines, strict=True):
        assert not isinstance(report, Noise | Link), (report, line, data)
        assert 2 <= report.at.year <= 9998, (report, line)
        if line.lstrip().startswith("{"):
            _check_recorded(report, line)
            assert from_json_line(to_json_line(report)) == report, line
        else:
            assert isinstance(report, Reading), (report, line)
            # the unit that was chosen is read as if it were written behind a bare number
            is_bare = unit and re.fullmatch(r"\s*\+?[0-9., /-]+\s*", line)
            judged = length_mm(f"{line.strip()} {unit}" if is_bare else line)
            assert is_same(report.distance_mm, judged), (report, line, judged)
            assert (report.at, report.meter) == (AT, address), (report, line)
        if isinstance(report, Reading):
            assert 0 < report.distance_mm <= 100_000, (report, line)
            distances += 1
    return distances


def _check_recorded(report: Reading | Fault, line: str) -> None:
    stands = json.loads(line)
    assert report.meter == stands["meter"], line
    assert report.raw == bytes.fromhex(stands["raw"]), line
    # to the microsecond, for no clock here tells more
    written = stands["at"].upper().replace(" ", "T")
    assert abs((report.at - datetime.fromisoformat(written)).total_seconds()) < 1e-6, line
    if isinstance(report, Reading):
        assert stands.get("fault") is None, line
        assert is_same(report.distance_mm, float(stands["distance_mm"])), line
    else:
        assert stands.get("distance_mm") is None, line
        assert report.fault == stands["fault"], line
