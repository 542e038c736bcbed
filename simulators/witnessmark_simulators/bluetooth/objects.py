"""The object tree of the system's Bluetooth service: paths, interfaces and properties."""

from __future__ import annotations

from dbus_fast import Variant

from witnessmark_simulators.bluetooth import gatt
from witnessmark_simulators.bluetooth.gatt import Attribute, Characteristic, Service
from witnessmark_simulators.bluetooth.peripheral import Peripheral
from witnessmark_simulators.bluetooth.radio import Radio

ADAPTER = "org.bluez.Adapter1"
DEVICE = "org.bluez.Device1"
BATTERY = "org.bluez.Battery1"
SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"

ADAPTER_PATH = "/org/bluez/hci0"
_ADAPTER_ADDRESS = "02:00:00:00:00:01"

Properties = dict[str, Variant]
Interfaces = dict[str, Properties]
Objects = dict[str, Interfaces]


def objects(radio: Radio) -> Objects:
    """Return every object there is now; a meter's attributes only while it is connected."""
    if not radio.present:
        return {}
    tree: Objects = {ADAPTER_PATH: {ADAPTER: adapter_properties(radio)}}
    for peripheral in radio.peripherals.values():
        offered = attribute_objects(peripheral) if peripheral.connected else {}
        path = device_path(peripheral)
        tree |= offered
        tree[path] = {DEVICE: device_properties(peripheral)} | offered.get(path, {})
    return tree


def adapter_properties(radio: Radio) -> Properties:
    """Return the properties of the computer's radio."""
    return {
        "Address": Variant("s", _ADAPTER_ADDRESS),
        "Name": Variant("s", "simulated radio"),
        "Alias": Variant("s", "simulated radio"),
        "Roles": Variant("as", ["central"]),
        "Powered": Variant("b", radio.powered),
        "Discovering": Variant("b", False),
    }


def device_path(peripheral: Peripheral) -> str:
    """Return where a meter stands."""
    return f"{ADAPTER_PATH}/dev_{peripheral.address.replace(':', '_')}"


def device_properties(peripheral: Peripheral) -> Properties:
    """Return the properties of a meter; one without a name goes by its address."""
    services = [
        attribute.item.uuid
        for attribute in peripheral.attributes.values()
        if isinstance(attribute.item, Service)
    ]
    properties = {
        "Address": Variant("s", peripheral.address),
        "Alias": Variant("s", peripheral.name or peripheral.address.replace(":", "-")),
        "Adapter": Variant("o", ADAPTER_PATH),
        "Paired": Variant("b", False),
        "Trusted": Variant("b", False),
        "Connected": Variant("b", peripheral.connected),
        "ServicesResolved": Variant("b", peripheral.connected),
        "UUIDs": Variant("as", services),
    }
    return properties | ({"Name": Variant("s", peripheral.name)} if peripheral.name else {})


def attribute_objects(peripheral: Peripheral) -> Objects:
    """Return what a connected meter offers; its battery is an interface of the device instead."""
    tree: Objects = {}
    for attribute in peripheral.attributes.values():
        match attribute.item:
            case Characteristic(uuid=gatt.BATTERY_LEVEL, value=level):
                tree[device_path(peripheral)] = {BATTERY: {"Percentage": Variant("y", level[0])}}
            case item if item.uuid != gatt.BATTERY_SERVICE:
                path = attribute_path(peripheral, attribute.handle)
                tree[path] = _interfaces(peripheral, attribute)
    return tree


def attribute_path(peripheral: Peripheral, handle: int) -> str:
    """Return where an attribute stands; clients read handles and parents off the path."""
    if handle == 0:
        return device_path(peripheral)
    attribute = peripheral.attributes[handle]
    kind = {Service: "service", Characteristic: "char"}.get(type(attribute.item), "desc")
    return f"{attribute_path(peripheral, attribute.parent)}/{kind}{handle:04x}"


def _interfaces(peripheral: Peripheral, attribute: Attribute) -> Interfaces:
    parent = Variant("o", attribute_path(peripheral, attribute.parent))
    properties = {"UUID": Variant("s", attribute.item.uuid)}
    match attribute.item:
        case Service():
            return {SERVICE: properties | {"Device": parent, "Primary": Variant("b", True)}}
        case Characteristic(flags=flags):
            flagged = {"Service": parent, "Flags": Variant("as", list(flags))}
            return {CHARACTERISTIC: properties | flagged}
    return {DESCRIPTOR: properties | {"Characteristic": parent}}
