"""More instruments at random, thought up from the other end: what makes each of them awkward to understand.

Several kinds of messages on one characteristic, halves of bytes the wrong way round, units that are half a
joke, weights that begin anywhere. Shares nothing with ``drivers`` but the bytes.
"""

from __future__ import annotations

import math
import random
import struct

from tests.drivers.learn.session import OUNCE_G as OZ
from tests.drivers.learn.session import Sent, Session


def put(value: int, width: int, little: bool) -> bytes:
    value &= (1 << 8 * width) - 1
    return value.to_bytes(width, "little" if little else "big")


def crc(data: bytes, bits: int, poly: int, init: int, mirrored: bool, out: int) -> int:
    reg = init
    if mirrored:
        back = int(format(poly, f"0{bits}b")[::-1], 2)
        for byte in data:
            reg ^= byte
            for _ in range(8):
                reg = reg >> 1 ^ (back if reg & 1 else 0)
        return reg ^ out
    for byte in data:
        reg ^= byte << (bits - 8)
        for _ in range(8):
            reg = (reg << 1 ^ (poly if reg >> (bits - 1) else 0)) & ((1 << bits) - 1)
    return reg ^ out


CHECKS = {
    "none": lambda d: b"",
    "sum": lambda d: bytes([sum(d) & 255]),
    "complement": lambda d: bytes([~sum(d) & 255]),
    "negative": lambda d: bytes([-sum(d) & 255]),
    "xor": lambda d: bytes([__import__("functools").reduce(lambda a, b: a ^ b, d, 0)]),
    "ccitt": lambda d: put(crc(d, 16, 0x1021, 0xFFFF, False, 0), 2, False),
    "modbus": lambda d: put(crc(d, 16, 0x8005, 0xFFFF, True, 0), 2, True),
    "maxim": lambda d: bytes([crc(d, 8, 0x31, 0, True, 0)]),
    "smbus": lambda d: bytes([crc(d, 8, 0x07, 0, False, 0)]),
    "sum16": lambda d: put(sum(d), 2, True),
}

WEIGHTS = [
    "i16", "i24", "i32", "mg32", "u32", "float", "double", "bcd", "bcd_swapped", "digits", "ascii",
    "ascii_unit", "hex",
    "raw24", "raw32", "sign_byte", "sign_first", "twelve_bits", "flags_on_top", "oz16", "oz32",
    "tenth_oz", "points", "halves",
]  # fmt: skip


