"""The driver for USB scales of the HID class "weighing devices" (usage page 0x8D).

``hid:1234:5678`` or ``hid:1234:5678?serial=A1``: vendor and product as ``evencup devices`` shows them. Such a
scale sends a report for each weight by itself. Reports are read in ``transports.hid`` and understood in
``decoders.hid_weight``; where its report descriptor can be had, that says where the weight is.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator, Callable, Mapping
from types import TracebackType
from typing import Self

from drivers.address import Address
from drivers.decoders.hid_descriptor import read_weighing_layout
from drivers.decoders.hid_weight import (
    COMMON_LAYOUT,
    ReportLayout,
    decode_scale_report,
    scale_step_g,
)
from drivers.decoders.measurement import Rejected
from drivers.device import ChannelNames
from drivers.errors import AddressError, DeviceError, DeviceSilentError, DeviceUnreadableError
from drivers.reading import Reading
from drivers.transports.hid import HidPort
from drivers.transports.hid_module import HidModule, HidName, load_hid, parse_name
from drivers.transports.threaded_port import Arrival

GARBAGE_S = 5.0
"""After so many seconds of reports without one that can be read, something is wrong for good."""

_OPTIONS = ("serial", "silent_s", "tare")


def open_hid(address: Address, names: ChannelNames) -> HidScale:
    """Make the device of a ``hid:`` address, not opened yet.

    :raises AddressError: when it is none, or an option makes no sense
    """
    address.only(_OPTIONS)
    name = parse_name(address.target, address.options.get("serial", ""))
    if name is None:
        raise AddressError(
            address.text,
            f"{address.target!r} is not a vendor and a product",
            "Write hid:1234:5678, in hexadecimal; evencup devices lists what is there.",
        )
    silent_s = address.number("silent_s", 10.0, at_least=0.1, at_most=86_400.0)
    return HidScale(address, name, names.weight, silent_s, _tare_report(address))


class HidScale:
    """A USB scale that sends weighing reports.

    :param tare: the output report that sets it to zero, its id first; empty where it takes none
    :param load: gives the ``hidapi`` module, or None where it is not installed
    """

    def __init__(
        self,
        address: Address,
        name: HidName,
        channel: str,
        silent_s: float = 10.0,
        tare: bytes = b"",
        load: Callable[[], HidModule | None] = load_hid,
    ) -> None:
        self._address, self._channel, self._silent_s, self._tare = address, channel, silent_s, tare
        self._name, self._load = name, load
        self._port = self._new_port()
        self._product, self._dropped_before, self._is_used = "", 0, False
        self._layout: ReportLayout = COMMON_LAYOUT
        self._layout_from = ""
        self._read = self._rejected = 0
        self._last_rejected: Rejected | None = None
        self._step_g: float | None = None

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address.text

    @property
    def can_tare(self) -> bool:
        """Whether the address says what to send for a tare."""
        return bool(self._tare)

    @property
    def paced(self) -> float:
        """Hardware keeps the time of the wall clock."""
        return 1.0

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of the weight in g, once a report has told it."""
        return {} if self._step_g is None else {self._channel: self._step_g}

    async def __aenter__(self) -> Self:
        """Open the device and read its report descriptor."""
        if self._is_used:
            self._dropped_before += self._port.dropped
            self._port = self._new_port()
        self._is_used = True
        await self._port.open()
        self._product = self._port.product
        layout = read_weighing_layout(self._port.descriptor)
        known = isinstance(layout, ReportLayout)
        self._layout = layout if isinstance(layout, ReportLayout) else COMMON_LAYOUT
        self._layout_from = "descriptor" if known else "standard"
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the device."""
        await self._port.close()

    async def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings, each with the arrival time of its report.

        :raises DeviceLostError: when the device was unplugged
        :raises DeviceSilentError: when no report arrives
        :raises DeviceUnreadableError: when only reports arrive that hold no weight
        """
        garbage_since_s: float | None = None
        while True:
            report = await self._report()
            reading = self._reading(report)
            if reading is not None:
                garbage_since_s = None
                yield reading
                continue
            garbage_since_s = report.time_s if garbage_since_s is None else garbage_since_s
            if report.time_s - garbage_since_s >= GARBAGE_S:
                raise self._unreadable()

    async def tare(self) -> None:
        """Send the tare report of the address."""
        if not self._tare:
            raise DeviceError(
                self.address,
                "this device has no tare command",
                "Press the tare key, or add the report that the device expects to the address: &tare=0201.",
            )
        await self._port.write(self._tare)

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording."""
        last = self._last_rejected
        return {
            "driver": "hid",
            "product": self._product,
            "layout_from": self._layout_from,
            "reports_read": self._read,
            "reports_rejected": self._rejected,
            "reports_dropped": self._dropped_before + self._port.dropped,
            "last_rejected": f"{last.text} ({last.why})" if last else "",
        }

    def _new_port(self) -> HidPort:
        return HidPort(self._address.text, self._name, self._load)

    async def _report(self) -> Arrival:
        try:
            async with asyncio.timeout(self._silent_s):
                return await self._port.read()
        except TimeoutError:
            raise DeviceSilentError(
                self.address,
                f"nothing has arrived for {self._silent_s:g} s",
                "Switch the scale on and put something on it; if it sends seldom, add a longer silent_s=.",
            ) from None

    def _reading(self, report: Arrival) -> Reading | None:
        measured = decode_scale_report(report.data, self._layout)
        if isinstance(measured, Rejected):
            self._rejected += 1
            self._last_rejected = measured
            return None
        self._read += 1
        if (step_g := scale_step_g(report.data, self._layout)) is not None:
            self._step_g = step_g
        return Reading(self._channel, report.time_s, measured.value, measured.unit, measured.status)

    def _unreadable(self) -> DeviceUnreadableError:
        last = self._last_rejected
        if last is not None and last.unknown_unit is not None:
            return DeviceUnreadableError(
                self.address, f"{last.why}, in the report {last.text}", "Switch the scale to grams."
            )
        seen = f"; the last was {last.text}: {last.why}" if last else ""
        return DeviceUnreadableError(
            self.address,
            f"reports arrive and none holds a weight{seen}",
            "This may be no weighing device of the USB HID standard; evencup devices lists those that are.",
        )


def _tare_report(address: Address) -> bytes:
    text = address.options.get("tare", "")
    if not re.fullmatch(r"(?:[0-9A-Fa-f]{2}){0,64}", text):
        raise AddressError(
            address.text,
            f"tare={text} is not a report",
            "Write its bytes in hexadecimal, the report id first: tare=0201.",
        )
    return bytes.fromhex(text)
