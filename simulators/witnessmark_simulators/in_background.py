"""Something done again and again in a thread of its own."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator

_PAUSE_S = 0.002


@contextlib.contextmanager
def repeating(deed: Callable[[], None], name: str) -> Iterator[None]:
    """Do ``deed`` every other millisecond meanwhile, in a thread called ``name``."""
    over = threading.Event()

    def work() -> None:
        while not over.wait(_PAUSE_S):
            deed()

    thread = threading.Thread(target=work, name=name)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()
