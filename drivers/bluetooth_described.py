"""What a description makes of a Bluetooth device: where it sends, what to send it, how its packets read."""

from __future__ import annotations

from collections.abc import Mapping

from drivers.address import Address
from drivers.bluetooth_listening import Chore, Decoded, channel_of, offered_text
from drivers.decoders.checked_lines import described_lines
from drivers.decoders.measurement import Rejected
from drivers.decoders.packets import PacketDecoder
from drivers.decoders.pattern_lines import PatternLines
from drivers.described import Description, read_description
from drivers.device import ChannelNames
from drivers.errors import AddressError, DeviceError, DeviceUnreadableError
from drivers.transports.bluetooth import BluetoothLink, Packet

SILENT_S = 10.0


class DescribedDevice:
    """Listens to the characteristics that a description names.

    :raises AddressError: when the description cannot be read, or is not of a Bluetooth device
    """

    def __init__(self, address: Address, path: str, names: ChannelNames) -> None:
        self._address, self._names = address.text, names
        self._description = read_description(path)
        if self._description.bluetooth is None:
            raise AddressError(
                address.text,
                f"{path} describes a device of kind {self._description.kind!r}",
                'Bluetooth needs kind = "ble"; use the others with serial:.',
            )
        self._bluetooth = self._description.bluetooth
        self._decoder, self._lines = _decoders(self._description, names)
        self._kept: dict[str, bytes] = {}
        self._uuids: dict[int, str] = {}
        self._write_handle: int | None = None
        self.silent_s = SILENT_S
        self.services: tuple[str, ...] = (self._bluetooth.service,) if self._bluetooth.service else ()
        self.battery_percent: int | None = None

    @property
    def can_tare(self) -> bool:
        """Whether the description has a tare command."""
        return bool(self._description.tare)

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel, g or °C, as the description says it."""
        return self._description.steps(self._names.weight, self._names.temperature)

    @property
    def chores(self) -> tuple[Chore, ...]:
        """What has to be sent again and again."""
        repeated = (("the keep-alive", self._description.keep_alive), ("the request", self._description.poll))
        return tuple(
            Chore(one.every_s, lambda link, data=one.data, what=what: self._send(link, data, what))  # type: ignore[misc]  # mypy has no types for defaults of a lambda
            for what, one in repeated
            if one is not None
        )

    async def prepare(self, link: BluetoothLink) -> None:
        """Subscribe, then send what starts the device.

        :raises DeviceUnreadableError: when the device does not have what the description names
        """
        self._kept.clear()
        self._uuids = {
            one.handle: one.uuid for one in link.offered if one.uuid.lower() in self._bluetooth.notify
        }
        self._write_handle = next(
            (one.handle for one in link.offered if one.uuid.lower() == self._bluetooth.write), None
        )
        missing = [uuid for uuid in self._bluetooth.notify if uuid not in self._uuids.values()]
        if self._bluetooth.write and self._write_handle is None:
            missing.append(self._bluetooth.write)
        if missing:
            raise DeviceUnreadableError(
                self._address,
                f"it has no {' and no '.join(missing)}, which {self._description.path} names. "
                f"It offers: {offered_text(link.offered)}",
                "Use the description of this device, or correct the UUIDs in it.",
            )
        for handle in self._uuids:
            await link.subscribe(handle)
        for data in self._description.start:
            await self._send(link, data, "the start command")

    def decode(self, packet: Packet) -> Decoded:
        """Decode a packet; never raises."""
        uuid = self._uuids[packet.handle]
        if self._bluetooth.is_joined or self._decoder is None:
            return self._joined(uuid, packet.data)
        level = self._decoder.battery_percent(packet.data, uuid)
        self.battery_percent = self.battery_percent if level is None else level
        result = self._decoder.decode_packet(packet.data, uuid)
        if isinstance(result, Rejected):
            return Decoded(rejected=(result,))
        taken: set[str] = set()
        named = []
        for one in result:
            channel = channel_of(one, self._names, taken)
            taken.add(channel)
            named.append((channel, one))
        return Decoded(tuple(named))

    def _joined(self, uuid: str, data: bytes) -> Decoded:
        """Decode pieces of a stream, as far as it has come."""
        decoder = self._lines or self._decoder
        assert decoder is not None
        # Where packets are not pieces of a stream, each is a line, whether it has an end or not.
        data = self._kept.get(uuid, b"") + data + (b"" if self._bluetooth.is_joined else b"\n")
        out = decoder.decode(data)
        self._kept[uuid] = data[out.used :]
        if out.battery_percent is not None:
            self.battery_percent = out.battery_percent
        named = tuple((channel_of(one, self._names, set()), one) for one in out.measurements)
        return Decoded(named, (out.last_rejected,) * out.rejected if out.last_rejected else ())

    async def tare(self, link: BluetoothLink) -> None:
        """Send the tare command.

        :raises DeviceError: when there is none, or the device refuses it
        """
        if not self._description.tare:
            raise DeviceError(
                self._address,
                f"{self._description.path} has no tare command",
                "Press the tare key on the scale, or add tare = to the description.",
            )
        await self._send(link, self._description.tare, "the tare command")

    async def _send(self, link: BluetoothLink, data: bytes, what: str) -> None:
        if self._write_handle is not None:
            await link.write(self._write_handle, data, what, response=self._bluetooth.response)


def _decoders(
    description: Description, names: ChannelNames
) -> tuple[PacketDecoder | None, PatternLines | None]:
    """Give the decoder of packets, or of lines where the device sends text."""
    if description.lines is None:
        return PacketDecoder(description), None
    return None, described_lines(description, names.weight, names.temperature)
