"""What holds for every test: how much it tries, and that it leaves no task and no thread behind."""

from __future__ import annotations

import asyncio
import gc
import inspect
import signal
import tempfile
import threading
from collections.abc import AsyncGenerator, Generator
from pathlib import Path

import pytest
from effort import EVERYDAY, THOROUGH
from hypothesis import settings

pytest_plugins = ["needs"]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--thorough", action="store_true", help="try many more cases; takes minutes")


def pytest_configure(config: pytest.Config) -> None:
    # a hundred apps a run leave much in circles: looked for seldom, that costs a fifth less
    gc.set_threshold(100_000, 20, 20)
    # before any test is read, because a test's own count of examples is fixed where it is defined
    settings.load_profile(THOROUGH if config.getoption("thorough") else EVERYDAY)
    # programs that are started inherit what nohup, or a shell in the background, has ignored
    for name, usual in (("SIGINT", signal.default_int_handler), ("SIGHUP", signal.SIG_DFL)):
        number = getattr(signal, name, None)  # one of them only on POSIX
        if number is not None and signal.getsignal(number) is signal.SIG_IGN:
            signal.signal(number, usual)


@pytest.fixture(scope="session", autouse=True)
def no_store_of_this_person() -> Generator[None, None, None]:
    """Keeps commands that journal away from the store of who runs the tests."""
    with pytest.MonkeyPatch.context() as patched, tempfile.TemporaryDirectory() as folder:
        patched.setenv("WITNESSMARK_STORE", str(Path(folder) / "store.sqlite3"))
        yield


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    # first, so that they look after every other fixture and the loop itself have been taken down
    for item in items:
        if isinstance(item, pytest.Function) and inspect.iscoroutinefunction(item.function):
            item.fixturenames[:0] = ["leaving_no_thread_behind", "leaving_no_task_behind"]


@pytest.fixture
async def leaving_no_task_behind() -> AsyncGenerator[None, None]:
    """Fails an asynchronous test that ends while a task it started still runs."""
    yield
    left = asyncio.all_tasks() - {asyncio.current_task()}
    assert not left, f"tasks left behind: {sorted(task.get_name() for task in left)}"


@pytest.fixture(autouse=True)
def leaving_no_thread_behind() -> Generator[None, None, None]:
    """Fails a test that ends while a thread it started still runs."""
    before = set(threading.enumerate())
    yield
    left = set(threading.enumerate()) - before
    assert not left, f"threads left behind: {sorted(thread.name for thread in left)}"


@pytest.fixture(autouse=True)
def no_radio_of_this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keeps tests away from real Bluetooth; those that need a service bring their own."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent")
