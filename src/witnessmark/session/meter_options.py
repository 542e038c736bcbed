"""The options of a meter's address that the meter screen offers: profile and unit."""

from __future__ import annotations

from typing import Final, NamedTuple

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.lesson import with_step
from witnessmark.meters.profile import Profile
from witnessmark.meters.profile_folder import known_profiles, load_profile
from witnessmark.model import Meter

UNITS: Final = ("mm", "cm", "m", "in", "ft")
_TAKES_PROFILE: Final = frozenset({"serial", "ble"})
_TAKES_UNIT: Final = frozenset({"typed", *_TAKES_PROFILE})


class Profiles(NamedTuple):
    """The names of the profiles that fit a meter, and a sentence on each that cannot be read."""

    names: tuple[str, ...]
    complaints: tuple[str, ...]


def profiles_for(address: Address) -> Profiles:
    """Return the profiles by which a meter with this address may be read."""
    names, complaints = [], []
    try:
        known = known_profiles() if address.scheme in _TAKES_PROFILE else []
    except BadInput as error:
        return Profiles((), (str(error),))
    for name in known:
        try:
            if _fits(load_profile(name), address.scheme):
                names.append(name)
        except BadInput as error:
            complaints.append(str(error))
    return Profiles(tuple(names), tuple(complaints))


def _fits(profile: Profile, scheme: str) -> bool:
    return profile.allows_serial if scheme == "serial" else profile.bluetooth is not None


def takes_unit(address: Address) -> bool:
    """Return whether bare numbers may come from there, of whose unit no profile says anything."""
    return address.scheme in _TAKES_UNIT and "profile" not in address.options


def with_profile_step(meter: Meter, address: Address) -> Meter:
    """Return a meter's errors with the step of its display, where the profile by it says that."""
    name = address.options.get("profile")
    try:
        step_mm = load_profile(name).step if name else None
    except BadInput:
        return meter  # what is wrong with the profile is told where the meter is chosen or opened
    return meter if step_mm is None else with_step(meter, step_mm)


def with_profile(address: Address, name: str) -> Address:
    """Return the address of the same meter read by a profile, which says the unit; "": by none."""
    if not name:
        return address.with_options(profile=None)
    return address.with_options(profile=name, unit=None)
