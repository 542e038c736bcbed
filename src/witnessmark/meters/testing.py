"""What every driver has to do, to be run from the driver's own repository with pytest.

    from witnessmark.meters.testing import DriverBehaviour, Rig


    class PingRig(Rig):
        "The meter's end of ``ping:``."
        ...


    class TestPing(DriverBehaviour):
        rig = PingRig
        cannot = {"a_port_in_use_is_told": "anybody may ping"}

A rig is a meter that does what a test says, on the driver's simulated transport. Each of ``CASES``
is run on it, save those that cannot happen there, for which ``cannot`` gives the reason.
"""

from __future__ import annotations

import abc
import asyncio
import contextlib
import functools
import re
from collections.abc import AsyncGenerator, Awaitable, Callable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any, ClassVar, Final, Self

import pytest

from witnessmark.errors import BadInput, WitnessmarkError
from witnessmark.meters.address import Address
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import (
    Driver,
    Fault,
    Link,
    LinkState,
    MeterLost,
    MeterUnreachable,
    Noise,
    Report,
)
from witnessmark.meters.watch import watch
from witnessmark.model import Reading

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
PATIENCE_S: Final = 60.0
"""A test that waits for longer fails rather than hangs."""
Reports = AsyncGenerator[Report, None]
Wrong = tuple[tuple[str, str], ...]
"""Addresses that cannot be right, and what is said of each."""


class Rig(abc.ABC):
    """A meter that does what a test says. It is plugged in to begin with.

    A subclass is the meter's end of a driver on its simulated transport. What cannot happen there
    it leaves out, and so does the suite, with the reason.
    """

    kind: ClassVar[str]
    """What it is called."""
    wrong: ClassVar[Wrong]
    garbage: ClassVar[bytes]
    """Bytes that mean nothing there, as they are reported."""
    many: ClassVar[int] = 200
    """How many readings come one after another."""
    stays_apart: ClassVar[bool] = True
    """Whether what is sent without a pause between is told apart."""
    begins_before: ClassVar[bool] = False
    """Whether all that is to come has to be there before the driver opens it."""
    absent: ClassVar[type[WitnessmarkError]] = MeterUnreachable
    """What is raised where there is nothing to open."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.monkeypatch = folder, monkeypatch

    def _unable(self, deed: str) -> NotImplementedError:
        """Return the error of a case that needs a deed which the rig leaves out."""
        return NotImplementedError(
            f"{type(self).__name__} has no {deed}: write it, or leave the case out with the reason"
        )

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(self, *_exc: object) -> None:
        return None

    @property
    @abc.abstractmethod
    def address(self) -> str:
        """The meter's address with its options."""

    def driver(self) -> Driver:
        return open_driver(self.address, clock=lambda: AT)

    async def settle(self, reports: Reports) -> None:
        """Pass over what the meter says by itself when it is opened."""
        return

    @abc.abstractmethod
    def say(self, mm: float) -> None:
        """Have the meter tell a distance."""

    @abc.abstractmethod
    def raw(self, mm: float) -> bytes:
        """Return the bytes that its reading carries."""

    def fail(self) -> None:
        """Have the meter tell that it could not measure."""
        raise self._unable("fail")

    def garble(self) -> None:
        """Send the garbage."""
        raise self._unable("garble")

    def begin(self, mm: float) -> bytes:
        """Send the beginning of a frame and no more; what that was."""
        raise self._unable("begin")

    def end(self, mm: float) -> None:
        """Send the rest of the frame that was begun."""
        raise self._unable("end")

    def say_together(self, *distances_mm: float) -> None:
        """Tell these distances in one packet, or in one go."""
        raise self._unable("say_together")

    def say_byte_by_byte(self, mm: float) -> None:
        """Tell a distance in as many pieces as it has bytes."""
        raise self._unable("say_byte_by_byte")

    async def taken(self) -> None:
        """Wait until all that was sent has been read."""
        return

    def unplug(self) -> None:
        raise self._unable("unplug")

    def plug_in(self) -> None:
        raise self._unable("plug_in")

    def occupied(self) -> contextlib.AbstractContextManager[object]:
        """Have somebody else use the meter meanwhile."""
        raise self._unable("occupied")

    def forbidden(self) -> contextlib.AbstractAsyncContextManager[object]:
        """Forbid this user the meter meanwhile."""
        raise self._unable("forbidden")


