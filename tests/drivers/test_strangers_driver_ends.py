"""A stranger's driver that does not end keeps nothing from ending: the program in whole processes.

Each driver comes by an entry point of a package of its own, as one that is installed does.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from patience import HUNG_S
from window import Window

from witnessmark.meters.port import utc_now
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

DRIVERS = """
import asyncio, os, threading, time
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.port import Driver, Link
from witnessmark.meters.profile import Serial

class Odd(Driver):
    scheme = "odd"

    async def raw_frames(self):
        async for report in self.reports():
            yield report

    def ask(self, question): ...

    def transport(self, channel, question=None):
        return Serial()

class Swallowing(Odd):
    async def reports(self):
        yield self.opened()
        while True:
            try:
                await asyncio.sleep(3600)
            except BaseException:
                pass

class Blocking(Odd):
    async def reports(self):
        yield self.opened()
        os.write(2, b"it blocks\\n")
        while True:
            try:
                time.sleep(3600)
            except BaseException:
                pass

class Threaded(Odd):
    async def reports(self):
        threading.Thread(target=time.sleep, args=(3600,)).start()
        yield self.opened()
        await asyncio.sleep(3600)
"""

SOONER = """
from witnessmark import ending
from witnessmark.meters import running
ending.HEARS_WITHIN_S = ending.LEAVES_WITHIN_S = 0.3
running.LET_GO_S = running.run.__kwdefaults__["let_go_s"] = 0.3
from witnessmark.cli import program
program()
"""
"""The program with less patience than a person has, so that the tests need none."""

LET_GO, KEPT = "it did not let go of its meter within 0.3 s", "it kept the program from ending"


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which those drivers are installed, with a store of its own."""
    (tmp_path / "odd_drivers.py").write_text(DRIVERS)
    info = tmp_path / "odd_drivers-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: odd_drivers\nVersion: 1.0\n")
    entries = "".join(
        f"{name.lower()} = odd_drivers:{name}\n" for name in ("Swallowing", "Blocking", "Threaded")
    )
    (info / "entry_points.txt").write_text(f"[witnessmark.drivers]\n{entries}")
    path = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])
    monkeypatch.setenv("PYTHONPATH", path)
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path / "store.sqlite3"))
    return tmp_path


READ = "read {}:", "open: meter connected"
LEARN = "learn {}: --known 1.2m --known 1.9m --save mine", "Never look"
CHECK = "check {}: --width 262mm --depth 391mm", "it blocks"


@pytest.mark.parametrize(
    ("scheme", "command", "number", "why"),
    [
        ("swallowing", READ, signal.SIGTERM, LET_GO),
        ("swallowing", LEARN, signal.SIGINT, LET_GO),
        ("blocking", CHECK, signal.SIGHUP, KEPT),
        ("threaded", READ, signal.SIGINT, KEPT),
    ],
)
def test_a_command_ends_and_names_the_driver(
    installed: Path, scheme: str, command: tuple[str, str], number: signal.Signals, why: str
) -> None:
    arguments, runs = command
    with subprocess.Popen(
        [sys.executable, "-c", SOONER, *arguments.format(scheme).split()],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        try:
            while runs not in (line := process.stderr.readline()):
                assert line
            process.send_signal(number)
            _, said = process.communicate(timeout=HUNG_S)
        finally:
            process.kill()
    assert process.returncode == 128 + number
    told = [line for line in said.splitlines() if "failed" in line]
    assert len(told) == 1
    assert told[0].startswith(f'the driver for "{scheme}:" failed ({why})')
    assert not list(installed.glob("*.sqlite3-wal"))


@pytest.mark.parametrize(("scheme", "why"), [("swallowing", LET_GO), ("blocking", KEPT)])
def test_the_app_ends_with_its_terminal_as_before(installed: Path, scheme: str, why: str) -> None:
    with Store.open(installed / "store.sqlite3") as store:
        store.save_setup("Barn", DEMO_SETUP, utc_now(), {"meter": f"{scheme}:"})
    window = Window(installed / "store.sqlite3", "-c", SOONER)
    window.wait_for(b"meter connected" if scheme == "swallowing" else b"it blocks")
    os.kill(window.child, signal.SIGTERM)
    assert window.exit_code() == 128 + signal.SIGTERM
    assert window.is_as_before
    assert f'the driver for "{scheme}:" failed ({why})'.encode() in window.painted
    assert not list(installed.glob("*.sqlite3-wal"))
