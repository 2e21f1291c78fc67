"""Instruments at random, each a list of fields as a data sheet would print it.

What the others lack: gross and net beside each other, a sign among the flags or in a half byte, steps of two
and of five, packets filled up with noughts, messages of one length told apart by a byte, checks written as
digits or standing in front, a display that is slow. Shares nothing with the other made-up instruments but
the envelope.
"""

from __future__ import annotations

import math
import random
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import reduce

from tests.drivers.learn.session import OUNCE_G, Sent, Session

Now = dict[str, float]
Field = Callable[[Now], bytes]


def packed(value: float, size: int, end: str) -> bytes:
    return (round(value) & (1 << 8 * size) - 1).to_bytes(size, end)


# The weight


@dataclass
class Weight:
    """A weight as bytes: how large a step is, and what the bytes of a number of steps are.

    :param minus: where its sign stands among the flags: the bit; 0 where it says so itself
    """

    form: str
    unit: str
    step: float
    size: int
    end: str
    minus: int = 0
    gain: float = 1.0
    nought: int = 0
    coarse: int = 1

    @property
    def step_g(self) -> float:
        each = {"g": 1.0, "oz": OUNCE_G, "odd": 1.0}[self.unit]
        return self.step * self.coarse * each

    def shown_g(self, weight_g: float) -> float:
        if self.unit == "odd":
            return (self._counts(weight_g) - self.nought) / self.gain
        return round(weight_g / self.step_g) * self.step_g

    def _counts(self, weight_g: float) -> int:
        return round(weight_g * self.gain) + self.nought

    def bytes_of(self, weight_g: float) -> bytes:
        if self.unit == "odd":
            return packed(self._counts(weight_g), self.size, self.end)
        steps = round(weight_g / self.step_g) * self.coarse
        size = abs(steps)
        if self.form == "twos":
            return packed(steps, self.size, self.end)
        if self.form == "offset":
            return packed(steps + (1 << 8 * self.size - 1), self.size, self.end)
        if self.form == "top bit":
            return packed(size | (steps < 0) << 8 * self.size - 1, self.size, self.end)
        if self.form == "among flags":
            return packed(size, self.size, self.end)
        if self.form == "sign byte":
            return (b"-" if steps < 0 else b"+") + packed(size, self.size, self.end)
        if self.form == "sign behind":
            return packed(size, self.size, self.end) + bytes([steps < 0])
        if self.form == "bcd":
            data = bytes([0x10 * (steps < 0)]) + bytes.fromhex(f"{size:06d}")
            return data if self.end == "big" else data[::-1]
        if self.form == "bcd half":
            return bytes.fromhex(("D" if steps < 0 else "0") + f"{size:07d}")
        if self.form == "float":
            return struct.pack("<f" if self.end == "little" else ">f", steps * self.step)
        if self.form == "bare float":
            return struct.pack("<f" if self.end == "little" else ">f", weight_g)
        places = max(0, -math.floor(math.log10(self.step) + 1e-9))
        text = f"{steps * self.step:+.{places}f}"
        return (
            f"{text[0]}{text[1:]:>{8 if self.end == 'big' else 9}}".encode()
            if self.form == "text"
            else (text.lstrip("+").rjust(10).encode())
        )


def any_weight(rng: random.Random) -> Weight:
    form = rng.choice(["twos"] * 6 + ["offset", "top bit", "among flags", "sign byte", "sign behind", "bcd",
                       "bcd half", "float", "bare float", "text", "text", "tight text"])  # fmt: skip
    end = rng.choice(["big", "little"])
    if form == "twos" and rng.random() < 0.25:
        gain = rng.uniform(25.0, 2000.0) * rng.choice([1, 1, 1, -1])
        return Weight(
            "twos",
            "odd",
            0.05,
            rng.choice([3, 4, 4]),
            end,
            gain=gain,
            nought=rng.choice([0, rng.randrange(-90_000, 500_000)]),
        )
    unit, step = rng.choice(
        [("g", 0.1)] * 5 + [("g", 0.01)] * 4 + [("g", 0.001), ("g", 1.0), ("oz", 0.01), ("oz", 0.001)]
    )
    coarse = rng.choice([1, 1, 1, 1, 2, 5]) if step < 0.5 else 1
    needed = 2 if 2000.0 / step / (28 if unit == "oz" else 1) < 32000 else 3 if 2000 / step < 8e6 else 4
    weight = Weight(form, unit, step, max(needed, rng.choice([2, 3, 4])), end, coarse=coarse)
    if form == "among flags":
        weight.minus = rng.choice([0x80, 0x20, 0x08, 0x01])
    if form == "bcd" and step == 0.001:
        weight.step = 0.01
    if form == "bare float":
        weight.unit, weight.step, weight.coarse = "g", 0.01, 1
    return weight


