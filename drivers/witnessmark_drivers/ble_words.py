"""Why Bluetooth, or a meter on it, cannot be used, and what to do: one sentence each."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Final

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)

from witnessmark.meters.port import MeterError, MeterUnreachable

NOT_PERMITTED: Final = (
    "Bluetooth is not permitted for this program; allow it in the system's privacy or security "
    "settings (on macOS and Windows: for the terminal it runs in; on Linux: let your user use the "
    "system's Bluetooth service)"
)
NOT_RUNNING: Final = (
    "the system's Bluetooth service is not running; start it "
    "(on most Linux systems: install bluez, then enable the service called bluetooth)"
)
SWITCHED_OFF: Final = "Bluetooth is switched off; switch it on in the system's settings"
NOTHING_IN_RANGE: Final = (
    "Bluetooth works, and no meter is in range: switch the meter's Bluetooth on, bring it near, "
    "and close other programs and phones that use it"
)
_LONGEST_TEXT = 40
_UNCLEAR = "Bluetooth cannot be used now; switch it off and on again in the system's settings"
_PAIR = "it must be paired first; pair it with this computer in the system's settings"

_REASONS: Final = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: (
        "this computer has no Bluetooth radio; plug one in, "
        "or see that it is not disabled in the system's settings"
    ),
    BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE: (
        "this computer's Bluetooth radio is too old for such meters; plug in one that can do "
        "Bluetooth Low Energy"
    ),
    BleakBluetoothNotAvailableReason.POWERED_OFF: SWITCHED_OFF,
    BleakBluetoothNotAvailableReason.DENIED_BY_USER: NOT_PERMITTED,
    BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM: NOT_PERMITTED,
    BleakBluetoothNotAvailableReason.DENIED_BY_UNKNOWN: NOT_PERMITTED,
    BleakBluetoothNotAvailableReason.UNKNOWN: _UNCLEAR,
}

_BUS_ERRORS: Final = {
    "org.freedesktop.DBus.Error.AccessDenied": NOT_PERMITTED,
    "org.freedesktop.DBus.Error.ServiceUnknown": NOT_RUNNING,
    "org.freedesktop.DBus.Error.NameHasNoOwner": NOT_RUNNING,
    "org.freedesktop.DBus.Error.NoReply": _UNCLEAR,
    "org.bluez.Error.NotReady": SWITCHED_OFF,
}

_IN_PROGRESS: Final = "org.bluez.Error.InProgress"

_PAIRING: Final = {
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHENTICATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHORIZATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION_KEY_SIZE,
}
_PAIRING_BUS_ERRORS: Final = {
    "org.bluez.Error.NotPermitted",
    "org.bluez.Error.NotAuthorized",
    "org.bluez.Error.AuthenticationFailed",
}


@contextlib.contextmanager
def told(meter: str) -> Iterator[None]:
    """Turn whatever goes wrong with Bluetooth into words about ``meter``.

    Raises:
        MeterUnreachable: saying what is wrong and what to do.
    """
    try:
        yield
    except MeterError:
        raise
    except Exception as error:  # bleak lets the errors of each system through
        raise MeterUnreachable(words_for(meter, error)) from error


def printable(text: str | None) -> str:
    """Return what may be shown of a device's text: printable signs, and not too many."""
    return "".join(sign for sign in text or "" if sign.isprintable()).strip()[:_LONGEST_TEXT]


def is_busy(error: Exception) -> bool:
    """Return whether the system was still busy with the same, so that it is tried again."""
    named = isinstance(error, BleakDBusError) and error.dbus_error == _IN_PROGRESS
    return named or "already in progress" in str(error).lower()


def not_seen(meter: str) -> str:
    """Return the sentence for a meter that does not show itself."""
    return (
        f"{meter}: no such meter in range; switch its Bluetooth on, bring it near, close other "
        "programs and phones that use it, and see: witnessmark meters"
    )


def words_for(meter: str, error: Exception) -> str:
    """Return the sentence for an error of bleak while ``meter`` was looked for or opened."""
    if words := _about_bluetooth_itself(error):
        return words
    if _wants_pairing(error):
        return f"{meter}: {_PAIR}"
    if isinstance(error, BleakDeviceNotFoundError):
        return not_seen(meter)
    if isinstance(error, TimeoutError):
        return f"{meter}: does not answer; switch it off and on again, and bring it near"
    reason = str(error) or type(error).__name__
    return f"{meter}: cannot be opened ({reason}); switch it off and on again, and bring it near"


def _about_bluetooth_itself(error: Exception) -> str | None:
    match error:
        case BleakBluetoothNotAvailableError():
            return _REASONS.get(error.reason, _UNCLEAR)
        case BleakDBusError():
            return _BUS_ERRORS.get(error.dbus_error)
        case FileNotFoundError() | ConnectionError():
            return NOT_RUNNING
        case PermissionError():
            return NOT_PERMITTED
    return None


def _wants_pairing(error: Exception) -> bool:
    if isinstance(error, BleakGATTProtocolError):
        return error.code in _PAIRING
    return isinstance(error, BleakDBusError) and error.dbus_error in _PAIRING_BUS_ERRORS