class Instrument:
    """One instrument.

    :param seed: everything about it
    """

    def __init__(self, seed: int) -> None:
        self.r = r = random.Random(f"contrary {seed}")
        self.link = r.choice(["ble", "ble", "serial"])
        self.kind = r.choice(WEIGHTS)
        self.little = r.random() < 0.5
        self.check = r.choice(list(CHECKS))
        self.rate_hz = r.choice([10.0, 12.5, 16.0, 20.0])
        self.streams = r.choice([1, 2, 3, 5, 8]) if self.link == "ble" else 1
        self.uuids = [
            f"{r.getrandbits(32):08x}-0000-1000-8000-{r.getrandbits(48):012x}" for _ in range(self.streams)
        ]
        self.at = r.randrange(self.streams)
        self.step_g, unit = {
            "i16": (0.1, "g"), "i24": (0.01, "g"), "i32": (0.01, "g"), "mg32": (0.001, "g"),
            "u32": (0.1, "g"),
            "float": (0.01, "g"), "double": (0.01, "g"), "bcd": (0.1, "g"), "bcd_swapped": (0.1, "g"),
            "digits": (0.1, "g"), "ascii": (0.1, "g"), "ascii_unit": (0.01, "g"), "hex": (0.1, "g"),
            "raw24": (0.1, "odd"), "raw32": (0.1, "odd"), "sign_byte": (0.1, "g"), "sign_first": (0.01, "g"),
            "twelve_bits": (1.0, "g"), "flags_on_top": (0.1, "g"), "oz16": (0.01 * OZ, "oz"),
            "oz32": (0.001 * OZ, "oz"), "tenth_oz": (0.1 * OZ, "oz"), "points": (0.1, "g"),
            "halves": (0.5, "g"),
        }[self.kind]  # fmt: skip
        self.number = {"step_g": self.step_g, "unit": unit, "kind": self.kind}
        self.counts_per_g, self.nought = r.uniform(80, 1200), r.randrange(-200_000, 400_000)
        self.header = bytes(
            r.choice([0xAA, 0xA5, 0x55, 0x5A, 0xC3, 0xD2, 0xEB, 0x90]) for _ in range(r.choice([1, 2, 2, 3]))
        )
        if self.link == "ble" and r.random() < 0.4:
            self.header = b""
        self.types = r.choice([1, 1, 1, 2, 3])
        self.selector = r.random() < 0.8 or self.types > 1
        self.footer = r.choice([b"", b"", b"\r\n", b"\x16", b"\xbb"])
        self.before = [
            r.choice(["clock32", "count", "const", "charge", "zero", "temp"])
            for _ in range(r.choice([0, 0, 1, 2, 3]))
        ]
        self.after = [
            r.choice(["clock16", "count", "const", "charge", "zero", "flow", "slow", "oz", "status", "temp"])
            for _ in range(r.choice([0, 1, 1, 2, 3]))
        ]
        self.consts = {i: r.randrange(256) for i in range(20)}
        self.noise_g = self.step_g * r.choice([0.0, 0.4, 0.8, 1.5])
        if unit == "odd":
            self.noise_g = r.choice([0.0, 0.02, 0.05])
        self.noise_g = min(self.noise_g, 0.4)
        self.layout: list = []

    # Weight

    def weigh(self, g: float) -> tuple[bytes, float]:
        """Give bytes and what they say, g."""
        n = round(g / self.step_g)
        shown = n * self.step_g
        k, le = self.kind, self.little
        if k in ("raw24", "raw32"):
            c = round(g * self.counts_per_g) + self.nought
            return put(c, 3 if k == "raw24" else 4, le), (c - self.nought) / self.counts_per_g
        a = abs(n)
        simple = {"i16": 2, "i24": 3, "i32": 4, "mg32": 4, "oz16": 2, "oz32": 4, "tenth_oz": 2, "halves": 2}
        if k in simple:
            return put(n, simple[k], le), shown
        if k == "u32":
            return put(max(n, 0), 4, le), max(n, 0) * self.step_g
        if k in ("float", "double"):
            return struct.pack(("<" if le else ">") + ("f" if k == "float" else "d"), round(shown, 2)), shown
        if k in ("bcd", "bcd_swapped"):
            digits = f"{a:06d}"
            if k == "bcd_swapped":
                digits = "".join(digits[i + 1] + digits[i] for i in range(0, 6, 2))
            data = bytes.fromhex(digits)
            return bytes([0x2D if n < 0 else 0x2B]) + (data[::-1] if le else data), shown
        if k == "digits":
            return bytes([1 if n < 0 else 0]) + bytes(map(int, f"{a:05d}")), shown
        if k == "ascii":
            return f"{shown:+09.1f}".encode(), shown
        if k == "ascii_unit":
            return f"{shown:9.2f} g".encode(), shown
        if k == "hex":
            return f"{n & 0xFFFFFF:06X}".encode(), shown
        if k == "sign_byte":
            return put(a, 2, le) + bytes([0xFF if n < 0 else 0]), shown
        if k == "sign_first":
            return bytes([1 if n < 0 else 0]) + put(a, 3, le), shown
        if k == "twelve_bits":
            return put((n & 0xFFF) | (0x5000), 2, le), shown
        if k == "flags_on_top":
            return put((a & 0x3FFFFF) | (0x800000 if n < 0 else 0), 3, le), shown
        assert k == "points"
        # a number and, behind it, how many of its digits are decimals
        if abs(shown) < 100:
            m = round(g * 100)
            return put(m, 3, le) + b"\x02", m / 100
        return put(n, 3, le) + b"\x01", shown

    # Frames

    def _other(self, what: str, i: int, x: dict) -> bytes:
        t = x["t"]
        if what == "clock32":
            return put(int(t * 1000) + 77_000, 4, self.little)
        if what == "clock16":
            return put(int(t * 10) + 65_000, 2, self.little)
        if what == "count":
            return bytes([x["n"] & 255])
        if what == "const":
            return bytes([self.consts[i]])
        if what == "charge":
            return bytes([max(3, 88 - int(t // 60))])
        if what == "zero":
            return b"\0"
        if what == "temp":
            return put(round(222 + t / 30 + x["j"]), 2, self.little)
        if what == "flow":
            return put(round(x["flow"] * 10), 2, self.little)
        if what == "slow":
            return put(round(x["slow"] * 10), 2, self.little)
        if what == "oz":
            return put(round(x["slow"] / OZ * 100), 2, self.little)
        return bytes([(4 if x["still"] else 1) | 0x20])

    def message(self, g: float, x: dict) -> tuple[bytes, float]:
        weight, shown = self.weigh(g)
        body = b"\x01" if self.selector else b""
        for i, what in enumerate(self.before):
            body += self._other(what, i, x)
        body += weight
        for i, what in enumerate(self.after):
            body += self._other(what, 10 + i, x)
        return self._whole(body), shown

    def side_message(self, kind: int, x: dict) -> bytes:
        body = bytes([kind + 1]) + (
            put(x["n"], 2, self.little) + bytes([88, 3, 0])
            if kind == 1
            else bytes([x["n"] & 255, 21, self.consts[3], 0, 9, 7, 7])
        )
        return self._whole(body)

    def _whole(self, body: bytes) -> bytes:
        data = self.header + body
        return data + CHECKS[self.check](data) + self.footer

    def session(
        self,
        loads: list[float],
        seed: int,
        dwell_s: float = 12.0,
        *,
        damage: float = 0.02,
        moving: bool = False,
    ) -> Session:
        r = random.Random(seed)
        tau, slow_tau = r.uniform(0.1, 0.4), r.uniform(0.5, 1.2)
        sent: list[Sent] = []
        slow = last = loads[0]
        t, n = 0.0, r.randrange(200)
        while t < dwell_s * len(loads):
            i = int(t / dwell_s)
            since = t - i * dwell_s
            was = loads[i - 1] if i else loads[0]
            true = loads[i] + (was - loads[i]) * math.exp(-since / tau)
            if moving and since < dwell_s / 2:
                true += 9.0 * math.sin(2.1 * t)
            true += r.gauss(0, self.noise_g)
            slow += (true - slow) * (1 - math.exp(-1 / self.rate_hz / slow_tau))
            x = {
                "t": t,
                "n": n,
                "slow": slow,
                "flow": (true - last) * self.rate_hz,
                "still": since > 5 * tau,
                "j": r.choice([0, 0, 1]),
            }
            last = true
            data, shown = self.message(true, x)
            sent.append(Sent(t, self.at, data, shown))
            if self.types > 1 and r.random() < (0.5 if self.types == 2 else 0.2):
                sent.append(Sent(t + 0.004, self.at, self.side_message(r.randrange(1, self.types), x)))
            for s in range(self.streams):
                if s != self.at and n % (s + 2) == 0:
                    sent.append(Sent(t + 0.001 * (s + 1), s, bytes([s, n & 255, 99]) + put(int(t), 2, True)))  # noqa: PERF401  # as it is read
            n += 1
            t += 1 / self.rate_hz
        sent = [hurt(o, r) if r.random() < damage else o for o in sent]
        return Session(
            sent,
            [(g, i * dwell_s + dwell_s * 0.5 * moving, (i + 1) * dwell_s - 0.1) for i, g in enumerate(loads)],
        )


def hurt(o: Sent, r: random.Random) -> Sent:
    data = bytearray(o.data)
    if r.random() < 0.5:
        for _ in range(r.randint(1, 4)):
            data[r.randrange(len(data))] ^= 1 << r.randrange(8)
    else:
        del data[r.randrange(len(data))]
    return Sent(o.time_s, o.stream, bytes(data), o.shown_g, True)


def random_loads(rng: random.Random, count: int) -> list[float]:
    some = rng.sample([25, 50, 100, 123.4, 200, 227, 251.6, 366, 500, 700], count - 1)
    return [0.0, *map(float, sorted(some) if rng.random() < 0.6 else some)]