# What looks over a message


def crc(data: bytes, bits: int, poly: int, init: int, out: int, reflected: bool) -> int:
    register, ones = init, (1 << bits) - 1
    for byte in data:
        byte = int(f"{byte:08b}"[::-1], 2) if reflected else byte
        for n in range(7, -1, -1):
            carry = (register >> bits - 1 ^ byte >> n) & 1
            register = register << 1 & ones ^ poly * carry
    return (int(f"{register:0{bits}b}"[::-1], 2) if reflected else register) ^ out


CHECKS: dict[str, Callable[[bytes], bytes]] = {
    "none": lambda data: b"",
    "sum": lambda data: bytes([sum(data) % 256]),
    "two's complement": lambda data: bytes([-sum(data) % 256]),
    "one's complement": lambda data: bytes([255 - sum(data) % 256]),
    "xor": lambda data: bytes([reduce(int.__xor__, data)]),
    "xor as digits": lambda data: f"{reduce(int.__xor__, data):02X}".encode(),
    "sum as digits": lambda data: f"{sum(data) % 256:02X}".encode(),
    "sum of 16": lambda data: packed(sum(data), 2, "big"),
    "8 bits, 07": lambda data: bytes([crc(data, 8, 0x07, 0, 0, False)]),
    "8 bits, 31": lambda data: bytes([crc(data, 8, 0x31, 0, 0, True)]),
    "8 bits, 1D": lambda data: bytes([crc(data, 8, 0x1D, 0xFF, 0xFF, False)]),
    "16 bits, 1021": lambda data: packed(crc(data, 16, 0x1021, 0xFFFF, 0, False), 2, "big"),
    "16 bits, 1021 from 0": lambda data: packed(crc(data, 16, 0x1021, 0, 0, False), 2, "big"),
    "16 bits, 8005": lambda data: packed(crc(data, 16, 0x8005, 0xFFFF, 0, True), 2, "little"),
    "16 bits, mirrored 1021": lambda data: packed(crc(data, 16, 0x1021, 0xFFFF, 0xFFFF, True), 2, "little"),
}  # fmt: skip


# The other fields


def other_field(rng: random.Random, weight: Weight) -> tuple[str, Field]:
    end, fixed = rng.choice(["big", "little"]), rng.randrange(256)
    volts = rng.randrange(3300, 4150)
    name, field = rng.choice([
        ("counter", lambda now: packed(now["n"], 1, end)),
        ("counter of 16", lambda now: packed(now["n"] + 200 * fixed, 2, end)),
        ("milliseconds", lambda now: packed(1000 * now["s"] + 977 * fixed, 4, end)),
        ("seconds", lambda now: packed(now["s"] + fixed, 2, end)),
        ("charge", lambda now: bytes([max(1, 15 + fixed % 85 - int(now["s"] / 90))])),
        ("volts", lambda now: packed(volts - now["s"] / 9 + now["flip"], 2, end)),
        ("celsius", lambda now: packed(2150 + fixed + now["s"] / 3 + now["flip"], 2, end)),
        ("celsius as float", lambda now: struct.pack("<f", 21.0 + fixed / 100 + now["s"] / 500)),
        ("net", lambda now: weight.bytes_of(now["weight_g"])),
        ("slow", lambda now: weight.bytes_of(now["slow_g"])),
        ("slow", lambda now: packed(now["slow_g"] * 10, 4, end)),
        ("ounces", lambda now: packed(now["shown_g"] / OUNCE_G * 1000, 4, end)),
        ("grams", lambda now: packed(now["shown_g"], 2, end)),
        ("flow", lambda now: packed(now["flow_g_s"] * 10, 2, end)),
        ("fixed", lambda now: bytes([fixed])),
        ("fixed", lambda now: bytes([fixed, 0, fixed ^ 0x5A])),
        ("noughts", lambda now: bytes(2)),
        ("anything", lambda now: bytes([int(now["any"])])),
    ])  # fmt: skip
    return name, field