class ByteRig(Rig):
    """A meter that sends bytes down a line or in notifications."""

    error: ClassVar[bytes]
    """By which the meter says that it could not measure."""
    garbage_end: ClassVar[bytes] = b""
    """What has to follow garbage so that it is over."""
    cut: ClassVar[int]
    """How many bytes of a frame are its beginning."""

    @abc.abstractmethod
    def frame(self, mm: float) -> bytes:
        """Return the bytes that tell a distance."""

    @abc.abstractmethod
    def send(self, data: bytes) -> None:
        """Send the meter's bytes."""

    def raw(self, mm: float) -> bytes:
        return self.frame(mm)

    def say(self, mm: float) -> None:
        self.send(self.frame(mm))

    def fail(self) -> None:
        self.send(self.error)

    def garble(self) -> None:
        self.send(self.garbage + self.garbage_end)

    def begin(self, mm: float) -> bytes:
        part = self.frame(mm)[: self.cut]
        self.send(part)
        return part

    def end(self, mm: float) -> None:
        self.send(self.frame(mm)[self.cut :])

    def say_together(self, *distances_mm: float) -> None:
        self.send(b"".join(self.frame(mm) for mm in distances_mm))

    def say_byte_by_byte(self, mm: float) -> None:
        for byte in self.frame(mm):
            self.send(bytes([byte]))


def with_options(address: str, options: str) -> str:
    """Return the address with further options, written ``name=value``."""
    return f"{address}{'&' if Address.parse(address).options else '?'}{options}"


@contextlib.asynccontextmanager
async def opened(rig: Rig, *deeds: Callable[[], object]) -> AsyncGenerator[Reports, None]:
    """Give the reports of a driver whose link is open, then do the deeds."""
    for deed in deeds if rig.begins_before else ():
        deed()
    async with asyncio.timeout(PATIENCE_S), contextlib.aclosing(rig.driver().reports()) as reports:
        link = await anext(reports)
        assert isinstance(link, Link), link
        assert link.state is LinkState.OPEN
        await rig.settle(reports)
        for deed in () if rig.begins_before else deeds:
            deed()
        yield reports


@contextlib.asynccontextmanager
async def watched(rig: Rig, **options: Any) -> AsyncGenerator[Reports, None]:  # noqa: ANN401
    """Give the reports of a driver that is watched with these options."""
    watching = watch(rig.driver(), **options)
    async with asyncio.timeout(PATIENCE_S), contextlib.aclosing(watching) as reports:
        yield reports


async def take(reports: Reports, count: int) -> list[Report]:
    """Return the next ``count`` reports."""
    return [await anext(reports) for _ in range(count)]


async def told(rig: Rig, *deeds: Callable[[], object]) -> list[Report]:
    """Return a report for each deed; deeds are done at once where what they send stays apart."""
    async with opened(rig, *(deeds if rig.stays_apart else ())) as reports:
        if rig.stays_apart:
            return await take(reports, len(deeds))
        seen = []
        for deed in deeds:
            deed()
            seen.append(await anext(reports))
        return seen


async def until_reading(reports: Reports) -> tuple[list[Report], float]:
    """Return what comes before the next reading, and that reading's distance."""
    before: list[Report] = []
    while not isinstance(report := await anext(reports), Reading):
        before.append(report)
    return before, report.distance_mm


async def until_state(reports: Reports, state: LinkState) -> list[Report]:
    """Return what comes before the link is in that state."""
    before: list[Report] = []
    while not (isinstance(report := await anext(reports), Link) and report.state is state):
        before.append(report)
    return before


async def until_lost(reports: Reports) -> tuple[list[Report], str]:
    """Return what comes before the meter is lost, and the words that say so."""
    before: list[Report] = []
    try:
        while True:
            before.append(await anext(reports))
    except MeterLost as lost:
        return before, str(lost)


def distances_mm(reports: list[Report]) -> list[float]:
    """Return the distances among reports."""
    return [report.distance_mm for report in reports if isinstance(report, Reading)]


@contextlib.contextmanager
def denying(monkeypatch: pytest.MonkeyPatch, owner: object, name: str, path: str) -> Iterator[None]:
    """Refuse this file to whoever opens it meanwhile, as the system refuses a user."""
    allowed = getattr(owner, name)

    def refusing(which: object, *args: object, **kwargs: object) -> object:
        if str(which) == path:
            raise PermissionError(13, "Permission denied", path)
        return allowed(which, *args, **kwargs)

    with monkeypatch.context() as patch:
        patch.setattr(owner, name, refusing)
        yield


async def readings_come_in_order_each_once(rig: Rig) -> None:
    """Readings come in the order in which they were sent, each once."""
    sent = range(1100, 1100 + rig.many)
    seen = await told(rig, *(functools.partial(rig.say, mm) for mm in sent))
    assert distances_mm(seen) == pytest.approx(list(sent), abs=1e-3)


