"""Files of others, which cannot hold up or fill the computer; new files, whole or not there.

A device such as ``/dev/zero`` never ends and a pipe may never begin, whatever its name promises. A
new file is written beside its place and put there once all is on disk, so one that is there was
never cut off.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import BinaryIO

from witnessmark.errors import BadInput
from witnessmark.sentences import visible


def open_plain(path: Path) -> BinaryIO:
    """Open a file to read its bytes; what reads them bounds how many.

    Raises:
        OSError: when it cannot be opened, or is a device, a pipe or a folder.
    """
    # a pipe would be waited for while it is opened
    file = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        _check_plain(os.fstat(file).st_mode)
        return os.fdopen(file, "rb")
    except BaseException:
        os.close(file)
        raise


def _check_plain(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "It is a device or a pipe, not a file")


def user_path(written: str) -> Path:
    """Return a path as a person writes it, in which ``~`` is somebody's own folder.

    Raises:
        BadInput: when nobody has that name here, or it can be no path.
    """
    if "\0" in written:
        raise BadInput(f"{visible(written)}: no path holds a zero byte; write it without")
    try:
        return Path(written).expanduser()
    except RuntimeError:
        whose = visible(written)
        raise BadInput(f"{whose}: nobody here has a folder of that name; write it out") from None


@contextlib.contextmanager
def new_file(path: Path) -> Iterator[BinaryIO]:
    """Give an open file that is at ``path`` when this is left, whole; nothing when it raises.

    Raises:
        FileExistsError: when there is one already.
        OSError: when it cannot be made or written.
    """
    _refuse_existing(path)
    with whole_file(path) as file:
        yield file
        _refuse_existing(path)


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """Give an open file that takes the place of ``path``, whole, when this is left.

    What is there stays until then, and for good when it raises.

    Raises:
        OSError: when it cannot be made or written.
    """
    number, name = tempfile.mkstemp(".part", ".witnessmark-", path.parent)
    beside = Path(name)
    try:
        with open(number, "wb") as file:  # noqa: PTH123 - it has a number, not a path
            yield file
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o666 & ~_mask())
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
