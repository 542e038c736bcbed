"""The end of the program: it comes within seconds, whatever somebody's driver holds on to.

Ctrl-C and the system's own ways to end a program (SIGTERM; SIGHUP, where its window is closed) end
every command alike: what runs is asked to come to its end. Where it does not come to it, because
a driver blocks the program, a thread that nothing holds up does the last deeds, says which driver
it was, and ends the process. The same thread ends it where a driver left something behind for
which Python itself would wait.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from types import FrameType
from typing import Final, NoReturn, TypeVar

from witnessmark.sentences import visible

BY_SIGNAL: Final = 128
"""A program that a signal ended exits with this and the signal's number (POSIX shells)."""
HEARS_WITHIN_S: Final = 5.0
"""Longest time in which what runs hears that it is to end; longer, and a driver blocks it."""
ENDS_WITHIN_S: Final = 20.0
"""Longest time for the end after that: two meters are let go of, and the store is closed."""
LEAVES_WITHIN_S: Final = 3.0
"""Longest time for Python itself to end, when all of the program has."""
_DEEDS_WITHIN_S: Final = 5.0

_ENDINGS: Final = [
    signal.Signals[name]
    for name in ("SIGINT", "SIGTERM", "SIGHUP")
    if name in signal.Signals.__members__
]

T = TypeVar("T")
Leave = Callable[[int], object]
"""Has what runs come to its end, because of this signal; returns at once."""


class Terminated(BaseException):
    """The system ends the program, or closes its window."""

    def __init__(self, number: int) -> None:
        """Take the number of the signal."""
        super().__init__(number)
        self.exit_code = BY_SIGNAL + number


class _Watched:
    """What the end depends on, of the one program that this process is."""

    def __init__(self) -> None:
        self.leave: list[Leave] = []
        """How the innermost of what runs is asked to end; empty: it is interrupted."""
        self.deeds: list[Callable[[], object]] = []
        self.works: Callable[[], object] = lambda: None
        """Which of the tasks is at work just now."""
        self.inside: list[tuple[str, object]] = []
        """A sentence on each driver that is called or awaited just now, and by which task."""
        self.called: dict[str, None] = {}
        """A sentence on each driver that was ever called."""
        self.left: list[tuple[object, str]] = []
        """What nobody waits for, and a sentence on it. It is kept, for a task that is thrown away
        runs once more, and may never come back from that."""
        self.first: dict[str, _EndAsked] = {}
        """The first signal that came, if one did: a table, whose ``setdefault`` nothing interrupts,
        neither a thread nor another signal."""
        self.signals: tuple[int, ...] = ()
        """Those that end the program."""

    @property
    def asked(self) -> _EndAsked | None:
        return self.first.get("end")


_watched = _Watched()


class _EndAsked:
    """One signal, and what becomes of it."""

    def __init__(self, number: int) -> None:
        self.number = number
        self.is_passed_on = False
        self.heard, self.over = threading.Event(), threading.Event()

    def watch(self) -> None:
        if self.heard.wait(HEARS_WITHIN_S):
            self.over.wait(ENDS_WITHIN_S)
        if not self.over.is_set():
            _do_the_last()
            _exit_now(BY_SIGNAL + self.number, _who_blocks() or _watched.called)


@contextlib.contextmanager
def ending_in_time() -> Iterator[None]:
    """While this is entered, the program ends within seconds of being asked to.

    What runs is asked by ``asked_by``; else it is interrupted.

    Raises:
        KeyboardInterrupt: at Ctrl-C.
        Terminated: when the system ends it.
    """
    before = {}
    if threading.current_thread() is threading.main_thread():
        # one that is ignored stays so, as the shell's nohup has it
        before = {
            number: handler
            for number in _ENDINGS
            if (handler := signal.getsignal(number)) not in (signal.SIG_IGN, None)
        }
    _watched.signals = tuple(before)
    _watched.first.clear()
    _take_signals()
    try:
        with _seen_by_a_thread() if before and os.name == "posix" else contextlib.nullcontext():
            yield
    finally:
        _watched.signals = ()
        for number, handler in before.items():
            signal.signal(number, handler)
        if asked := _watched.asked:
            asked.over.set()


def _take_signals() -> None:
    """Have the signals come here, also after a driver, or what it uses, took them for itself."""
    if _watched.signals and threading.current_thread() is threading.main_thread():
        for number in _watched.signals:
            if signal.getsignal(number) is not _ask:
                signal.signal(number, _ask)


