"""What the address of a Modbus unit says about its channels.

::

    weight=server@holding:0:int32:0.01:little
           |      |       | |     |    `- order of the words
           |      |       | |     `------ what one step stands for
           |      |       | `------------ type of the number
           |      |       `-------------- register, counted from zero
           |      `---------------------- kind of register
           `----------------------------- name of the channel
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import NoReturn

from drivers.address import Address
from drivers.decoders.registers import (
    ORDERS,
    TYPES,
    NoValue,
    Quantity,
    StatusBits,
    is_whole,
    words_of,
)
from drivers.decoders.units import UNITS, UnitOf, unit_named
from drivers.device import ChannelNames
from drivers.errors import AddressError
from drivers.reading import CELSIUS, GRAM, Unit, is_channel_name
from drivers.transports.modbus_settings import Place

CHANNEL_OPTIONS = ("weight", "temperature")
CHANNEL_DETAILS = ("offset", "none", "status")

KINDS = ("coil", "discrete", "holding", "input")
LAST_NUMBER = 65_535

_REFERENCE_KINDS = {"0": "coil", "1": "discrete", "3": "input", "4": "holding"}
_CHANNEL_OPTION = re.compile(r"(weight|temperature)([2-9]|[1-9][0-9])?(?:_(offset|none|status))?")
_STATUS_BIT = re.compile(r"(stable|moving|overload|underload|error)=([0-9]{1,2})")
_STATUS_BITS = 64
_EXPONENT = 30  # a larger one is a slip, and would take long to work with
_EXAMPLE = "weight=holding:0:int32:0.01"


@dataclass(frozen=True, slots=True)
class RegisterChannel:
    """One channel: where its value stands and what it means.

    :param status_at: where the status bits stand, None where there are none
    """

    channel: str
    place: Place
    quantity: Quantity
    unit_of: UnitOf
    status_at: Place | None = None
    status_bits: StatusBits | None = None

    @property
    def unit(self) -> Unit:
        """In g or in °C."""
        return self.unit_of.unit

    @property
    def step(self) -> float | None:
        """The step of the value in g or °C; None for floats, whose step does not show."""
        if not is_whole(self.quantity.kind):
            return None
        return float(abs(self.quantity.scale) * self.unit_of.factor)


def is_channel_option(name: str) -> bool:
    """Say whether an option belongs to a channel: ``weight``, ``temperature2``, ``weight_status``, ..."""
    return _CHANNEL_OPTION.fullmatch(name) is not None


def register_channels(address: Address, names: ChannelNames) -> tuple[RegisterChannel, ...]:
    """Understand which registers are which channel.

    :raises AddressError: when there is none, or one makes no sense
    """
    channels: list[RegisterChannel] = []
    for option in address.options:
        match = _CHANNEL_OPTION.fullmatch(option)
        if match is None:
            continue
        base = match[1] + (match[2] or "")
        if base not in address.options:
            wrong(address, f"{option} is given and {base} is not", f"Add {base}=holding:0:int32:0.01.")
        if match[3] is None:
            default = names.weight if match[1] == "weight" else names.temperature
            channels.append(_channel(address, option, f"{default[:30]}{match[2] or ''}"))
    if not channels:
        wrong(address, "it says neither weight= nor temperature=", f"Say where the value stands: {_EXAMPLE}.")
    for channel in channels:
        if sum(other.channel == channel.channel for other in channels) > 1:
            wrong(
                address,
                f"two channels are called {channel.channel!r}",
                "Name one: weight=server@holding:0:int16.",
            )
    return tuple(channels)


def _channel(address: Address, option: str, default: str) -> RegisterChannel:
    text = address.options[option]
    name, at, where = text.partition("@")
    if not at:
        name, where = default, text
    if not is_channel_name(name):
        _wrong_place(address, option, f"{name!r} is not the name of a channel")
    place, rest = place_of(address, option, where)
    if place.is_bits:
        _wrong_place(address, option, f"a {place.kind} holds one bit, not a number")
    unit: Unit = GRAM if option.startswith("weight") else CELSIUS
    quantity = _quantity(address, option, rest)
    if place.number + quantity.words - 1 > LAST_NUMBER:
        _wrong_place(
            address, option, f"{quantity.words} registers from {place.number} end beyond {LAST_NUMBER}"
        )
    status_at, bits = _status(address, f"{option}_status")
    return RegisterChannel(name, place, quantity, _units(address)[unit], status_at, bits)


def _quantity(address: Address, option: str, parts: list[str]) -> Quantity:
    """Read ``int32:0.01:little`` and the options that go with it."""
    kind, scale_text, order = [*parts, "", "", ""][:3]
    if kind not in TYPES:
        _wrong_place(address, option, f"{kind!r} is not a type of number ({', '.join(TYPES)})")
    if len(parts) > 3:
        _wrong_place(address, option, f"nothing may follow {':'.join(parts[:3])!r}")
    scale = _fraction(address, option, scale_text or "1")
    if not scale:
        _wrong_place(address, option, "a scale of 0 makes every value 0")
    if (order or "big").lower() not in ORDERS:
        _wrong_place(address, option, f"{order!r} is not an order of words ({', '.join(ORDERS)})")
    word_order, byte_order = ORDERS[(order or "big").lower()]
    offset = _fraction(address, f"{option}_offset", address.options.get(f"{option}_offset", "0"))
    return Quantity(kind, scale, offset, word_order, byte_order, _no_value(address, option, kind))


def place_of(address: Address, option: str, text: str) -> tuple[Place, list[str]]:
    """Read ``holding:0`` or the manuals' ``40001``, and give what follows it.

    :raises AddressError: when it is neither
    """
    kind, *rest = text.split(":")
    if re.fullmatch(r"[0134]([0-9]{4}|[0-9]{5})", kind):
        if not 1 <= int(kind[1:]) <= LAST_NUMBER + 1:
            _wrong_place(address, option, f"{kind} is none: they go from {kind[0]}0001 to {kind[0]}65536")
        return Place(_REFERENCE_KINDS[kind[0]], int(kind[1:]) - 1), rest
    if kind not in KINDS:
        _wrong_place(address, option, f"{kind!r} is not a kind of register ({', '.join(KINDS)})")
    number = _register(rest[0] if rest else "")
    if number is None:
        _wrong_place(
            address, option, f"{rest[0] if rest else ''!r} is not a register from 0 to {LAST_NUMBER}"
        )
    return Place(kind, number), rest[1:]


def _register(text: str) -> int | None:
    """Read the number of a register, decimal or hexadecimal."""
    if re.fullmatch(r"0[xX][0-9A-Fa-f]{1,4}", text):
        return int(text, 16)
    number = int(text) if re.fullmatch(r"[0-9]{1,5}", text) else None
    return number if number is not None and number <= LAST_NUMBER else None


def _status(address: Address, option: str) -> tuple[Place | None, StatusBits | None]:
    text = address.options.get(option)
    if text is None:
        return None, None
    place, rest = place_of(address, option, text)
    parts = [_STATUS_BIT.fullmatch(part) for part in rest[0].split(",")] if len(rest) == 1 else []
    bits = {part[1]: int(part[2]) for part in parts if part}
    if bits and len(bits) == len(parts) and max(bits.values()) < _STATUS_BITS:
        return place, StatusBits(**bits)
    return wrong(
        address,
        f"{option}={text} cannot be read",
        f"Write {option}=input:2:stable=0,overload=3, with bits from 0 to {_STATUS_BITS - 1} "
        "(words: stable, moving, overload, underload, error).",
    )


def _no_value(address: Address, option: str, kind: str) -> tuple[NoValue, ...]:
    text = address.options.get(f"{option}_none", "")
    codes = []
    for code in text.split(",") if text else ():
        if re.fullmatch(r"0[xX][0-9A-Fa-f]{1,16}", code):
            pattern = int(code, 16)
            if pattern.bit_length() > 16 * words_of(kind):
                wrong(address, f"{code} in {option}_none= is too long for {kind}", "Shorten it.")
            codes.append(NoValue(pattern, is_pattern=True))
        else:
            number = _fraction(address, f"{option}_none", code)
            codes.append(NoValue(int(number) if is_whole(kind) and number == int(number) else float(number)))
    return tuple(codes)


def _units(address: Address) -> Mapping[Unit, UnitOf]:
    chosen: dict[Unit, UnitOf] = {}
    text = address.options.get("units", "")
    for word in text.split(",") if text else ():
        name = unit_named(word)
        if name is None or UNITS[name].unit in chosen:
            wrong(
                address,
                f"units={text} cannot be read",
                "Write one unit of weight, one of temperature or both: units=kg,F "
                "(known: mg, g, kg, oz, lb; C, F, K).",
            )
        chosen[UNITS[name].unit] = UNITS[name]
    return {GRAM: UNITS["g"], CELSIUS: UNITS["°C"], **chosen}


def _fraction(address: Address, option: str, text: str) -> Fraction:
    """Read a decimal number, exactly as it is written."""
    try:
        number = Decimal(text)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number.adjusted()) > _EXPONENT:
        _wrong_place(address, option, f"{text!r} is not a number")
    return Fraction(number)


def _wrong_place(address: Address, option: str, what: str) -> NoReturn:
    text = address.options[option]
    example = "0.5" if option.endswith(("_offset", "_none")) else _EXAMPLE.partition("=")[2]
    wrong(address, f"{option}={text}: {what}", f"It looks like {option}={example}.")


def wrong(address: Address, what: str, remedy: str) -> NoReturn:
    """Refuse an address."""
    raise AddressError(address.text, what, remedy)
