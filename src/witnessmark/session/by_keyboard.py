"""What comes by the keyboard as records: a meter's lines, and distances that a person typed."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from witnessmark.meters.address import Address
from witnessmark.meters.framing import Line
from witnessmark.meters.port import Fault, Noise
from witnessmark.meters.text import report_line
from witnessmark.model import BY_TAPE, Reading

_KEYBOARD: Final = "typed:"


def is_keyboard(address: str) -> bool:
    """Return whether the meter of an address is the keyboard itself."""
    return address.startswith(_KEYBOARD)


def keyboard_unit(address: str) -> str | None:
    """Return the unit of bare numbers as chosen in a meter's address; None means mm."""
    return Address.parse(address).options.get("unit")


def line_report(text: str, at: datetime, address: str, *, whole: bool) -> Reading | Fault | Noise:
    """Return what a meter typed. ``address`` is that of the meter that is chosen.

    Without its Enter (``whole`` false) it is never a distance.
    """
    raw = text.encode(errors="replace")
    meter = address if is_keyboard(address) else _KEYBOARD
    if not whole:
        return Noise("keys too fast for fingers, and no Enter after them", at, meter, raw)
    return report_line(Line(raw), at=at, meter=meter, unit=keyboard_unit(address))


def typed_reading(distance_mm: float, text: str, at: datetime, address: str) -> Reading:
    """Return what a person typed as a reading, of a tape where another meter is chosen."""
    return Reading(distance_mm, at, address if is_keyboard(address) else BY_TAPE, text.encode())
