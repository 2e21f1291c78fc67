"""What a description file says, understood and checked: plain data, no behaviour.

Offsets count from 0 at the frame's first byte; negative ones count from its end, -1 being the last byte.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import chain
from typing import Literal

from drivers.decoders.byte_orders import ByteOrder, Order
from drivers.decoders.raw_sensors import SensorSet
from drivers.decoders.units import UNITS
from drivers.polling import Repeated
from drivers.reading import CELSIUS, GRAM, Status, Unit

Kind = Literal["ble", "serial-frames", "serial-lines"]
Encoding = Literal["integer", "bcd", "digits", "ascii", "hex", "float"]
Signed = Literal["", "twos-complement", "sign-bit", "offset-binary"]

LONGEST_FRAME = 256
"""Bytes; a frame that claims more is taken for a damaged one."""


@dataclass(frozen=True, slots=True)
class Bits:
    """Some bytes of a frame, read as one whole number.

    :param mask: which of its bits matter, moved down to bit 0; 0 for all
    """

    offset: int
    width: int = 1
    order: Order = "big"
    mask: int = 0

    @property
    def shift(self) -> int:
        """How far the bits of the mask are moved down."""
        return (self.mask & -self.mask).bit_length() - 1 if self.mask else 0

    @property
    def count(self) -> int:
        """How many bits there are."""
        return (self.mask >> self.shift).bit_length() if self.mask else 8 * self.width


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign that stands apart from its number.

    :param negative: the codes that mean minus
    :param positive: those that mean plus; empty where all others do
    """

    bits: Bits
    negative: frozenset[int]
    positive: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class UnitCode:
    """A unit that the device names by a code.

    :param units: code to unit: keys of ``UNITS``
    """

    bits: Bits
    units: Mapping[int, str]


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a frame holds.

    :param holds: ``weight``, ``temperature``, ``battery_percent``, ``device_time``, ``stable``, ``status``,
        or a raw sensor's word as in patterns
    :param scale: what one step stands for, in ``unit``
    :param zero: what stands for nothing, in the device's own numbers
    :param is_swapped: for ``bcd``: whether the low half of each byte holds the higher digit
    :param decimals: where the frame says how many of the digits are decimals
    :param channel: None where the user names it
    :param step: of the display, in g or °C; None where ``scale`` says it
    :param no_value: codes that mean that there is no value
    :param statuses: for ``status``: what each code means
    :param stable_when: for ``stable``: the codes that mean at rest; empty for any but 0
    """

    holds: str
    bits: Bits
    encoding: Encoding = "integer"
    signed: Signed = ""
    sign: Sign | None = None
    scale: Fraction = Fraction(1)
    zero: Fraction = Fraction(0)
    is_swapped: bool = False
    decimals: Bits | None = None
    unit: str | UnitCode = ""
    channel: str | None = None
    step: float | None = None
    no_value: frozenset[int] = frozenset()
    statuses: Mapping[int, Status] = field(default_factory=dict)
    stable_when: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class LengthField:
    """A frame's own word about its length: what it holds, plus ``adds``, is the whole frame in bytes."""

    bits: Bits
    adds: int = 0


@dataclass(frozen=True, slots=True)
class Checksum:
    """The checksum of a frame or a line.

    :param kind: ``sum8``, ``sum16``, ``xor8``, ``lrc``, ``crc8`` or ``crc16``
    :param at: where it stands
    :param start: the first byte that it covers
    :param stop: the first byte that it does not cover any more; None where it covers all to the end
    :param is_hex: whether it is written as two or four characters, ``0`` to ``F``
    :param poly: of a cyclic check, as in the catalogues; refin and refout likewise
    :param init: what the register or the sum begins with
    :param xorout: what is combined with the result at the end
    :param or_kinds: further kinds, where one that is right is enough: which of them it is, is not known
    """

    kind: str
    at: int
    start: int
    stop: int | None
    order: ByteOrder = "big"
    is_hex: bool = False
    poly: int = 0
    init: int = 0
    refin: bool = False
    refout: bool = False
    xorout: int = 0
    or_kinds: tuple[str, ...] = ()

    @property
    def width(self) -> int:
        """How many bytes of the frame it takes."""
        return (2 if self.kind.endswith("16") else 1) * (2 if self.is_hex else 1)