class Instrument:
    """One instrument.

    :param seed: everything about it
    """

    def __init__(self, seed: int) -> None:
        self.rng = rng = random.Random(f"fielded {seed}")
        self.link = rng.choice(["ble", "serial"])
        self.weight = weight = any_weight(rng)
        self.number = {"step_g": weight.step_g, "unit": weight.unit}
        if weight.form == "bare float":
            self.number = {"step_g": 0.02, "unit": "g"}
        self.rate_hz = rng.choice([5.0, 8.0, 10.0, 10.0, 16.0, 20.0])
        self.noise_g = min(0.25, weight.step_g * rng.choice([0.0, 0.0, 0.3, 0.7, 1.5]))
        if weight.unit == "odd":
            self.noise_g = rng.choice([0.01, 0.04])
        self.slow_display_s = rng.choice([0.05, 0.2, 0.5])
        self.check = rng.choice(["none", "none", *CHECKS])
        self.flags = (
            rng.choice([0x01, 0x02, 0x04, 0x10, 0x40]),
            rng.choice([0, 0x40, 0x80, 0x18]),
            rng.random() < 0.7,
        )
        fields = [other_field(rng, weight) for _ in range(rng.choice([0, 1, 1, 2, 3, 4, 6]))]
        if weight.minus or rng.random() < 0.5:
            fields.append(("flags", self._flags))
        rng.shuffle(fields)
        self.desc = [name for name, _ in fields]
        if "net" in self.desc and self.check.startswith("xor"):
            self.check = "none"  # the two copies are nought together
        at = rng.randint(0, len(fields))
        self.desc.insert(at, weight)
        fields.insert(at, ("weight", lambda now: weight.bytes_of(now["weight_g"])))
        self.fields = [field for _, field in fields]
        if self.link == "serial":
            self.header = rng.choice(
                [
                    b"\x02",
                    b"\xaa\x55",
                    b"\x5a\xa5",
                    b"\xeb\x90",
                    b"\x24",
                    b"\x3c",
                    b"\xfa\xce\x01",
                    b"\x55\x55",
                    b"\x68",
                    b"\xc0\xde",
                ]
            )
            self.footer = rng.choice([b"", b"", b"\x03", b"\r\n", b"\x0d", b"\xaf"])
        else:
            self.header = rng.choice([b"", b"", b"\x01", b"\xa0\x11", b"\xfe\xef", b"\x5a", b"\x03\x0a"])
            self.footer = b""
        self.fills_to = 20 if self.link == "ble" and rng.random() < 0.2 else 0
        self.covers = rng.choice(["all", "body", "length on"])
        self.has_length = rng.random() < 0.35
        self.check_in_front = rng.random() < 0.06
        self.side = rng.choice([0, 0, 0, 1, 2]) if self.header else 0
        self.streams = rng.choice([1, 1, 2, 3, 6, 8]) if self.link == "ble" else 1
        self.at = rng.randrange(self.streams)
        self.uuids = [
            f"{rng.getrandbits(32):08x}-1212-4efd-b523-{rng.getrandbits(48):012x}"
            for _ in range(self.streams)
        ]
        self.elsewhere = [
            [other_field(rng, weight) for _ in range(rng.choice([1, 2, 4]))] for _ in range(self.streams)
        ]
        self.layout: list[object] = []

    def _flags(self, now: Now) -> bytes:
        still, rest, is_set = self.flags
        still = still << 1 if still == self.weight.minus else still
        value = rest & ~still & ~self.weight.minus
        value |= still if bool(now["still"]) == is_set else 0
        return bytes([(value | (self.weight.minus if now["shown_g"] < 0 else 0)) & 0xFF])

    def message(self, body: bytes) -> bytes:
        length = bytes([len(body)]) if self.has_length else b""
        covered = {"all": self.header + length + body, "body": body, "length on": length + body}[self.covers]
        check = CHECKS[self.check](covered)
        if self.check_in_front:
            return self.header + length + check + body + self.footer
        data = self.header + length + body + check + self.footer
        return data.ljust(self.fills_to, b"\0")

    def session(
        self,
        loads: list[float],
        seed: int,
        dwell_s: float = 12.0,
        *,
        damage: float = 0.02,
        moving: bool = False,
    ) -> Session:
        rng = random.Random(seed)
        typed = [g if self.weight.unit == "odd" else round(g, 1) for g in loads]
        sent = [
            hurt(one, rng) if rng.random() < damage else one
            for one in self._sent(loads, rng, dwell_s, moving)
        ]
        begun = 0.5 * dwell_s * moving
        spans = [(g, at * dwell_s + begun, (at + 1) * dwell_s - 0.1) for at, g in enumerate(typed)]
        return Session(sent, spans)

    def _sent(self, loads: list[float], rng: random.Random, dwell_s: float, moving: bool) -> Iterator[Sent]:
        s, n = 0.0, rng.randrange(3000)
        shown = slow = loads[0]
        lag_s = rng.uniform(0.5, 1.4)
        while s < dwell_s * len(loads):
            at = int(s / dwell_s)
            true = loads[at]
            if moving and s - at * dwell_s < 0.5 * dwell_s:
                true += 25.0 * math.sin(2.0 * math.pi * (s - at * dwell_s) / dwell_s) ** 2 - 4.0 * math.sin(
                    5.0 * s
                )
            gap_s = 1.0 / self.rate_hz
            shown += (true - shown) * (1.0 - math.exp(-gap_s / self.slow_display_s))
            last_g, slow = slow, slow + (true - slow) * (1.0 - math.exp(-gap_s / lag_s))
            weight_g = shown + rng.gauss(0.0, self.noise_g)
            shown_g = self.weight.shown_g(weight_g)
            if self.weight.form == "bare float":
                shown_g = weight_g
            now = {"s": s, "n": n, "weight_g": weight_g, "slow_g": slow, "shown_g": shown_g,
                   "any": rng.randrange(256), "flow_g_s": (slow - last_g) * self.rate_hz,
                   "flip": rng.choice([0, 0, 1]),
                   "still": abs(true - shown) < 2.0 * self.weight.step_g + 0.1}  # fmt: skip
            body = b"".join(field(now) for field in self.fields)
            kind = b"\x01" if self.side else b""
            yield Sent(s, self.at, self.message(kind + body), shown_g)
            if self.side and n % (4 if self.side == 1 else 9) == 0:
                size = len(body) if self.side == 1 else 5
                other = bytes([n & 255, 77, 3, *([0] * 40)])[:size]
                yield Sent(s + 0.003, self.at, self.message(b"\x02" + other))
            for stream in range(self.streams):
                if stream != self.at and n % (1 + stream % 3) == 0:
                    quiet = {**now, "weight_g": 0.0, "slow_g": 0.0, "shown_g": 0.0}
                    data = b"".join(field(quiet) for _, field in self.elsewhere[stream])
                    yield Sent(s + 0.001 * (1 + stream), stream, data)
            n += 1
            s += gap_s * rng.uniform(0.96, 1.04)


def hurt(one: Sent, rng: random.Random) -> Sent:
    data, at = bytearray(one.data), rng.randrange(len(one.data))
    how = rng.randrange(4)
    if how == 0:
        data[at] = rng.randrange(256)
    elif how == 1:
        data[at] ^= 1 << rng.randrange(8)
    elif how == 2:
        del data[at : at + rng.randrange(1, 3)]
    else:
        del data[at:]
    return Sent(one.time_s, one.stream, bytes(data), one.shown_g, True)


def random_loads(rng: random.Random, count: int) -> list[float]:
    """Choose loads by the glass: nothing, then water weighed elsewhere to tenths, or check masses."""
    if rng.random() < 0.4:
        some = [float(g) for g in rng.sample([10, 20, 50, 100, 200, 300, 500, 1000], count - 1)]
    else:
        some = [round(rng.uniform(20.0, 1100.0), 1) for _ in range(count - 1)]
    return [0.0, *(sorted(some) if rng.random() < 0.5 else some)]
