"""The port: what a driver gives, and the one method that it has to supply.

A driver is a class with a ``scheme`` and an asynchronous generator ``reports``. The generator
connects, yields ``Link(LinkState.OPEN)``, then one report after another, and cleans up in a
``finally``. It does not retry, watch for silence or keep a log: ``witnessmark.meters.watch`` does
that for all drivers alike.

    class Ping(Driver):
        scheme = "ping"

        async def reports(self):
            async with open_somehow(self.address.target) as port:
                yield self.opened()
                async for mm, raw in port:
                    yield Reading(mm, self.clock(), self.address.text, raw)

Errors of a meter, all telling the person what to do::

    MeterError
     +-- MeterUnreachable   cannot be opened: ``/dev/ttyUSB0: no such port; plug the meter in``
     +-- MeterLost          was open and is gone: ``the serial line was unplugged``

An address that cannot be right raises ``BadInput`` in ``__init__``: one sentence that names the
address and says what would be right. A driver may do more, each by itself: ``discover`` lists what
can be reached now; one that fills ``TakesLines`` is handed what is typed; one that fills
``CanFire`` can make the meter measure; ``witnessmark.meters.capture`` says what it takes to be
taught from. ``witnessmark.meters.testing`` tests a driver against all of this.
"""

from __future__ import annotations

import abc
import enum
from collections.abc import AsyncGenerator, Callable
from datetime import UTC, datetime
from typing import ClassVar, Protocol, runtime_checkable

import msgspec

from witnessmark.errors import BadInput, LengthError, WitnessmarkError
from witnessmark.meters.address import Address
from witnessmark.model import Reading

__all__ = [
    "Address",
    "BadInput",
    "CanFire",
    "Clock",
    "Driver",
    "Fault",
    "FoundMeter",
    "LengthError",
    "Link",
    "LinkState",
    "MeterError",
    "MeterLost",
    "MeterSaysNo",
    "MeterUnreachable",
    "Noise",
    "Reading",
    "Report",
    "TakesLines",
    "UnitMissing",
    "utc_now",
]

Clock = Callable[[], datetime]
"""Gives the present time in UTC; passed in so that tests and replays own it."""


def utc_now() -> datetime:
    """Return the present time, UTC."""
    return datetime.now(UTC)


class MeterError(WitnessmarkError):
    """A meter cannot be reached or was lost; the text says what to do."""


class MeterUnreachable(MeterError):
    """The meter cannot be opened now; it may be later."""


class MeterLost(MeterError):
    """The meter was open and is gone."""


class UnitMissing(LengthError):
    """A meter sent a number without a unit, and nobody has chosen one for it."""

    def __init__(self, bare: str) -> None:
        """Keep the number as it came."""
        super().__init__(
            f'"{bare}" has no unit; say it after the address: ?unit=mm, or cm, m, in, ft'
        )
        self.bare = bare


class MeterSaysNo(Exception):
    """Raised while bytes are read: the meter says that it could not measure, in these words."""


class LinkState(enum.StrEnum):
    """How things stand with a meter."""

    OPEN = "open"
    QUIET = "quiet"
    """Open, and nothing has come for a while: a meter that waits, or one that sleeps."""
    LOST = "lost"
    CLOSED = "closed"
    """Ended by itself and for good, as a replay does."""


class Fault(msgspec.Struct, frozen=True):
    """The meter said that it could not measure; never a distance."""

    fault: str
    at: datetime
    meter: str
    raw: bytes = b""


class Noise(msgspec.Struct, frozen=True):
    """Bytes that mean nothing to the driver, with the reason in words; never a distance."""

    why: str
    at: datetime
    meter: str
    raw: bytes = b""
    bare: str | msgspec.UnsetType = msgspec.UNSET
    """The number as it came, where only its unit is missing, because nobody has chosen one."""

    @classmethod
    def because(cls, error: LengthError, at: datetime, meter: str, raw: bytes) -> Noise:
        """Return the bytes with the reason for which they are no distance."""
        bare = error.bare if isinstance(error, UnitMissing) else msgspec.UNSET
        return cls(str(error), at, meter, raw, bare)


class Link(msgspec.Struct, frozen=True):
    """The state of the link changed; ``words`` say so to a person."""

    state: LinkState
    words: str
    at: datetime
    meter: str


Report = Reading | Fault | Noise | Link
"""All that a meter can bring."""


class FoundMeter(msgspec.Struct, frozen=True):
    """A meter, or a place where one may be, that ``witnessmark meters`` lists."""

    address: str
    words: str


class Driver(abc.ABC):
    """One way to reach a meter. A subclass supplies ``scheme`` and ``reports``."""

    scheme: ClassVar[str]

    def __init__(self, address: Address, clock: Clock = utc_now) -> None:
        """Check the address; nothing is opened yet.

        Raises:
            BadInput: when the address cannot be right.
        """
        self.address = address
        self.clock = clock

    @abc.abstractmethod
    def reports(self) -> AsyncGenerator[Report, None]:
        """Connect and yield reports until the source ends, the meter is lost, or ``aclose``.

        Raises:
            MeterUnreachable: when it cannot be opened.
            MeterLost: when it was open and is gone.
        """

    @classmethod
    async def discover(cls) -> list[FoundMeter]:
        """Return the meters that can be reached now by this driver, for ``witnessmark meters``.

        All drivers look at the same time, and for at most 15 seconds.

        Raises:
            MeterUnreachable: when it cannot look, or found nothing though it could; the sentence
                is shown to the person.
        """
        return []

    @classmethod
    def network_host(cls, address: Address) -> str:
        """Return the other computer that an address connects to, as ``HOST:PORT``; "" for none.

        It is told to the person before an address is used that came in a file. A driver that
        reaches nothing over a network returns "".
        """
        return address.network_host

    def opened(self, words: str = "meter connected") -> Link:
        """Return the report that the link is open."""
        return Link(LinkState.OPEN, words, self.clock(), self.address.text)


@runtime_checkable
class TakesLines(Protocol):
    """A driver that is handed lines of text by whoever owns the keyboard.

    The command line hands in its standard input, the app what is typed where a distance can be.
    Both methods are called on the event loop that runs ``reports``, also before that has begun.
    A driver that also has ``is_full`` is handed nothing while that is true, so that what a program
    types waits where it comes from.
    """

    def submit(self, line: str) -> None:
        """Take a line that was typed just now."""

    def end(self) -> None:
        """Take note that nothing more will be typed."""


@runtime_checkable
class CanFire(Protocol):
    """A driver that can make the meter measure, where its profile or address says how.

    ``fire`` returns at once, on the event loop that runs ``reports``; the answer is a report like
    any other. While the meter is not open it does nothing.
    """

    @property
    def waits(self) -> bool:
        """Whether the meter measures only when it is made to, and nothing does so by itself."""

    def fire(self) -> None:
        """Make the meter measure now, if it is open and can be made to."""
