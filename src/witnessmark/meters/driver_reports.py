"""What a driver yields, checked: what is no report of a meter becomes ``Noise`` that names it."""

from __future__ import annotations

import numbers
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

import msgspec

from witnessmark.file_errors import printable
from witnessmark.meters.driver_calls import meter_of, scheme_of, time_of
from witnessmark.meters.driver_faults import driver_faults_told, error_words
from witnessmark.meters.port import Driver, Fault, Link, LinkState, Noise, Report
from witnessmark.model import Reading
from witnessmark.model.limits import DISTANCE, LONGEST_MESSAGE, YEARS

if TYPE_CHECKING:
    from witnessmark.meters.capture import RawFrame

_LONGEST_TEXT: Final = 4000


def checked_report(driver: Driver, report: object) -> Report:
    """Return a report if it is one that a meter can bring, else ``Noise`` that says why not."""
    try:
        why = _wrong(report)
    except Exception as error:  # noqa: BLE001 - as above
        why = error_words(error)
    if not why:
        return _plain(report)
    words = f'the driver for "{scheme_of(driver)}:" reported {why}'
    return Noise(printable(words), time_of(driver), meter_of(driver), _raw_of(report))


def checked_frame(driver: object, frame: object) -> RawFrame | Link:
    """Return what a driver yields to learning.

    Raises:
        DriverFailed: when it is nothing that could be learnt from.
    """
    from witnessmark.meters.capture import RawFrame  # noqa: PLC0415

    with driver_faults_told(scheme_of(driver)):
        if type(frame) is Link:
            return frame
        if type(frame) is not RawFrame:
            raise TypeError(f"it brought {printable(repr(frame), 40)} in place of bytes")
        if not (_is_bytes(frame.data) and _is_text(frame.channel) and _is_time(frame.at)):
            raise TypeError("it brought no bytes with their channel and time in UTC")
        return frame


def _raw_of(report: object) -> bytes:
    try:
        raw = getattr(report, "raw", b"")
        return bytes(raw[:LONGEST_MESSAGE]) if isinstance(raw, bytes) else b""
    except Exception:  # noqa: BLE001 - as above
        return b""


def _plain(report: Any) -> Report:  # noqa: ANN401 - it was checked
    if isinstance(report, Reading) and type(report.distance_mm) is not float:
        return msgspec.structs.replace(report, distance_mm=float(report.distance_mm))
    checked: Report = report
    return checked


def _wrong(report: Any) -> str:  # noqa: ANN401 - it may be anything
    """Return what is wrong with a report; nothing where it is as it should be."""
    if type(report) not in {Reading, Fault, Noise, Link}:
        return f"{printable(repr(report), 40)}, which is nothing that a meter brings"
    if not (_is_text(report.meter) and _is_time(report.at)):
        return "no meter and time in UTC"
    if not _is_bytes(getattr(report, "raw", b"")):
        return "no bytes of a message"
    return _wrong_distance(report.distance_mm) if isinstance(report, Reading) else _untold(report)


def _wrong_distance(mm: object) -> str:
    if not isinstance(mm, numbers.Real) or isinstance(mm, bool):
        return f"{printable(repr(mm), 40)} for a distance"
    return (
        "" if DISTANCE.admits(float(mm)) else f"a distance of {float(mm):g} mm, which none can be"
    )


def _untold(report: Fault | Noise | Link) -> str:
    match report:
        case Fault(fault=words):
            is_told = _is_text(words)
        case Noise(why=words, bare=bare):
            is_told = _is_text(words) and (bare is msgspec.UNSET or _is_text(bare))
        case Link(state=state, words=words):
            is_told = isinstance(state, LinkState) and _is_text(words)
    return "" if is_told else f"no sentence of up to {_LONGEST_TEXT} signs"


def _is_text(words: object) -> bool:
    if not (isinstance(words, str) and len(words) <= _LONGEST_TEXT):
        return False
    words.encode()  # raises on half a sign, which nothing could store
    return True


def _is_bytes(data: object) -> bool:
    return isinstance(data, bytes) and len(data) <= LONGEST_MESSAGE


def _is_time(at: object) -> bool:
    if not isinstance(at, datetime) or at.utcoffset() is None:
        return False
    return at.astimezone(UTC).year in YEARS  # raises past the last year
