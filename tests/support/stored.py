"""Stored texts that an output has to be, byte for byte.

``WITNESSMARK_PAGES=write`` writes them anew: only where a sentence or a picture was changed on
purpose, and then they are read before they are committed.
"""

from __future__ import annotations

import difflib
import os
import re
from pathlib import Path

_NUMBER = re.compile(r"-?[0-9]+\.[0-9]+(?:e[+-]?[0-9]+)?")


def check(stored: Path, content: str | bytes) -> None:
    """Compare what comes out now with the stored file of it."""
    now = content.encode() if isinstance(content, str) else content
    if os.environ.get("WITNESSMARK_PAGES") == "write":
        stored.parent.mkdir(exist_ok=True)
        stored.write_bytes(now)
    then = stored.read_bytes()
    lines = [one.decode(errors="replace").splitlines() for one in (then, now)]
    assert now == then, "\n".join(difflib.unified_diff(*lines, stored.name, "now", lineterm=""))


def to_six_decimals(text: str) -> str:
    """Return the text with six decimals a figure: the rest is the machine's linear algebra."""

    def rounded(match: re.Match[str]) -> str:
        return f"{round(float(match[0]), 6) + 0.0}"

    return _NUMBER.sub(rounded, text)
