"""The text of a round file, from a path or the standard input."""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

from witnessmark.errors import BadInput

LARGEST_BYTES = 1_000_000


def round_text(file: str) -> str:
    """The text of a round file; ``-`` is the standard input.

    Raises:
        BadInput: when it cannot be read, is too large, or is no text.
    """
    try:
        with (
            contextlib.nullcontext(sys.stdin.buffer) if file == "-" else Path(file).open("rb") as f
        ):
            raw: bytes = f.read(LARGEST_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise BadInput(f"{file}: {reason}; give the path of a round file") from None
    if len(raw) > LARGEST_BYTES:
        raise BadInput(f"{file}: over {LARGEST_BYTES} bytes; a round file is a few pages of text")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(f"{file}: not a text file in UTF-8; a round file is TOML or JSON") from None
