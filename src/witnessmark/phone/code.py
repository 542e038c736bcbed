"""An address as a QR code of half blocks, for a camera to read off the terminal."""

from __future__ import annotations

import io
from functools import lru_cache

_QUIET_ZONE = 2
"""Light modules around it: half of what ISO/IEC 18004 asks for, as a terminal has few lines."""


@lru_cache(maxsize=1)
def code_lines(text: str) -> tuple[str, ...]:
    """The code's lines, for a white pen on black ground."""
    import segno  # noqa: PLC0415

    written = io.StringIO()
    segno.make(text, error="l").terminal(written, compact=True, border=_QUIET_ZONE)
    return tuple(written.getvalue().splitlines())
