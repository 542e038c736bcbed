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
from witnessmark.meters.address import Address
from witnessmark.meters.driver_faults import driver_faults_told, error_words
from witnessmark.meters.port import Clock, Driver, FoundMeter, MeterUnreachable, utc_now

GROUP = "witnessmark.drivers"

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
    driver = _load(drivers[address.scheme])
    with driver_faults_told(address.scheme):
        return driver(address, clock)


async def discover_all(*, within_s: float = 15.0, tell: Tell | None = None) -> list[FoundMeter]:
    """Return all meters that can be reached now, by scheme and address.

    ``tell`` gets a sentence for each driver that is skipped because it fails or takes longer than
    ``within_s``.
    """
    drivers = sorted(_drivers().items())
    found = await asyncio.gather(*(_discover(entry, within_s, tell) for _, entry in drivers))
    return [place for places in found for place in sorted(places, key=lambda one: one.address)]


def _drivers() -> dict[str, EntryPoint]:
    return {entry.name: entry for entry in entry_points(group=GROUP)}


def _load(entry: EntryPoint) -> type[Driver]:
    try:
        driver = entry.load()
    except (Exception, SystemExit) as error:
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


async def _discover(entry: EntryPoint, within_s: float, tell: Tell | None) -> list[FoundMeter]:
    try:
        async with asyncio.timeout(within_s):
            return _checked(await _load(entry).discover())
    except MeterUnreachable as error:
        words = str(error)
    except TimeoutError:
        words = f'the driver for "{entry.name}:" found nothing within {within_s:g} s'
    except (Exception, SystemExit) as error:  # noqa: BLE001 - a stranger's driver may raise anything
        words = f'the driver for "{entry.name}:" cannot look for meters ({error_words(error)})'
    if tell:
        tell(words)
    return []


def _checked(found: list[FoundMeter]) -> list[FoundMeter]:
    """Raise TypeError or ValidationError where a driver found what is no meter."""
    return msgspec.convert([msgspec.structs.asdict(one) for one in found], list[FoundMeter])