@dataclass(frozen=True, slots=True)
class Frame:
    """One kind of frame or packet.

    :param name: what its author calls it; may be empty
    :param header: what it begins with; None for a byte that may be anything
    :param length: of the whole frame in bytes, where it is always the same
    :param terminator: what it ends with; may be empty
    :param longest: no frame is longer, in bytes
    :param characteristic: where such packets come from; empty for any (Bluetooth)
    """

    name: str
    header: tuple[int | None, ...]
    fields: tuple[Field, ...]
    length: int | None = None
    length_field: LengthField | None = None
    terminator: bytes = b""
    longest: int = LONGEST_FRAME
    checksum: Checksum | None = None
    characteristic: str = ""

    @property
    def is_unmarked(self) -> bool:
        """Whether it begins with nothing that is always the same."""
        return all(byte is None for byte in self.header)

    @property
    def is_told_by_check(self) -> bool:
        """Whether nothing but its length and its check tells where it begins in a stream."""
        has_length = self.length is not None and self.checksum is not None
        return has_length and self.is_unmarked and not self.terminator

    @property
    def least_length(self) -> int:
        """How many bytes it must have at least to hold all that is read from it."""
        least = len(self.header) + len(self.terminator)
        spans = [(bits.offset, bits.width) for bits in self._all_bits()]
        if self.checksum is not None:
            spans.append((self.checksum.at, self.checksum.width))
        for offset, width in spans:
            least = max(least, offset + width if offset >= 0 else -offset)
        return least

    def _all_bits(self) -> Iterator[Bits]:
        if self.length_field is not None:
            yield self.length_field.bits
        for one in self.fields:
            yield one.bits
            if one.sign is not None:
                yield one.sign.bits
            if one.decimals is not None:
                yield one.decimals
            if isinstance(one.unit, UnitCode):
                yield one.unit.bits


@dataclass(frozen=True, slots=True)
class Bluetooth:
    """Where a Bluetooth device sends and listens; UUIDs in full length and lower case.

    :param service: to look for it by; may be empty
    :param notify: the characteristics to subscribe to, at least one
    :param write: the characteristic that commands are written to; may be empty
    :param response: whether the device confirms what is written to it
    :param is_joined: whether its notifications are pieces of one stream of bytes, cut anywhere
    """

    service: str
    notify: tuple[str, ...]
    write: str = ""
    response: bool = True
    is_joined: bool = False


@dataclass(frozen=True, slots=True)
class SerialLine:
    """How the serial line is set, where the address does not say otherwise."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "none"
    stopbits: float = 1


@dataclass(frozen=True, slots=True)
class Lines:
    """What lines of text look like: a pattern, or numbers as SCPI instruments answer them.

    :param pattern: see ``decoders.pattern``; empty for SCPI
    :param quantity: of SCPI numbers: ``weight`` or ``temperature``
    :param unit: of SCPI numbers: a key of ``UNITS``
    :param checksum: of a line without what ends it; the pattern is of what is left when it is taken out
    :param counts: how ``counts`` of the pattern are written, as a field of nothing else; None for decimals
    :param minus: what a ``sign`` is below nought
    """

    pattern: str = ""
    quantity: str = ""
    unit: str = ""
    checksum: Checksum | None = None
    counts: Field | None = None
    minus: str = "-"


@dataclass(frozen=True, slots=True)
class Description:
    """A device's description.

    :param path: its file
    :param name: what its author calls the device
    :param start: what is written once the link is open, in this order
    :param keep_alive: what keeps the device sending
    :param poll: what asks for a reading
    :param tare: what sets the scale to zero; empty where nothing does
    """

    path: str
    name: str
    kind: Kind
    bluetooth: Bluetooth | None = None
    serial: SerialLine | None = None
    frames: tuple[Frame, ...] = ()
    lines: Lines | None = None
    sensors: SensorSet = field(default_factory=SensorSet)
    start: tuple[bytes, ...] = ()
    keep_alive: Repeated | None = None
    poll: Repeated | None = None
    tare: bytes = b""

    def steps(self, weight: str, temperature: str) -> dict[str, float]:
        """Give the step of each channel's display, in g or °C, where it is known.

        :param weight: channel name of unnamed weights
        :param temperature: the same for temperatures
        """
        steps: dict[str, float] = {}
        for one in chain.from_iterable(frame.fields for frame in self.frames):
            unit = quantity_of(one.holds)
            step = _step(one, self.sensors)
            if unit is not None and step is not None:
                steps[one.channel or (weight if unit == GRAM else temperature)] = step
        return steps


def quantity_of(holds: str) -> Unit | None:
    """Say what a field's word gives in the end, g or °C; None where it is no measurement."""
    if holds in ("weight", "counts"):
        return GRAM
    if holds in ("temperature", "thermocouple_mv", "rtd_ohm", "thermistor_ohm"):
        return CELSIUS
    return None


def _step(one: Field, sensors: SensorSet) -> float | None:
    if one.step is not None:
        return one.step
    if one.encoding in ("ascii", "float") or one.decimals is not None:
        return None
    if one.holds == "counts":
        step_g = sensors.of(one.channel).step_g
        return None if step_g is None else float(abs(one.scale)) * step_g
    if isinstance(one.unit, str) and one.unit in UNITS:
        return float(abs(one.scale) * UNITS[one.unit].factor)
    return None
