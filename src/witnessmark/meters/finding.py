"""Finding drivers, which come by the entry-point group ``witnessmark.drivers``.

The name of an entry point is the scheme of the addresses that its driver opens. A driver is
imported only when it is used, and one that does not work leaves the others alone.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from importlib.metadata import EntryPoint, entry_points

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.meters.address import Address
from witnessmark.meters.driver_calls import made
from witnessmark.meters.driver_faults import DriverFailed, driver_faults_told, error_words
from witnessmark.meters.port import (
    Clock,
    Driver,
    FoundMeter,
    MeterError,
    MeterUnreachable,
    utc_now,
)
from witnessmark.meters.running import LET_GO_S, ended, leave_behind

GROUP = "witnessmark.drivers"
_MOST_FOUND = 1000

Tell = Callable[[str], None]
"""Takes a sentence meant for the person at the program."""


def open_driver(address_text: str, clock: Clock = utc_now) -> Driver:
    """Return the driver for a meter's address; the meter itself is not touched yet.

    Raises:
        BadInput: when the address cannot be right, or no driver knows its scheme.
        MeterError: when the driver is there and cannot be loaded, or fails.
    """
    address = Address.parse(address_text)
    drivers = _drivers()
    if address.scheme not in drivers:
        known = ", ".join(f"{scheme}:" for scheme in sorted(drivers))
        raise BadInput(
            f'meter address "{address.text}": no "{address.scheme}:" here; known: {known}'
        )
    return made(_load(drivers[address.scheme]), address, clock)


def network_host(address: Address) -> str:
    """Return the other computer that an address connects to; "" for none.

    Its driver says so; where none is there or it fails, it is what the address looks like.
    """
    entry = _drivers().get(address.scheme)
    try:
        with driver_faults_told(address.scheme):
            host = _load(entry).network_host(address) if entry else address.network_host
    except (BadInput, MeterError, StopAsyncIteration):
        return address.network_host
    return host if isinstance(host, str) else address.network_host


async def discover_all(
    *, within_s: float = 15.0, tell: Tell | None = None, let_go_s: float = LET_GO_S
) -> list[FoundMeter]:
    """Return all meters that can be reached now, by scheme and address.

    ``tell`` gets a sentence for each driver that is skipped because it fails or takes longer than
    ``within_s``; one that does not even let go ``let_go_s`` later is left behind.
    """
    drivers = sorted(_drivers().items())
    async with asyncio.TaskGroup() as all_at_once:  # which is left when each has let go
        looks = [
            all_at_once.create_task(_discover(entry, within_s, tell, let_go_s))
            for _, entry in drivers
        ]
    return [place for look in looks for place in sorted(look.result(), key=lambda one: one.address)]


def _drivers() -> dict[str, EntryPoint]:
    return {entry.name: entry for entry in entry_points(group=GROUP)}


def _load(entry: EntryPoint) -> type[Driver]:
    try:
        driver = entry.load()
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        raise MeterUnreachable(
            f'the driver for "{entry.name}:" cannot be loaded ({error_words(error)}); '
            f"reinstall or remove the package that brings {entry.value}"
        ) from error
    if not (isinstance(driver, type) and issubclass(driver, Driver)):
        raise MeterUnreachable(
            f'the driver for "{entry.name}:" is not a meter driver; remove the package that '
            f"brings {entry.value}"
        )
    return driver


async def _discover(
    entry: EntryPoint, within_s: float, tell: Tell | None, let_go_s: float
) -> list[FoundMeter]:
    looking = asyncio.create_task(_look(entry), name=f"{entry.name}: looking")
    try:
        await asyncio.wait({looking}, timeout=within_s)
    finally:
        is_late = not looking.done()
        looking.cancel()
        cancelled = await ended(looking, let_go_s)
        if not looking.done():
            why = f"it did not stop looking for meters within {let_go_s:g} s"
            failed = DriverFailed.because(entry.name, why)
            leave_behind(looking, failed)
            if tell:
                tell(str(failed))
        if cancelled is not None:
            raise cancelled
    found: list[FoundMeter] = []
    if is_late:
        words = f'the driver for "{entry.name}:" found nothing within {within_s:g} s'
    else:
        try:
            with driver_faults_told(entry.name):
                found, wrong = looking.result()
            words = _wrong_words(entry, wrong) if wrong else ""
        except MeterError as error:
            words = str(error)
    if tell and words:
        tell(words)
    return found


async def _look(entry: EntryPoint) -> tuple[list[FoundMeter], list[str]]:
    """Return the meters that one driver finds, and what is no address of one.

    Raises:
        MeterError: when it cannot look, or found what are no meters.
    """
    try:
        with driver_faults_told(entry.name):
            return _checked(await _load(entry).discover())
    except (DriverFailed, BadInput, StopAsyncIteration) as error:
        why = error_words(error.__cause__ or error)
        raise MeterUnreachable(
            f'the driver for "{entry.name}:" cannot look for meters ({why})'
        ) from error


def _checked(found: list[FoundMeter]) -> tuple[list[FoundMeter], list[str]]:
    """Return the meters that have an address, and what the others have in its place.

    Raises TypeError or ValidationError where a driver found what is no meter.
    """
    if len(found) > _MOST_FOUND:
        raise ValueError(f"it found over {_MOST_FOUND} meters")
    meters = msgspec.convert([msgspec.structs.asdict(one) for one in found], list[FoundMeter])
    wrong = [one.address for one in meters if not _is_address(one.address)]
    return [one for one in meters if one.address not in wrong], wrong


def _wrong_words(entry: EntryPoint, wrong: list[str]) -> str:
    return (
        f'the driver for "{entry.name}:" found "{printable(wrong[0], 100)}", which is no address '
        "of a meter; update or replace the package that brings it"
    )


def _is_address(text: str) -> bool:
    try:
        Address.parse(text)
    except BadInput:
        return False
    return True
