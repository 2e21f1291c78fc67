"""Descriptions and frames of devices that nobody has built, written without the code under test.

:class:`Layout` is a made-up device: it writes its own description as a user would, and encodes values by
plain arithmetic on lists of bytes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st

# NIST SP 811 (2008), B.8: the pound is exactly 0.45359237 kg, the ounce its sixteenth; 0 °C is 273.15 K, and
# t/°C = (t/°F - 32) / 1.8.
TO_OURS = {
    "mg": lambda v: v / 1000,
    "g": lambda v: v,
    "kg": lambda v: v * 1000,
    "oz": lambda v: v * Fraction("453.59237") / 16,
    "lb": lambda v: v * Fraction("453.59237"),
    "°C": lambda v: v,
    "°F": lambda v: (v - 32) / Fraction("1.8"),
    "K": lambda v: v - Fraction("273.15"),
}


@dataclass
class Number:
    """One number of the made-up device."""

    holds: str
    width: int
    order: str
    encoding: str
    signed: str
    scale: str
    unit: str
    offset: int = 0
    sign_offset: int = 0

    @property
    def limits(self) -> tuple[int, int]:
        """The steps that it can hold."""
        if self.encoding == "bcd":
            most = 10 ** (2 * self.width) - 1
            return (-most if self.signed == "byte" else 0), most
        if self.encoding == "ascii":
            most = 10 ** (self.width - 2) - 1
            return -most, most
        bits = 8 * self.width
        if self.signed in ("twos-complement", "offset-binary"):
            return -(2 ** (bits - 1)), 2 ** (bits - 1) - 1
        if self.signed == "sign-bit":
            return -(2 ** (bits - 1)) + 1, 2 ** (bits - 1) - 1
        return (-(2**bits) + 1 if self.signed == "byte" else 0), 2**bits - 1

    def describe(self) -> str:
        lines = [
            "[[frame.field]]",
            f'holds = "{self.holds}"',
            f"offset = {self.offset}",
            f"width = {self.width}",
            f'order = "{self.order}"',
            f'encoding = "{self.encoding}"',
            f"scale = {self.scale}",
            f'unit = "{self.unit}"',
        ]
        if self.signed == "byte":
            lines.append(
                f"sign = {{ offset = {self.sign_offset}, negative = 0x2D, positive = [0x2B, 0x20] }}"
            )
        elif self.signed and self.encoding == "integer":
            lines.append(f'signed = "{self.signed}"')
        return "\n".join(lines)

    def encode(self, steps: int) -> list[int]:
        if self.encoding == "ascii":
            text = ("-" if steps < 0 else "+") + str(abs(steps)).rjust(self.width - 1)
            return [ord(character) for character in text]
        if self.encoding == "bcd":
            digits = [int(digit) for digit in str(abs(steps)).rjust(2 * self.width, "0")]
            data = [16 * high + low for high, low in zip(digits[::2], digits[1::2], strict=True)]
        else:
            bits, code = 8 * self.width, abs(steps)
            if self.signed == "twos-complement":
                code = steps % 2**bits
            elif self.signed == "offset-binary":
                code = steps + 2 ** (bits - 1)
            elif self.signed == "sign-bit" and steps < 0:
                code += 2 ** (bits - 1)
            data = [code // 256**place % 256 for place in reversed(range(self.width))]
        return data if self.order == "big" else data[::-1]

    def value(self, steps: int) -> float:
        return float(TO_OURS[self.unit](steps * Fraction(self.scale)))


@dataclass
class Layout:
    """A made-up device with one kind of frame."""

    header: list[int]
    numbers: list[Number]
    end: str
    check: dict[str, Any]
    gap: int = 0
    terminator: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        at = len(self.header) + (1 if self.end == "length_field" else 0) + self.gap
        for number in self.numbers:
            if number.signed == "byte":
                number.sign_offset = at
                at += 1
            number.offset = at
            at += number.width
        self.body = at
        self.check_width = 2 if str(self.check.get("kind")).endswith("16") else bool(self.check)
        self.length = at + self.check_width + len(self.terminator)

    def describe(self, kind: str = "serial-frames") -> str:
        lines = ['name = "made up"', f'kind = "{kind}"']
        if kind == "ble":
            lines += ["[ble]", 'notify = "9f4a0002-0000-4000-8000-000000000000"']
        lines += ["[[frame]]", f"header = {self.header}"]
        if self.terminator:
            lines.append(f"terminator = {self.terminator}")
        if self.end == "length":
            lines.append(f"length = {self.length}")
        elif self.end == "length_field":
            lines.append(f"length_field = {{ offset = {len(self.header)}, adds = 3 }}")
            lines.append(f"longest = {self.length}")
        else:
            lines.append(f"longest = {self.length}")
        if self.check:
            lines += ["[frame.checksum]", f"at = {-self.check_width - len(self.terminator)}"]
            lines += [
                f"{key} = {str(value).lower() if isinstance(value, bool) else repr(value)}"
                for key, value in self.check.items()
            ]
        return "\n".join([*lines, *(number.describe() for number in self.numbers)])

    def encode(self, steps: list[int]) -> bytes:
        frame = list(self.header)
        if self.end == "length_field":
            frame.append(self.length - 3)
        frame += [0x11] * self.gap
        for number, step in zip(self.numbers, steps, strict=True):
            if number.signed == "byte":
                frame.append(0x2D if step < 0 else 0x2B)
            frame += number.encode(step)
        if self.check:
            code = checksum(frame, **self.check)
            code_bytes = [code // 256, code % 256][2 - self.check_width :]
            frame += code_bytes if self.check.get("order", "big") == "big" else code_bytes[::-1]
        return bytes(frame + self.terminator)


def checksum(data: list[int], kind: str, order: str = "big", **crc: Any) -> int:
    """Compute a check by its definition, for a cyclic one bit by bit."""
    if kind in ("sum8", "sum16"):
        return sum(data) % (256 if kind == "sum8" else 65536)
    if kind == "lrc":
        return (256 - sum(data) % 256) % 256
    if kind == "xor8":
        total = 0
        for byte in data:
            total ^= byte
        return total
    return cyclic(data, 16 if kind == "crc16" else 8, **crc)


def cyclic(
    data: list[int], width: int, polynomial: int, init: int, refin: bool, refout: bool, xorout: int
) -> int:
    bits = [bool(byte >> (bit if refin else 7 - bit) & 1) for byte in data for bit in range(8)]
    register = init
    for bit in bits:
        carry = bool(register >> (width - 1)) ^ bit
        register = register * 2 % 2**width ^ (polynomial if carry else 0)
    if refout:
        register = int(f"{register:0{width}b}"[::-1], 2)
    return register ^ xorout


SCALES = ("1", "0.1", "0.01", "0.001", "0.5", "0.2", "0.005", "2.5", "10")

CHECKS = st.one_of(
    st.sampled_from(["sum8", "xor8", "lrc"]).map(lambda kind: {"kind": kind}),
    st.sampled_from(["big", "little"]).map(lambda order: {"kind": "sum16", "order": order}),
    st.builds(
        lambda wide, order, poly, init, refin, refout, xorout: {
            "kind": "crc16" if wide else "crc8",
            "order": order,
            "polynomial": (poly if wide else poly % 256) | 1,
            "init": init if wide else init % 256,
            "refin": refin,
            "refout": refout,
            "xorout": xorout if wide else xorout % 256,
        },
        st.booleans(),
        st.sampled_from(["big", "little"]),
        st.integers(1, 65535),
        st.integers(0, 65535),
        st.booleans(),
        st.booleans(),
        st.integers(0, 65535),
    ),
)


@st.composite
def numbers(draw, holds: str) -> Number:
    encoding = draw(st.sampled_from(["integer", "integer", "bcd", "ascii"]))
    signs = {
        "integer": ["", "twos-complement", "sign-bit", "offset-binary", "byte"],
        "bcd": ["", "byte"],
        "ascii": [""],
    }
    units = ["mg", "g", "kg", "oz", "lb"] if holds == "weight" else ["°C", "°F", "K"]
    return Number(
        holds=holds,
        width=draw(st.integers(3, 12) if encoding == "ascii" else st.integers(1, 6)),
        order="big" if encoding == "ascii" else draw(st.sampled_from(["big", "little"])),
        encoding=encoding,
        signed=draw(st.sampled_from(signs[encoding])),
        scale=draw(st.sampled_from(SCALES)),
        unit=draw(st.sampled_from(units)),
    )


@st.composite
def layouts(draw, *, checked: bool = False, wide_check: bool = False) -> Layout:
    """Make up a device."""
    held = draw(st.sampled_from([["weight"], ["temperature"], ["weight", "temperature"]]))
    check = draw(CHECKS if checked else st.one_of(st.just({}), CHECKS))
    if wide_check:
        check = {"kind": "crc16", "order": "big", "polynomial": 0x1021, "init": 0xFFFF}
        check |= {"refin": False, "refout": False, "xorout": 0}
    end = draw(st.sampled_from(["length", "length_field", "terminator"]))
    return Layout(
        header=draw(st.lists(st.integers(0, 255), min_size=1, max_size=3)),
        numbers=[draw(numbers(holds)) for holds in held],
        end=end,
        check=check,
        gap=draw(st.integers(0, 3)),
        terminator=[0x0D, 0x0A] if end == "terminator" or draw(st.booleans()) else [],
    )


@st.composite
def layouts_with_steps(draw, count: int = 1, **options: bool) -> tuple[Layout, list[list[int]]]:
    """Make up a device and what it sends."""
    layout = draw(layouts(**options))
    steps = [[draw(st.integers(*number.limits)) for number in layout.numbers] for _ in range(count)]
    return layout, steps
