"""USB scales that are not there: an object that behaves like the package ``hidapi`` with devices plugged in.

Its behaviour is that of hidapi 0.15: ``read`` gives an empty list when the time is over and raises OSError
once the device is unplugged, ``open_path`` raises OSError without saying why.
"""

from __future__ import annotations

import queue
from dataclasses import dataclass, field
from typing import Any

# A report descriptor (USB-IF HID 1.11, 6.2.2): one input report, number 4, as in the common order.
DESCRIPTOR = bytes.fromhex(
    "05 8D 09 20 A1 01"  # usage page weighing devices, usage scale device, application collection
    "85 04 09 32 A1 02"  # report 4: scale data report
    "15 01 25 08 75 08 95 01 09 70 A1 02 09 71 09 72 09 73 09 74 09 75 09 76 09 77 09 78 81 00 C0"  # status
    "15 01 25 0C 09 50 A1 02 09 51 09 52 09 53 09 54 09 55 09 56 09 57 09 58 09 59 09 5A 09 5B 09 5C 81 00 C0"
    "15 81 25 7F 09 41 81 02"  # scaling, signed
    "15 00 27 FF FF 00 00 75 10 09 40 81 02"  # weight, 16 bits
    "C0 C0"
)

_UNPLUGGED = object()


@dataclass(eq=False)
class HidScaleStandIn:
    """One device, and the handle that opens it."""

    vendor: int = 0x1234
    product: int = 0x5678
    serial: str = ""
    usage_page: int = 0x8D
    path: bytes = b"1-1:1.0"
    name: str = "Bench scale"
    descriptor: bytes | None = DESCRIPTOR
    may_be_opened: bool = True
    written: list[bytes] = field(default_factory=list)
    opened: int = 0

    def __post_init__(self) -> None:
        self._reports: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._gone = False

    def send(self, *reports: str) -> None:
        """Let reports arrive, written in hexadecimal."""
        for report in reports:
            self._reports.put(list(bytes.fromhex(report)))

    def unplug(self) -> None:
        self._reports.put(_UNPLUGGED)

    def entry(self) -> dict[str, Any]:
        return {
            "path": self.path,
            "vendor_id": self.vendor,
            "product_id": self.product,
            "serial_number": self.serial,
            "manufacturer_string": "",
            "product_string": self.name,
            "usage_page": self.usage_page,
            "usage": 0x20,
            "interface_number": 0,
        }

    def read(self, max_length: int, timeout_ms: int = 0) -> list[int]:
        if self._gone:
            raise OSError("read error")
        try:
            report = self._reports.get(timeout=timeout_ms / 1000)
        except queue.Empty:
            return []
        if report is _UNPLUGGED:
            self._gone = True
            raise OSError("read error")
        return report[:max_length]

    def write(self, buff: bytes) -> int:
        if self._gone:
            return -1
        self.written.append(bytes(buff))
        return len(buff)

    def get_report_descriptor(self) -> list[int]:
        if self.descriptor is None:
            raise OSError("read error")
        return list(self.descriptor)

    def close(self) -> None:
        self.opened -= 1


class _Handle:
    def __init__(self, devices: list[HidScaleStandIn]) -> None:
        self._devices = devices

    def open_path(self, path: bytes) -> None:
        for device in self._devices:
            if device.path == path and device.may_be_opened:
                device.opened += 1
                self._device = device
                return
        raise OSError("open failed")

    def __getattr__(self, name: str) -> Any:
        return getattr(self._device, name)


class PluggedIn:
    """Stands where the module ``hid`` would."""

    def __init__(self, *devices: HidScaleStandIn) -> None:
        self.devices = list(devices)

    def __call__(self) -> PluggedIn:
        """Be loaded."""
        return self

    def enumerate(self, vendor_id: int = 0, product_id: int = 0) -> list[dict[str, Any]]:
        return [
            device.entry()
            for device in self.devices
            if vendor_id in (0, device.vendor) and product_id in (0, device.product)
        ]

    def device(self) -> _Handle:
        return _Handle(self.devices)
