"""The meter's end of one way of reaching it, and what the behaviour suite does with its reports."""

from __future__ import annotations

import abc
import asyncio
import contextlib
from collections.abc import AsyncGenerator, Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, ClassVar, Final, Self

import pytest
from patience import HUNG_S

from witnessmark.errors import WitnessmarkError
from witnessmark.meters.address import Address
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import Driver, Link, LinkState, MeterLost, MeterUnreachable, Report
from witnessmark.meters.watch import watch
from witnessmark.model import Reading

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
PATIENCE_S: Final = HUNG_S
"""A test that waits for longer fails rather than hangs."""
Reports = AsyncGenerator[Report, None]
Wrong = tuple[tuple[str, str], ...]
"""Addresses that cannot be right, and what is said of each."""


class Rig(abc.ABC):
    """A meter that does what a test says. It is plugged in to begin with.

    A subclass is a driver on its simulated transport. What cannot happen there it leaves out, and
    the table in ``cannot`` says why.
    """

    kind: ClassVar[str]
    """What the table calls it."""
    wrong: ClassVar[Wrong]
    garbage: ClassVar[bytes]
    """Bytes that mean nothing there, as they are told."""
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
        """The bytes that its reading carries."""

    def fail(self) -> None:
        """Have the meter tell that it could not measure."""
        raise NotImplementedError

    def garble(self) -> None:
        """Send the garbage."""
        raise NotImplementedError

    def begin(self, mm: float) -> bytes:
        """Send the beginning of a frame and no more; what that was."""
        raise NotImplementedError

    def end(self, mm: float) -> None:
        """Send the rest of the frame that was begun."""
        raise NotImplementedError

    def say_together(self, *distances_mm: float) -> None:
        """Tell these distances in one packet, or in one go."""
        raise NotImplementedError

    def say_byte_by_byte(self, mm: float) -> None:
        """Tell a distance in as many pieces as it has bytes."""
        raise NotImplementedError

    async def taken(self) -> None:
        """Wait until all that was sent has been read."""
        return

    def unplug(self) -> None:
        raise NotImplementedError

    def plug_in(self) -> None:
        raise NotImplementedError

    def occupied(self) -> contextlib.AbstractContextManager[object]:
        """Meanwhile somebody else uses the meter."""
        raise NotImplementedError

    def forbidden(self) -> contextlib.AbstractAsyncContextManager[object]:
        """Meanwhile this user may not use the meter."""
        raise NotImplementedError


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
        """What tells a distance."""

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
    """The address with further options, written ``name=value``."""
    return f"{address}{'&' if Address.parse(address).options else '?'}{options}"


@contextlib.asynccontextmanager
async def opened(rig: Rig, *deeds: Callable[[], object]) -> AsyncGenerator[Reports, None]:
    """The reports of a driver that has said that the link is open; then the deeds are done."""
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
    """The reports of a driver that is watched with these options."""
    watching = watch(rig.driver(), **options)
    async with asyncio.timeout(PATIENCE_S), contextlib.aclosing(watching) as reports:
        yield reports


async def take(reports: Reports, count: int) -> list[Report]:
    return [await anext(reports) for _ in range(count)]


async def told(rig: Rig, *deeds: Callable[[], object]) -> list[Report]:
    """A report for each deed; all are done at once where what they send is told apart."""
    async with opened(rig, *(deeds if rig.stays_apart else ())) as reports:
        if rig.stays_apart:
            return await take(reports, len(deeds))
        seen = []
        for deed in deeds:
            deed()
            seen.append(await anext(reports))
        return seen


async def until_reading(reports: Reports) -> tuple[list[Report], float]:
    """What comes before the next reading, and that reading's distance."""
    before: list[Report] = []
    while not isinstance(report := await anext(reports), Reading):
        before.append(report)
    return before, report.distance_mm


async def until_state(reports: Reports, state: LinkState) -> list[Report]:
    """What comes before the link is in that state."""
    before: list[Report] = []
    while not (isinstance(report := await anext(reports), Link) and report.state is state):
        before.append(report)
    return before


async def until_lost(reports: Reports) -> tuple[list[Report], str]:
    """What comes before the meter is lost, and in what words it is."""
    before: list[Report] = []
    try:
        while True:
            before.append(await anext(reports))
    except MeterLost as lost:
        return before, str(lost)


def distances_mm(reports: list[Report]) -> list[float]:
    return [report.distance_mm for report in reports if isinstance(report, Reading)]


@contextlib.contextmanager
def denying(monkeypatch: pytest.MonkeyPatch, owner: object, name: str, path: str) -> Iterator[None]:
    """Meanwhile the function that opens files refuses this one, as the system refuses a user."""
    allowed = getattr(owner, name)

    def refusing(which: object, *args: object, **kwargs: object) -> object:
        if str(which) == path:
            raise PermissionError(13, "Permission denied", path)
        return allowed(which, *args, **kwargs)

    with monkeypatch.context() as patch:
        patch.setattr(owner, name, refusing)
        yield
