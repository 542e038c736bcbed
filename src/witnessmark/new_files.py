"""Files that are new and whole: written beside their place, and put there once all is on disk.

So a file that is there is never one that was cut off, however its writing ended.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import BinaryIO


@contextlib.contextmanager
def new_file(path: Path) -> Iterator[BinaryIO]:
    """Give an open file that is at ``path`` when this is left, whole; nothing when it raises.

    Raises:
        FileExistsError: when there is one already.
        OSError: when it cannot be made or written.
    """
    _refuse_existing(path)
    number, name = tempfile.mkstemp(".part", f".{path.name[:100]}-", path.parent)
    beside = Path(name)
    try:
        with open(number, "wb") as file:  # noqa: PTH123 - it has a number, not a path
            yield file
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o666 & ~_mask())
        _refuse_existing(path)
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def write_new(contents: Mapping[Path, bytes]) -> None:
    """Write several new files; where one cannot be written none is there.

    Raises:
        FileExistsError: when one is there already.
        OSError: when one cannot be made or written.
    """
    with contextlib.ExitStack() as files:
        for path, content in contents.items():
            file = files.enter_context(new_file(path))
            file.write(content)
            file.flush()  # before the first is put in its place


def _refuse_existing(path: Path) -> None:
    if path.exists():
        raise FileExistsError(path)


def _mask() -> int:
    """Return the permissions that new files of this process do not get."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
