"""The Bluetooth devices nearby: what they offer, and why Bluetooth cannot be used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.decoders.bthome import BTHOME_SERVICE_DATA, decode_bthome
from drivers.decoders.gatt_temperature import ENVIRONMENTAL_SENSING_SERVICE, HEALTH_THERMOMETER_SERVICE
from drivers.decoders.gatt_weight import WEIGHT_SCALE_SERVICE
from drivers.errors import DeviceError
from drivers.reading import CELSIUS, GRAM

if TYPE_CHECKING:
    from drivers.transports.bluetooth_scanner import Heard

BTHOME_UUID = f"0000{BTHOME_SERVICE_DATA:04x}-0000-1000-8000-00805f9b34fb"
READABLE_UUIDS = tuple(
    f"0000{number:04x}-0000-1000-8000-00805f9b34fb"
    for number in (WEIGHT_SCALE_SERVICE, HEALTH_THERMOMETER_SERVICE, ENVIRONMENTAL_SENSING_SERVICE)
)


@dataclass(frozen=True, slots=True)
class BluetoothFound:
    """A Bluetooth device that is heard, or why none can be.

    :param address: what to give evencup; empty where Bluetooth cannot be used
    :param name: empty where it tells none
    :param rssi_dbm: how strongly it is heard, the nearer to 0 the nearer; None for one connected already
    :param offers: what it says it offers, in words
    :param readable: whether evencup can read it without a description
    :param problem: what is wrong with it, or with Bluetooth; empty where nothing is known
    :param fix: what to do about that, one line
    """

    address: str
    name: str = ""
    rssi_dbm: int | None = None
    offers: tuple[str, ...] = ()
    readable: bool = False
    problem: str = ""
    fix: str = ""


async def scan_bluetooth(seconds: float = 5.0) -> list[BluetoothFound]:
    """List the Bluetooth devices nearby, first those that evencup can read, then by strength.

    Never raises: where Bluetooth cannot be used, the one entry has no address, and says why and what to do.

    :param seconds: how long to listen
    """
    from drivers.transports.bluetooth_search import nearby

    try:
        connected, heard = await nearby("bluetooth", seconds)
    except DeviceError as error:
        return [BluetoothFound("", problem=error.what, fix=error.remedy)]
    found = [_connected(device.address, device.name or "") for device in connected]
    found += [_heard(one) for one in heard]
    return sorted(found, key=lambda one: (not one.readable, -(one.rssi_dbm or 0), one.address))


def _connected(address: str, name: str) -> BluetoothFound:
    return BluetoothFound(
        f"ble:{address}",
        name,
        problem="this computer is connected to it already",
        fix="Nothing, if another evencup is using it; else evencup takes it over, or: "
        f"bluetoothctl disconnect {address}",
    )


def _heard(heard: Heard) -> BluetoothFound:
    payload = heard.service_data.get(BTHOME_UUID)
    if payload is None:
        offers = tuple(_service_text(uuid) for uuid in heard.service_uuids)
        readable = any(uuid.lower() in READABLE_UUIDS for uuid in heard.service_uuids)
        return BluetoothFound(f"ble:{heard.address}", heard.name, heard.rssi_dbm, offers, readable)
    packet = decode_bthome(payload)
    kinds = {GRAM: "weight", CELSIUS: "temperature"}
    what = [kinds[one.unit] for one in packet.measurements]
    offers = (f"BTHome broadcasts: {', '.join(what)}" if what else "BTHome broadcasts",)
    return BluetoothFound(
        f"bthome:{heard.address}",
        heard.name,
        heard.rssi_dbm,
        offers,
        bool(what),
        "its broadcasts are encrypted" if packet.encrypted else "",
        "Switch encryption off in the device's own settings." if packet.encrypted else "",
    )


def _service_text(uuid: str) -> str:
    """Name a service in the words of the Bluetooth assigned numbers."""
    from bleak.uuids import uuidstr_to_str

    text = uuidstr_to_str(uuid)
    return f"service {uuid}" if text in ("Unknown", "Vendor specific") else text
