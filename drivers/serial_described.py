"""A ``serial:`` address whose device is described by a file."""

from __future__ import annotations

from drivers.address import Address
from drivers.decoders.checked_lines import described_lines
from drivers.decoders.measurement import Decoder
from drivers.decoders.packets import PacketDecoder
from drivers.decoders.pattern_lines import PatternLines
from drivers.decoders.scpi_lines import ScpiLines
from drivers.decoders.units import UNITS
from drivers.described import Description, read_description
from drivers.described.description import SerialLine
from drivers.device import ChannelNames
from drivers.errors import AddressError
from drivers.reading import GRAM
from drivers.serial_options import PARITIES, PORT_OPTIONS, SerialOptions, port_settings, silent_s
from drivers.transports.serial_port import PortSettings


def described_options(address: Address, names: ChannelNames) -> SerialOptions:
    """Understand an address by its description.

    :raises DescriptionError: with every mistake in the file
    :raises AddressError: when the file cannot be read, is of another kind of device, or the address says
        something that only the description may say
    """
    for name in address.options:
        if name not in (*PORT_OPTIONS, "described"):
            raise AddressError(
                address.text,
                f"{name}= and described= do not go together",
                f"Write what {name}= says into the description.",
            )
    description = read_description(address.options["described"])
    if description.kind == "ble":
        raise AddressError(
            address.text,
            f"{description.path} describes a Bluetooth device",
            'Use a ble: address, or write kind = "serial-frames" or "serial-lines".',
        )
    decoder = _decoder(description, names)
    return SerialOptions(
        port=port_settings(address, _settings(description.serial or SerialLine())),
        shape=_shape(description),
        decoder=decoder,
        silent_s=silent_s(address, description.poll),
        tare=description.tare,
        start=description.start,
        keep_alive=description.keep_alive,
        poll=description.poll,
        steps=_steps(description, decoder, names),
        described=description.name,
    )


def _settings(line: SerialLine) -> PortSettings:
    return PortSettings(line.baud, line.bytesize, PARITIES[line.parity], line.stopbits)


def _shape(description: Description) -> str:
    if description.lines is None:
        return "frames"
    return "pattern" if description.lines.pattern else "scpi"


def _decoder(description: Description, names: ChannelNames) -> Decoder:
    lines = description.lines
    if lines is None:
        return PacketDecoder(description)
    if lines.pattern:
        return described_lines(description, names.weight, names.temperature)
    return ScpiLines(lines.unit, names.weight if UNITS[lines.unit].unit == GRAM else names.temperature)


def _steps(description: Description, decoder: Decoder, names: ChannelNames) -> dict[str, float]:
    if isinstance(decoder, PatternLines):
        return decoder.steps
    return description.steps(names.weight, names.temperature)