async def a_reading_says_when_from_where_and_what_came(rig: Rig) -> None:
    """A reading has its time, the address and the bytes."""
    (reading,) = await told(rig, lambda: rig.say(1512.0))
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(1512.0, abs=1e-3)
    assert (reading.at, reading.meter, reading.raw) == (AT, rig.address, rig.raw(1512.0))


async def an_error_of_the_meter_is_a_fault_and_no_distance(rig: Rig) -> None:
    """What the meter says when it cannot measure is a fault."""
    fault, reading = await told(rig, rig.fail, lambda: rig.say(1512.0))
    assert isinstance(fault, Fault)
    assert fault.fault
    assert fault.raw
    assert isinstance(reading, Reading)


async def garbage_is_told_and_never_a_distance(rig: Rig) -> None:
    """Bytes that mean nothing are noise, and the next reading is read."""
    async with opened(rig, rig.garble) as reports:
        first = await anext(reports)
        rig.say(1512.0)
        rest, mm = await until_reading(reports)
    noise = [first, *rest]
    assert [type(one) for one in noise] == [Noise] * len(noise)
    assert b"".join(one.raw for one in noise if isinstance(one, Noise)) == rig.garbage
    assert mm == pytest.approx(1512.0, abs=1e-3)


async def silence_is_a_state_and_no_loss(rig: Rig) -> None:
    """A meter that says nothing is quiet, not lost."""
    async with watched(rig, quiet_after_s=0.1) as reports:
        seen = await until_state(reports, LinkState.OPEN)
        seen += await until_state(reports, LinkState.QUIET)
        rig.say(1512.0)
        seen += await until_state(reports, LinkState.QUIET)
    assert distances_mm(seen)[-1] == pytest.approx(1512.0, abs=1e-3)
    assert all(isinstance(one, Reading) for one in seen)


async def a_frame_that_breaks_off_never_joins_the_next(rig: Rig) -> None:
    """A frame that breaks off is noise and spoils nothing."""
    async with opened(rig) as reports:
        part = rig.begin(1512.0)
        noise = await anext(reports)
        assert isinstance(noise, Noise)
        assert noise.raw == part
        rig.say(2345.0)
        rest, mm = await until_reading(reports)
    assert rest == []
    assert mm == pytest.approx(2345.0, abs=1e-3)


async def the_late_rest_of_a_frame_is_no_distance(rig: Rig) -> None:
    """The rest of a frame that broke off is noise."""
    async with opened(rig) as reports:
        rig.begin(1512.0)
        assert isinstance(await anext(reports), Noise)
        rig.end(1512.0)
        assert isinstance(await anext(reports), Noise)
        rig.say(1513.0)
        rest, mm = await until_reading(reports)
    assert all(isinstance(one, Noise) for one in rest)
    assert mm == pytest.approx(1513.0, abs=1e-3)


async def two_frames_in_one_packet_are_both_read(rig: Rig) -> None:
    """Frames that come together are both read."""
    async with opened(rig, lambda: rig.say_together(1512.0, 1513.0)) as reports:
        assert distances_mm(await take(reports, 2)) == pytest.approx([1512.0, 1513.0], abs=1e-3)


async def a_frame_may_come_byte_by_byte(rig: Rig) -> None:
    """A frame may come in pieces."""
    async with opened(rig, lambda: rig.say_byte_by_byte(1512.0)) as reports:
        assert distances_mm([await anext(reports)]) == pytest.approx([1512.0], abs=1e-3)


async def unplugging_in_mid_frame_loses_the_meter_and_makes_no_distance(rig: Rig) -> None:
    """Half a frame before a loss is no distance."""
    async with opened(rig, lambda: rig.say(1512.0)) as reports:
        assert isinstance(await anext(reports), Reading)
        part = rig.begin(1513.0)
        await rig.taken()
        rig.unplug()
        before, words = await until_lost(reports)
    assert "is gone; plug it in" in words or "is gone; switch it on" in words
    assert all(isinstance(one, Noise) for one in before)
    # the loss may overtake bytes, and a Modbus answer that it cuts off is not told apart
    assert part.startswith(b"".join(one.raw for one in before if isinstance(one, Noise)))


async def an_unplugged_meter_is_lost(rig: Rig) -> None:
    """A meter that is gone raises MeterLost."""
    async with opened(rig, lambda: rig.say(1512.0)) as reports:
        assert isinstance(await anext(reports), Reading)
        rig.unplug()
        with pytest.raises(MeterLost):
            await anext(reports)


async def a_meter_that_is_not_there_is_told(rig: Rig) -> None:
    """What is not there is told in words that help."""
    rig.unplug()
    words = "no such port|nothing answers|no such meter in range|cannot be read|is unplugged"
    with pytest.raises(rig.absent, match=words):
        await anext(rig.driver().reports())


