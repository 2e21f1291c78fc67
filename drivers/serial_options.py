"""What a ``serial:`` address says: the port's settings, the shape of what arrives, and what is written."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from drivers.address import Address
from drivers.decoders.balance_lines import BalanceLines
from drivers.decoders.measurement import Decoder
from drivers.decoders.pattern_lines import PatternLines
from drivers.decoders.pattern_words import PatternError
from drivers.decoders.raw_sensors import RTDS, THERMOCOUPLE_TYPES, Sensor, SensorSet
from drivers.decoders.scpi_lines import ScpiLines
from drivers.decoders.units import UNITS, unit_named, units_of
from drivers.device import ChannelNames
from drivers.errors import AddressError
from drivers.polling import Repeated
from drivers.reading import CELSIUS, GRAM
from drivers.transports.serial_port import PortSettings

PORT_OPTIONS = ("baud", "bytesize", "parity", "stopbits", "silent_s")
SENSOR_OPTIONS = ("zero", "counts_per_g", "converter_bits", "thermocouple", "cold_c", "rtd", "thermistor")
OPTIONS = (
    *PORT_OPTIONS, "lines", "pattern", "quantity", "unit", "tare", "poll", "every_ms",
    *SENSOR_OPTIONS, "described",
)  # fmt: skip

PARITIES = {"none": "N", "even": "E", "odd": "O", "mark": "M", "space": "S"}
_SHAPES = ("balance", "pattern", "scpi")
_ESCAPES = {"r": b"\r", "n": b"\n", "t": b"\t", "\\": b"\\"}
_ESCAPE = re.compile(r"\\(x[0-9A-Fa-f]{2}|.?)", re.DOTALL)

SILENT_S = 10.0
EVERY_MS = 500.0


@dataclass(frozen=True, slots=True)
class SerialOptions:
    """What the address says about a device.

    :param shape: of what arrives: ``balance``, ``pattern``, ``scpi`` or ``frames``
    :param silent_s: how long nothing may arrive
    :param tare: what to send for a tare; empty where the device takes no command
    :param start: what is written once the port is open; only ever from a description
    :param keep_alive: likewise
    :param steps: of each channel's display, g or °C, where they are known
    :param described: the name that the description gives the device; empty without a description
    """

    port: PortSettings
    shape: str
    decoder: Decoder
    silent_s: float
    tare: bytes = b""
    start: tuple[bytes, ...] = ()
    keep_alive: Repeated | None = None
    poll: Repeated | None = None
    steps: Mapping[str, float] = field(default_factory=dict)
    described: str = ""


def serial_options(address: Address, names: ChannelNames) -> SerialOptions:
    """Understand an address.

    :raises AddressError: when an option is unknown or makes no sense, or its description is wrong
    """
    address.only(OPTIONS)
    _check_url(address)
    if "described" in address.options:
        from drivers.serial_described import described_options

        return described_options(address, names)
    shape = address.choice("lines", "balance" if "pattern" not in address.options else "pattern", _SHAPES)
    _check_shape(address, shape)
    poll, decoder = _poll(address), _decoder(address, shape, names)
    return SerialOptions(
        port=port_settings(address, PortSettings()),
        shape=shape,
        decoder=decoder,
        silent_s=silent_s(address, poll),
        tare=_escaped_text(address, "tare"),
        poll=poll,
        steps=decoder.steps if isinstance(decoder, PatternLines) else {},
    )


def port_settings(address: Address, default: PortSettings) -> PortSettings:
    """Read how the line is set.

    :param default: what holds where the address does not say
    """
    parity = next(name for name, letter in PARITIES.items() if letter == default.parity)
    return PortSettings(
        int(address.number("baud", default.baud, at_least=50, at_most=4_000_000)),
        int(address.choice("bytesize", str(default.bytesize), ("5", "6", "7", "8"))),
        PARITIES[address.choice("parity", parity, PARITIES)],
        float(address.choice("stopbits", f"{default.stopbits:g}", ("1", "1.5", "2"))),
    )


def silent_s(address: Address, poll: Repeated | None) -> float:
    """Read how long nothing may arrive; without a word about it, three requests at least."""
    default = SILENT_S if poll is None else max(SILENT_S, 3.0 * poll.every_s)
    return address.number("silent_s", default, at_least=0.1, at_most=86_400.0)


def _check_url(address: Address) -> None:
    parts = urlsplit(address.target)
    if parts.scheme not in ("socket", "rfc2217"):
        return
    try:
        complete = bool(parts.hostname and parts.port)
    except ValueError:
        complete = False
    if not complete:
        raise AddressError(
            address.text, "host or port is missing", f"Write serial:{parts.scheme}://192.168.1.20:4000."
        )


def _check_shape(address: Address, shape: str) -> None:
    """Refuse options that do not go together.

    :raises AddressError: naming them
    """
    pattern = "pattern" in address.options
    if (shape == "pattern") != pattern:
        raise AddressError(
            address.text,
            f"lines={shape} and {'a pattern' if pattern else 'no pattern'} do not go together",
            "Write pattern=weight,temperature for free lines, or lines=balance alone.",
        )
    homes = {"quantity": "scpi", "unit": "scpi", **dict.fromkeys(SENSOR_OPTIONS, "pattern")}
    for name, home in homes.items():
        if name in address.options and shape != home:
            raise AddressError(
                address.text,
                f"{name}= and lines={shape} do not go together",
                f"{name}= belongs to {'pattern=' if home == 'pattern' else 'lines=scpi'}.",
            )
    if "every_ms" in address.options and "poll" not in address.options:
        raise AddressError(
            address.text, "every_ms= says how often, and nothing says what to send", "Add poll=TEXT\\r\\n."
        )


def _decoder(address: Address, shape: str, names: ChannelNames) -> Decoder:
    if shape == "balance":
        return BalanceLines()
    if shape == "pattern":
        return _pattern_lines(address, names)
    return _scpi_lines(address, names)


def _pattern_lines(address: Address, names: ChannelNames) -> PatternLines:
    pattern = address.options["pattern"]
    try:
        return PatternLines(pattern, names.weight, names.temperature, SensorSet(_sensor(address)))
    except PatternError as error:
        raise AddressError(
            address.text,
            f"the pattern {pattern!r} is wrong at character {error.position}: {error.what}",
            "A pattern looks like weight,temperature or time_ms;kettle:temperature_c.",
        ) from error


def _scpi_lines(address: Address, names: ChannelNames) -> ScpiLines:
    quantity = address.choice("quantity", "temperature", ("temperature", "weight"))
    known = units_of(GRAM if quantity == "weight" else CELSIUS)
    unit = unit_named(address.options.get("unit", known[known.index("g")] if quantity == "weight" else "°C"))
    if unit not in known:
        raise AddressError(
            address.text,
            f"unit={address.options['unit']} is no unit of a {quantity}",
            f"Choose one of: {', '.join(name.removeprefix('°') for name in known)}.",
        )
    return ScpiLines(unit, names.weight if UNITS[unit].unit == GRAM else names.temperature)


def _sensor(address: Address) -> Sensor:
    """Read the calibration of raw sensors."""
    bits = address.number("converter_bits", 0, at_least=8, at_most=64)
    per_g = _calibration(address, "counts_per_g", "421.3")
    cold_c = address.number("cold_c", math.inf, at_least=-50.0, at_most=150.0)
    return Sensor(
        zero=_calibration(address, "zero", "8400") or 0.0,
        counts_per_g=per_g,
        converter_bits=int(bits) or None,
        thermocouple=address.choice("thermocouple", "", ("", *THERMOCOUPLE_TYPES)),
        cold_c=None if cold_c == math.inf else cold_c,
        rtd=address.choice("rtd", "", ("", *RTDS)),
        thermistor=_thermistor(address),
    )


def _calibration(address: Address, name: str, example: str) -> float | None:
    text = address.options.get(name)
    if text is None:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or (name == "counts_per_g" and value == 0):
        raise AddressError(
            address.text, f"{name}={text} is no calibration", f"Give {name}={example}, for instance."
        )
    return value


def _thermistor(address: Address) -> tuple[float, float, float] | None:
    text = address.options.get("thermistor")
    if text is None:
        return None
    try:
        a, b, c = (float(part) for part in text.split(","))
    except ValueError:
        a = b = c = math.nan
    if not all(map(math.isfinite, (a, b, c))):
        raise AddressError(
            address.text,
            f"thermistor={text} are not the three coefficients of Steinhart and Hart",
            "Give thermistor=1.129e-3,2.341e-4,8.767e-8, for instance.",
        )
    return a, b, c


def _poll(address: Address) -> Repeated | None:
    if "poll" not in address.options:
        return None
    every_ms = address.number("every_ms", EVERY_MS, at_least=10.0, at_most=86_400_000.0)
    return Repeated(_escaped_text(address, "poll"), every_ms / 1000.0)


def _escaped_text(address: Address, name: str) -> bytes:
    """Read what is to be sent, with its escapes.

    :raises AddressError: when an escape is none of ``\\r``, ``\\n``, ``\\t``, ``\\\\``, ``\\xHH``
    """
    pieces, at = [], 0
    text = address.options.get(name, "")
    for match in _ESCAPE.finditer(text):
        pieces.append(text[at : match.start()].encode("utf-8"))
        pieces.append(_escaped(address, name, match[1]))
        at = match.end()
    return b"".join((*pieces, text[at:].encode("utf-8")))


def _escaped(address: Address, name: str, code: str) -> bytes:
    if code in _ESCAPES:
        return _ESCAPES[code]
    if len(code) == 3:
        return bytes.fromhex(code[1:])
    raise AddressError(
        address.text,
        f"'\\{code}' in {name}= is not known",
        "Write \\r, \\n, \\t, \\xHH, or \\\\ for a backslash.",
    )
