"""What the open standard services of a Bluetooth device give: weight, temperature, battery."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from drivers.address import Address
from drivers.bluetooth_listening import Chore, Decoded, assigned_number, numbered, offered_text
from drivers.decoders.gatt_battery import BATTERY_LEVEL, decode_battery_level
from drivers.decoders.gatt_temperature import (
    INTERMEDIATE_TEMPERATURE,
    TEMPERATURE,
    TEMPERATURE_MEASUREMENT,
    TEMPERATURE_STEP_C,
    decode_temperature,
    decode_temperature_measurement,
    temperature_measurement_step_c,
)
from drivers.decoders.gatt_weight import (
    IMPERIAL_STEP_G,
    SI_STEP_G,
    WEIGHT_MEASUREMENT,
    WEIGHT_SCALE_FEATURE,
    WeightFeature,
    decode_weight_feature,
    decode_weight_measurement,
)
from drivers.decoders.measurement import Measurement, Rejected
from drivers.device import ChannelNames
from drivers.errors import DeviceDeniedError, DeviceError, DeviceUnreadableError
from drivers.transports.bluetooth import BluetoothLink, Offered, Packet

SILENT_S = 60.0
"""Standard services send settled or changed values only, so silence is long before it means anything."""

POLL_S = 1.0
"""How often a temperature is read that the device does not send by itself."""

Decode = Callable[[bytes], Measurement | Rejected]
Step = Callable[[bytes], float | None]


@dataclass(frozen=True, slots=True)
class _Source:
    """One characteristic that measures."""

    channel: str
    decode: Decode
    step: Step


class StandardServices:
    """Listens to the standard characteristics that a device has."""

    can_tare = False

    def __init__(self, address: Address, names: ChannelNames) -> None:
        self._address, self._names = address.text, names
        self.silent_s = SILENT_S
        self.services: tuple[str, ...] = ()
        self._sources: dict[int, _Source] = {}
        self._battery: set[int] = set()
        self._feature: WeightFeature | None = None
        self._steps: dict[str, float] = {}
        self._polled: tuple[int, ...] = ()
        self.battery_percent: int | None = None

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel, g or °C, where it is known."""
        return MappingProxyType(self._steps)

    @property
    def chores(self) -> tuple[Chore, ...]:
        """Reading what the device does not send by itself."""
        return (Chore(POLL_S, self._poll),) if self._polled else ()

    async def prepare(self, link: BluetoothLink) -> None:
        """Read what stays the same, and subscribe to what measures.

        :raises DeviceUnreadableError: when nothing that measures is offered
        """
        self._sources.clear()
        self._battery.clear()
        found = [(number, one) for one in link.offered if (number := assigned_number(one.uuid)) is not None]
        for number, one in found:
            if number == WEIGHT_SCALE_FEATURE and one.readable:
                await self._read_feature(link, one.handle)
            elif number == BATTERY_LEVEL:
                await self._follow_battery(link, one)
        for number, one in found:
            sends = one.notifies or (number == TEMPERATURE and one.readable)
            if sends and (source := self._source(number)) is not None:
                self._sources[one.handle] = source
        if not self._sources:
            raise self._nothing_known(link)
        await self._listen(link)

    async def _listen(self, link: BluetoothLink) -> None:
        silent = [one.handle for one in link.offered if one.handle in self._sources and not one.notifies]
        self._polled = tuple(silent)
        for handle in self._sources:
            if handle in silent:
                await link.poll(handle)
            else:
                await link.subscribe(handle)

    def decode(self, packet: Packet) -> Decoded:
        """Decode a packet; never raises."""
        if packet.handle in self._battery:
            level = decode_battery_level(packet.data)
            self.battery_percent = self.battery_percent if level is None else level
            return Decoded(measures=False)
        source = self._sources[packet.handle]
        result = source.decode(packet.data)
        if isinstance(result, Rejected):
            return Decoded(rejected=(result,))
        if step := source.step(packet.data):
            self._steps[source.channel] = step
        return Decoded(((source.channel, result),))

    async def tare(self, link: BluetoothLink) -> None:
        """Say that no standard service can set a scale to zero.

        :raises DeviceError: always
        """
        raise DeviceError(
            self._address,
            "the standard services have no tare command",
            "Press the tare key on the scale, or describe the device (described=FILE).",
        )

    async def _poll(self, link: BluetoothLink) -> None:
        for handle in self._polled:
            # One refusal is no loss; a device that goes on refusing falls silent.
            with contextlib.suppress(DeviceDeniedError):
                await link.poll(handle)

    async def _read_feature(self, link: BluetoothLink, handle: int) -> None:
        try:
            feature = decode_weight_feature(await link.read(handle))
        except DeviceDeniedError:
            return  # the weights are the same without
        if isinstance(feature, WeightFeature):
            self._feature = feature
        self._steps[self._names.weight] = self._weight_step(b"\x00")

    async def _follow_battery(self, link: BluetoothLink, one: Offered) -> None:
        try:
            if one.readable:
                # Before subscribing: afterwards, what is read arrives as a notification too.
                self.battery_percent = decode_battery_level(await link.read(one.handle))
            if one.notifies:
                self._battery.add(one.handle)
                await link.subscribe(one.handle)
        except DeviceDeniedError:
            self._battery.discard(one.handle)

    def _source(self, number: int) -> _Source | None:
        if number == WEIGHT_MEASUREMENT:
            return _Source(self._names.weight, decode_weight_measurement, self._weight_step)
        if number in (TEMPERATURE_MEASUREMENT, INTERMEDIATE_TEMPERATURE):
            channel = next((s.channel for s in self._sources.values() if s.decode is _THERMOMETER), None)
            return _Source(channel or self._next_thermometer(), _THERMOMETER, temperature_measurement_step_c)
        if number == TEMPERATURE:
            return _Source(self._next_thermometer(), decode_temperature, lambda _: TEMPERATURE_STEP_C)
        return None

    def _next_thermometer(self) -> str:
        taken = {source.channel for source in self._sources.values()}
        return numbered(self._names.temperature, taken)

    def _weight_step(self, packet: bytes) -> float:
        feature = self._feature
        if packet[0] & 1:
            return (feature and feature.imperial_step_g) or IMPERIAL_STEP_G
        return (feature and feature.si_step_g) or SI_STEP_G

    def _nothing_known(self, link: BluetoothLink) -> DeviceUnreadableError:
        return DeviceUnreadableError(
            self._address,
            "it has none of the standard services for weight and temperature. "
            f"It offers: {offered_text(link.offered)}",
            "Describe its packets in a file and add described=FILE to the address: see docs/bluetooth.md.",
        )


_THERMOMETER: Decode = decode_temperature_measurement
