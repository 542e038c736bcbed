"""Readings and faults as lines of JSON: what ``witnessmark read --json`` prints, ``replay:`` reads.

{"distance_mm":1512.0,"at":"2026-01-02T10:00:00Z","meter":"typed:","raw":"312e353132206d"}
{"fault":"E7","at":"2026-01-02T10:00:05Z","meter":"typed:","raw":"4537"}
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.meters.port import Fault
from witnessmark.model import Reading
from witnessmark.model.limits import DISTANCE, YEARS


class _JsonLine(msgspec.Struct, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Either a reading or a fault, with the keys in the order in which they are printed."""

    distance_mm: Annotated[float, msgspec.Meta(gt=DISTANCE.least, le=DISTANCE.most)] | None = None
    fault: str | None = None
    at: Annotated[datetime, msgspec.Meta(tz=True)]
    meter: str
    raw: Annotated[str, msgspec.Meta(pattern="^([0-9a-fA-F]{2})*$")]


def to_json_line(report: Reading | Fault) -> str:
    """Return the line without a line end; ``raw`` in hexadecimal, ``at`` in ISO 8601 UTC."""
    line = _JsonLine(
        distance_mm=report.distance_mm if isinstance(report, Reading) else None,
        fault=report.fault if isinstance(report, Fault) else None,
        at=report.at,
        meter=report.meter,
        raw=report.raw.hex(),
    )
    return msgspec.json.encode(line).decode()


def from_json_line(text: str) -> Reading | Fault:
    """Return the reading or fault that such a line holds.

    Raises:
        BadInput: when it is not such a line.
    """
    try:
        line = msgspec.json.decode(text, type=_JsonLine)
    except msgspec.DecodeError as error:
        raise BadInput(f"not a reading as JSON: {printable(str(error))}") from None
    try:
        at = line.at.astimezone(UTC)
    except OverflowError:
        at = line.at
    if at.year not in YEARS:
        years = f"{YEARS[0]} to {YEARS[-1]}"
        raise BadInput(f'not a reading as JSON: "at" lies outside the years {years}')
    raw = bytes.fromhex(line.raw)
    if line.distance_mm is not None and line.fault is None:
        return Reading(line.distance_mm, at, line.meter, raw)
    if line.fault is not None and line.distance_mm is None:
        return Fault(line.fault, at, line.meter, raw)
    raise BadInput('not a reading as JSON: it needs either "distance_mm" or "fault"')
