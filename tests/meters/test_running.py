"""What a driver leaves in the event loop, or does to it, ends nothing and is told by its name."""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from witnessmark import ending
from witnessmark.meters.driver_faults import DriverFailed, driver_faults_told
from witnessmark.meters.running import run

Deed = Callable[[], object]


def stranger(deed: str) -> Deed:
    """A deed as code of another package."""
    place = {"__name__": "stranger", "asyncio": asyncio}
    exec(deed, place)
    return place["deed"]  # type: ignore[return-value]


CLINGS = """
async def cling():
    while True:
        try:
            await asyncio.Event().wait()
        except asyncio.CancelledError:
            pass

def deed():
    asyncio.get_running_loop().kept = asyncio.create_task(cling())
"""
STOPS = "def deed(): asyncio.get_running_loop().stop()"
RAISES = """
def bad(): raise {}

def deed(): asyncio.get_running_loop().call_soon(bad)
"""


def close_what_was_left() -> None:
    for thing, _ in ending._watched.left:
        if isinstance(thing, tuple):  # with its loop, which ends with the process otherwise
            thing[0].get_loop().close()


async def doing(deed: Deed) -> str:
    with driver_faults_told("odd"):
        deed()
    for _ in range(3):
        await asyncio.sleep(0)
    return "done"


@pytest.mark.parametrize(
    ("deed", "why"),
    [
        (CLINGS, "it left something behind that does not end"),
        (STOPS, "RuntimeError: Event loop stopped"),
        (RAISES.format("SystemExit(0)"), "SystemExit: 0"),
        (RAISES.format("KeyboardInterrupt"), "KeyboardInterrupt"),
        (RAISES.format("ValueError('no')"), "ValueError: no"),
    ],
)
def test_what_it_does_beside_its_meter_is_told_and_ends_nothing(
    monkeypatch: pytest.MonkeyPatch, deed: str, why: str
) -> None:
    monkeypatch.setattr("witnessmark.meters.driver_faults._called", {})
    monkeypatch.setattr(ending, "_watched", ending._Watched())
    told: list[DriverFailed] = []
    assert run(doing(stranger(deed)), told.append, let_go_s=0.01) == "done"
    (failed,) = told
    assert f'the driver for "odd:" failed ({why}' in str(failed)
    assert bool(ending.left_words()) == (deed == CLINGS)
    close_what_was_left()


def test_a_defect_of_our_own_is_no_fault_of_a_driver(caplog: pytest.LogCaptureFixture) -> None:
    async def defect() -> None:
        raise ValueError("ours")

    async def main() -> None:
        task = asyncio.create_task(defect())
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        del task

    told: list[DriverFailed] = []
    with pytest.MonkeyPatch.context() as patched, caplog.at_level(logging.ERROR):
        patched.setitem(globals(), "__name__", "witnessmark.defective")
        run(main(), told.append)
    assert told == []
    assert "ValueError: ours" in caplog.text


@pytest.mark.parametrize("deed", [CLINGS, RAISES.format("ValueError('no')")])
def test_where_no_driver_was_called_none_is_blamed(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, deed: str
) -> None:
    monkeypatch.setattr("witnessmark.meters.driver_faults._called", {})
    monkeypatch.setattr(ending, "_watched", ending._Watched())

    async def main() -> str:
        stranger(deed)()
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        return "done"

    told: list[DriverFailed] = []
    with caplog.at_level(logging.ERROR):
        assert run(main(), told.append, let_go_s=0.01) == "done"
    assert told == []
    assert ending.left_words() == []
    assert ("ValueError: no" in caplog.text) == (deed != CLINGS)
    close_what_was_left()


def test_what_ends_a_loop_where_no_driver_was_called_ends_the_program(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("witnessmark.meters.driver_faults._called", {})

    async def main() -> None:
        stranger(RAISES.format("SystemExit(4)"))()
        await asyncio.sleep(0)
        await asyncio.sleep(0)

    with pytest.raises(SystemExit, match="4"):
        run(main(), lambda _: None)


def test_a_driver_that_cancels_all_is_told() -> None:
    async def main() -> None:
        with driver_faults_told("odd"):
            for task in asyncio.all_tasks():
                task.cancel()
        await asyncio.sleep(0)

    with pytest.raises(DriverFailed, match="it cancelled what is not its own"):
        run(main(), lambda _: None)


def test_nothing_that_ends_well_is_told(recwarn: pytest.WarningsRecorder) -> None:
    async def well() -> Coroutine[Any, Any, None] | None:
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.sleep(0)
        await asyncio.to_thread(int)
        return None

    told: list[DriverFailed] = []
    run(well(), told.append)
    assert told == []
    assert not recwarn.list
