"""Each reason for which Bluetooth cannot be used has its sentence, with what to do."""

from __future__ import annotations

import pytest
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
)

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.port import MeterLost, MeterUnreachable
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import plain_address
from witnessmark_drivers.ble_words import told

WORDS = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: "has no Bluetooth radio; plug one in",
    BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE: "too old .* Bluetooth Low Energy",
    BleakBluetoothNotAvailableReason.POWERED_OFF: "switched off; switch it on",
    BleakBluetoothNotAvailableReason.DENIED_BY_USER: "not permitted .* allow it",
    BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM: "not permitted .* allow it",
    BleakBluetoothNotAvailableReason.DENIED_BY_UNKNOWN: "not permitted .* allow it",
    BleakBluetoothNotAvailableReason.UNKNOWN: "switch it off and on again",
}


@pytest.mark.parametrize("reason", BleakBluetoothNotAvailableReason)
def test_every_reason_of_bleak_has_its_sentence(reason: BleakBluetoothNotAvailableReason) -> None:
    with pytest.raises(MeterUnreachable, match=WORDS[reason]), told("C0"):
        raise BleakBluetoothNotAvailableError("whatever", reason)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (BleakDBusError("org.freedesktop.DBus.Error.AccessDenied", []), "not permitted"),
        (BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", []), "not running; start it"),
        (BleakDBusError("org.bluez.Error.NotReady", []), "switched off"),
        (BleakDBusError("org.bluez.Error.AuthenticationFailed", []), "^C0: .*paired first"),
        (BleakDBusError("org.bluez.Error.Failed", ["busy"]), r"^C0: cannot be opened \(.*busy\)"),
        (BleakGATTProtocolError(0x05), "^C0: it must be paired first; pair it"),
        (BleakGATTProtocolError(0x0F), "^C0: .*paired first"),
        (BleakGATTProtocolError(0x0E), r"^C0: cannot be opened \(.*Unlikely"),
        (BleakDeviceNotFoundError("C0", "gone"), "^C0: no such meter in range"),
        (BleakError("Not connected"), r"^C0: cannot be opened \(Not connected\)"),
        (TimeoutError(), "^C0: does not answer; switch it off and on again"),
        (FileNotFoundError(2, "no socket"), "not running; start it"),
        (ConnectionRefusedError(), "not running"),
        (PermissionError(), "not permitted"),
        (OSError("the device is not ready"), "the device is not ready"),
        (EOFError(), r"\(EOFError\)"),
    ],
)
def test_every_other_error_has_its_sentence(error: Exception, words: str) -> None:
    with pytest.raises(MeterUnreachable, match=words), told("C0"):
        raise error


def test_what_has_its_words_already_keeps_them() -> None:
    with pytest.raises(MeterLost, match=r"^in these words$"), told("C0"):
        raise MeterLost("in these words")


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("c0:ff:ee:00:12:34", "C0:FF:EE:00:12:34"),
        ("C0-FF-EE-00-12-34", "C0:FF:EE:00:12:34"),
        (
            "6ba7b810-9dad-11d1-80b4-00c04fd430c8",
            "6BA7B810-9DAD-11D1-80B4-00C04FD430C8",
        ),
        ("C0:FF:EE:00:12", None),
        ("C0:FF:EE:00:12:3G", None),
        ("C0:FF:EE:00:12:34:56", None),
        ("my meter", None),
        ("", None),
    ],
)
def test_addresses(text: str, plain: str | None) -> None:
    assert plain_address(text) == plain


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("ble:", "write ble:ADDRESS"),
        ("ble:my meter", "write ble:ADDRESS"),
        ("ble:C0:FF:EE:00:12:34?unit=ells", 'no unit "ells"'),
        ("ble:C0:FF:EE:00:12:34?baud=9600", 'no option "baud" here'),
        ("ble:C0:FF:EE:00:12:34?within=0", "above 0, to 600"),
        ("ble:C0:FF:EE:00:12:34?within=long", "above 0, to 600"),
        ("ble:C0:FF:EE:00:12:34?within=nan", "above 0, to 600"),
        ("ble:C0:FF:EE:00:12:34?profile=never-seen", 'no profile "never-seen"'),
        ("ble:C0:FF:EE:00:12:34?profile=any&unit=m", "leave unit out, the profile says it"),
    ],
)
def test_an_address_that_cannot_be_right_is_bad_input(text: str, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        BleMeter(Address.parse(text))