@contextlib.contextmanager
def _seen_by_a_thread() -> Iterator[None]:
    """Have a thread see each signal, too: Python's own handlers wait for what is blocked."""
    reading, writing = os.pipe()
    os.set_blocking(writing, False)
    before = signal.set_wakeup_fd(writing, warn_on_full_buffer=False)

    def see() -> None:
        with open(reading, "rb", buffering=0) as numbers:  # noqa: PTH123 - it is no path
            while seen := numbers.read(1):
                if seen[0] in _watched.signals:
                    _begun(seen[0])

    seeing = threading.Thread(target=see, name="signals", daemon=True)
    seeing.start()
    try:
        yield
    finally:
        signal.set_wakeup_fd(before)
        os.close(writing)
        seeing.join()


def _begun(number: int) -> _EndAsked:
    """Return the end that is under way; it begins with the first signal."""
    mine = _EndAsked(number)
    asked = _watched.first.setdefault("end", mine)
    if asked is mine:
        threading.Thread(target=mine.watch, name="the end", daemon=True).start()
    return asked


def _ask(number: int, _frame: FrameType | None) -> None:
    asked = _begun(number)
    if asked.is_passed_on:
        return
    asked.is_passed_on = True
    if _watched.leave:
        _watched.leave[-1](asked.number)
        return
    heard()
    raise interruption(asked.number)


def signal_code() -> int | None:
    """Return the exit code because of the signal that ends the program; None where none does."""
    return BY_SIGNAL + asked.number if (asked := _watched.asked) else None


def interruption(number: int) -> BaseException:
    """Return what interrupts the program because of this signal."""
    return KeyboardInterrupt() if number == signal.SIGINT else Terminated(number)


def is_interrupted() -> bool:
    """Return whether Ctrl-C interrupts what runs; else it is asked to end, and nothing raises."""
    return not _watched.leave


def heard() -> None:
    """Take note that what runs has heard that it is to end."""
    if asked := _watched.asked:
        asked.heard.set()


def _who_blocks() -> list[str]:
    works = _watched.works()
    return [words for words, task in _watched.inside if task is works or task is None]


@contextlib.contextmanager
def asked_by(leave: Leave, works: Callable[[], object]) -> Iterator[None]:
    """While this is entered, what runs is asked to end by ``leave``, and says ``heard``.

    ``works`` tells which of its tasks is at work.
    """
    _watched.works = works
    with _entered(_watched.leave, leave):
        yield


@contextlib.contextmanager
def at_the_last(deed: Callable[[], object]) -> Iterator[None]:
    """While this is entered, ``deed`` is done in a thread of its own before the worst comes."""
    with _entered(_watched.deeds, deed):
        yield


@contextlib.contextmanager
def held_by(words: str, task: object) -> Iterator[None]:
    """While this is entered, a task calls somebody's driver; ``words`` say that it blocked us."""
    _watched.called[words] = None
    try:
        with _entered(_watched.inside, (words, task)):
            yield
    finally:
        _take_signals()


@contextlib.contextmanager
def _entered(entries: list[T], entry: T) -> Iterator[None]:
    entries.append(entry)
    try:
        yield
    finally:
        entries.remove(entry)


def keep_left(thing: object, words: str) -> Callable[[], None]:
    """Keep what is left behind until it ends, and ``words`` about it; return what ends that."""
    entry = (thing, words)
    _watched.left.append(entry)
    return lambda: _watched.left.remove(entry)


def left_words() -> list[str]:
    """Return a sentence on each driver that has left something behind."""
    return [words for words in dict.fromkeys(words for _, words in _watched.left) if words]


def leave(code: int) -> NoReturn:
    """End the process with this exit code, although a driver may have left something behind."""
    if _watched.left:  # it was told
        _exit_now(code, ())
    if _watched.called:
        threading.Thread(target=_leave_late, args=(code,), name="the end", daemon=True).start()
    raise SystemExit(code)


def _leave_late(code: int) -> None:
    threading.Event().wait(LEAVES_WITHIN_S)
    _exit_now(code, _watched.called)


def _do_the_last() -> None:
    def do_all() -> None:
        for deed in reversed(_watched.deeds):
            with contextlib.suppress(Exception):  # the others are as needed
                deed()

    doing = threading.Thread(target=do_all, name="the last", daemon=True)
    doing.start()
    doing.join(_DEEDS_WITHIN_S)


def _exit_now(code: int, sentences: Iterable[str]) -> NoReturn:
    """End without waiting for anything."""
    say(sentences)
    os._exit(code)


def say(sentences: Iterable[str]) -> None:
    """Print sentences, each once, past all that may be blocked, or to nobody."""
    said = "".join(f"{visible(one)}\n" for one in dict.fromkeys(sentences))
    with contextlib.suppress(OSError):
        os.write(2, said.encode(errors="replace"))
