"""Files that others wrote, opened so that none of them can hold up or fill the computer.

A device such as ``/dev/zero`` never ends and a pipe may never begin, whatever its name promises.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO


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