async def plugging_in_again_carries_on(rig: Rig) -> None:
    """A meter that comes back is read again."""
    async with watched(rig, pauses_s=(0.01,)) as reports:
        await until_state(reports, LinkState.OPEN)
        await rig.settle(reports)
        for mm in (1512.0, 1513.0):
            rig.say(mm)
            assert distances_mm([await anext(reports)]) == pytest.approx([mm], abs=1e-3)
            rig.unplug()
            # first that it is gone, then that it is not there
            for _ in range(2):
                assert await until_state(reports, LinkState.LOST) == []
            rig.plug_in()
            assert await until_state(reports, LinkState.OPEN) == []
            await rig.settle(reports)


async def closing_while_reading_frees_the_meter(rig: Rig) -> None:
    """Closing frees the meter for whoever comes next."""
    for mm in (1512.0, 1513.0):
        async with opened(rig, functools.partial(rig.say, mm)) as reports:
            assert isinstance(await anext(reports), Reading)


async def cancelling_while_reading_frees_the_meter(rig: Rig) -> None:
    """Cancelling frees the meter, too."""
    async with opened(rig) as reports:
        waiting = asyncio.create_task(anext(reports))
        await asyncio.sleep(0)
        waiting.cancel()
        await asyncio.gather(waiting, return_exceptions=True)
    async with opened(rig, lambda: rig.say(1512.0)) as reports:
        assert isinstance(await anext(reports), Reading)


async def an_address_that_cannot_be_right_is_told(rig: Rig) -> None:
    """An address that cannot be right is refused before anything is opened, in one line."""
    for address, words in rig.wrong:
        with pytest.raises(BadInput, match=re.escape(words)) as caught:
            open_driver(address)
        assert "\n" not in str(caught.value), address


async def a_port_in_use_is_told(rig: Rig) -> None:
    """A meter that somebody else uses is told so."""
    words = "in use by another program; close that one first|close other programs and phones"
    with rig.occupied(), pytest.raises(MeterUnreachable, match=words):
        await anext(rig.driver().reports())
    async with opened(rig):
        pass


async def what_is_not_permitted_is_told(rig: Rig) -> None:
    """What the user may not use is told so."""
    words = "not permitted; let your user|not permitted for this program; allow it|Permission den"
    async with rig.forbidden():
        with pytest.raises(rig.absent, match=words):
            await anext(rig.driver().reports())


Case = Callable[[Rig], Awaitable[None]]

CASES: Final[Mapping[str, Case]] = MappingProxyType(
    {
        case.__name__: case
        for case in (
            readings_come_in_order_each_once,
            a_reading_says_when_from_where_and_what_came,
            an_error_of_the_meter_is_a_fault_and_no_distance,
            garbage_is_told_and_never_a_distance,
            silence_is_a_state_and_no_loss,
            a_frame_that_breaks_off_never_joins_the_next,
            the_late_rest_of_a_frame_is_no_distance,
            two_frames_in_one_packet_are_both_read,
            a_frame_may_come_byte_by_byte,
            unplugging_in_mid_frame_loses_the_meter_and_makes_no_distance,
            an_unplugged_meter_is_lost,
            a_meter_that_is_not_there_is_told,
            plugging_in_again_carries_on,
            closing_while_reading_frees_the_meter,
            cancelling_while_reading_frees_the_meter,
            a_port_in_use_is_told,
            what_is_not_permitted_is_told,
            an_address_that_cannot_be_right_is_told,
        )
    }
)
"""By its name, all that a driver has to do."""


async def run_case(
    case: Case, rig: type[Rig], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Run a case on a rig that is made for it and taken down again."""
    async with rig(folder, monkeypatch) as plugged_in:
        await case(plugged_in)


class DriverBehaviour:
    """The suite as a class of tests: a subclass whose name begins with ``Test`` names its rig.

    It needs pytest alone.
    """

    rig: ClassVar[type[Rig]]
    cannot: ClassVar[Mapping[str, str]] = MappingProxyType({})
    """By case, why it cannot happen on this transport."""

    def pytest_generate_tests(self, metafunc: pytest.Metafunc) -> None:
        """Make a test of each case that can happen."""
        if "case" in metafunc.fixturenames:
            names = [name for name in CASES if name not in self.cannot]
            metafunc.parametrize("case", [CASES[name] for name in names], ids=names)

    def test_behaves(self, case: Case, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """Run one case."""
        asyncio.run(run_case(case, self.rig, tmp_path, monkeypatch))

    def test_what_is_left_out_is_a_case_with_a_reason(self) -> None:
        """Refuse a misspelt case, and one that is left out without saying why."""
        assert self.cannot.keys() <= CASES.keys()
        assert all(len(reason) > 20 for reason in self.cannot.values())
