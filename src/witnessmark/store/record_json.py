"""Records as text, and a check that they come back as they went in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import msgspec

from witnessmark.errors import StoreError

UNREADABLE = (msgspec.MsgspecError, ValueError, TypeError, KeyError)
"""What reading back raises on a text that is damaged or from a program that knew other records."""


class RecordRefused(StoreError):
    """This one record cannot be kept as it is; others can."""


def to_json(record: Any) -> str:  # noqa: ANN401
    """``record`` as JSON; numpy's floats, which pass for ``float`` in annotations, as numbers.

    Raises:
        RecordRefused: when a text in it is not Unicode.
    """
    try:
        return msgspec.json.encode(record, enc_hook=float).decode()
    except UnicodeEncodeError as error:
        raise RecordRefused(f"not stored: {error.object!r} is not Unicode text") from error


def utc_text(at: datetime) -> str:
    """``at`` as ISO 8601 in UTC, always with microseconds.

    Raises:
        RecordRefused: when the time has no zone.
    """
    if at.utcoffset() is None:
        raise RecordRefused(f"not stored: {at} has no time zone; times are in UTC")
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def check_reads_back(record: object, read_back: Callable[[], object]) -> None:
    """Make sure that what is about to be stored is what will be read.

    JSON has neither infinity nor not-a-number: msgspec writes both as null.

    Raises:
        RecordRefused: when it is not.
    """
    try:
        same, why = read_back() == record, "one is not"
    except UNREADABLE as error:
        same, why = False, str(error)
    if not same:
        raise RecordRefused(f"not stored, as every number must be finite: {why}")
