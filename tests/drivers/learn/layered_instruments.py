"""Instruments at random, made in layers as real ones are: pan, converter, display, message, line.

What is awkward here lies below the message: drift, taps on the bench, a display that averages or holds,
loads that were weighed on a kitchen scale, a line that is read in pieces or in blocks. Shares nothing
with the other made-up instruments but the envelope.
"""

from __future__ import annotations

import math
import random
import struct
from collections.abc import Callable, Iterator

from tests.drivers.learn.session import OUNCE_G, Sent, Session

POUND_G = 453.59237


class Pan:
    """What truly lies on the pan, and what shakes it."""

    def __init__(
        self, rng: random.Random, loads: list[float], dwell_s: float, *, drifts: bool, moving: bool
    ) -> None:
        self._loads, self._dwell_s, self._moving = loads, dwell_s, moving
        self._swing_s, self._damping_s = rng.uniform(0.15, 0.6), rng.uniform(0.08, 0.35)
        self._drift_g_s = rng.choice([0.0, 0.0, 0.002, -0.003]) * drifts
        self._laid_s = rng.uniform(0.0, 0.6)
        self._taps = [
            (rng.uniform(0, self.end_s), rng.uniform(-40, 60)) for _ in range(rng.choice([0, 0, 1, 3]))
        ]

    @property
    def end_s(self) -> float:
        return self._dwell_s * len(self._loads)

    def true_g(self, time_s: float) -> float:
        at = min(int(time_s / self._dwell_s), len(self._loads) - 1)
        since_s = time_s - at * self._dwell_s - self._laid_s
        before_g = self._loads[at - 1] if at else self._loads[0]
        left = (
            1.0 if since_s < 0 else math.exp(-since_s / self._damping_s) * math.cos(since_s / self._swing_s)
        )
        weight_g = self._loads[at] + (before_g - self._loads[at]) * left + self._drift_g_s * time_s
        if self._moving and 0.5 < since_s < 0.5 * self._dwell_s:
            weight_g += 30.0 * (since_s - 0.5) * math.exp(-0.5 * (since_s - 0.5) ** 2)
        return weight_g + sum(g for when_s, g in self._taps if 0 <= time_s - when_s < 0.12)


class Display:
    """What is shown of it: averaged, held, drawn to nought, in steps."""

    def __init__(self, rng: random.Random, step_g: float) -> None:
        self.step_g = step_g
        self._kind = rng.choice(["plain", "plain", "average", "hold", "nought"])
        self._kept: list[float] = []
        self._shown = 0

    def steps(self, weight_g: float) -> int:
        self._kept = [*self._kept[-3:], weight_g]
        value = (sum(self._kept) / len(self._kept) if self._kind == "average" else weight_g) / self.step_g
        if self._kind == "hold" and abs(value - self._shown) < 0.8:
            return self._shown
        if self._kind == "nought" and abs(value) < 1.4:
            value = 0.0
        self._shown = round(value)
        return self._shown


# Checks: what is looked over, and the bytes


def crc_bits(data: bytes, width: int, poly: int, start: int, end: int, *, back_to_front: bool) -> int:
    """Bit by bit, as a shift register does it."""
    register, top = start, 1 << width - 1
    for byte in data:
        for bit in range(8):
            incoming = byte >> (bit if back_to_front else 7 - bit) & 1
            outgoing = (register & 1) if back_to_front else register >> width - 1
            if back_to_front:
                mirrored = int(f"{poly:0{width}b}"[::-1], 2)
                register = register >> 1 ^ (mirrored if outgoing ^ incoming else 0)
            else:
                register = (register << 1) & (2 * top - 1) ^ (poly if outgoing ^ incoming else 0)
                register &= 2 * top - 1
    return register ^ end


CRCS = {
    "crc8-07": (8, 0x07, 0, 0, False), "crc8-2f": (8, 0x2F, 0xFF, 0xFF, False),
    "crc8-d5": (8, 0xD5, 0, 0, False),
    "crc8-31r": (8, 0x31, 0, 0, True), "crc8-07r": (8, 0x07, 0xFF, 0, True),
    "crc16-1021": (16, 0x1021, 0, 0, False), "crc16-1021f": (16, 0x1021, 0xFFFF, 0, False),
    "crc16-1021r": (16, 0x1021, 0, 0, True), "crc16-8005r": (16, 0x8005, 0xFFFF, 0, True),
    "crc16-3d65r": (16, 0x3D65, 0, 0xFFFF, True),
}  # fmt: skip
SUMS: dict[str, Callable[[bytes], int]] = {
    "sum": lambda data: sum(data) & 0xFF,
    "sum-inverted": lambda data: ~sum(data) & 0xFF,
    "sum-to-nought": lambda data: -sum(data) & 0xFF,
    "xor": lambda data: __import__("functools").reduce(int.__xor__, data, 0),
    "xor-ff": lambda data: __import__("functools").reduce(int.__xor__, data, 0xFF),
}


def check_bytes(kind: str, data: bytes, order: str) -> bytes:
    if kind in SUMS:
        return bytes([SUMS[kind](data)])
    if kind == "sum16":
        return (sum(data) & 0xFFFF).to_bytes(2, order)
    width, poly, start, end, mirrored = CRCS[kind]
    return crc_bits(data, width, poly, start, end, back_to_front=mirrored).to_bytes(width // 8, order)


# Numbers


class Weight:
    """How a count of display steps is put into bytes."""

    def __init__(self, rng: random.Random) -> None:
        self.form = rng.choices(
            ["whole", "apart", "offset", "bit", "packed", "raw", "bcd", "text", "float", "hex"],
            [6, 3, 1, 2, 1, 2, 2, 2, 2, 1],
        )[0]
        self.order = rng.choice(["big", "little"])
        self.unit = "odd" if self.form == "raw" else rng.choices(["g", "oz", "lb"], [12, 2, 1])[0]
        per_step = {"g": [0.1, 0.1, 0.1, 0.01, 0.01, 0.05, 0.5, 1.0], "oz": [0.01, 0.005, 0.001],
                    "lb": [0.001, 0.0001], "odd": [0.02]}[self.unit]  # fmt: skip
        self.per_step = rng.choice(per_step)
        self.step_g = self.per_step * {"g": 1.0, "oz": OUNCE_G, "lb": POUND_G, "odd": 1.0}[self.unit]
        # Where fives are counted in, the number says tenths or hundredths all the same.
        self.in_fives = self.form in ("text", "float") or rng.random() < 0.5
        self.factor = {0.05: 5, 0.5: 5, 0.005: 5}.get(self.per_step, 1) if self.in_fives else 1
        most = 1500.0 / self.step_g * self.factor
        self.width = max(2, math.ceil((math.log2(most) + 1) / 8))
        self.width = min(4, rng.choice([self.width, self.width, self.width + 1, 4]))
        self.digits = max(5, len(str(int(most)))) + rng.choice([0, 1])
        self.digits += self.digits % 2 if self.form in ("bcd", "hex") else 0
        self.counts_per_g = rng.uniform(60, 1500) * rng.choice([1, 1, -1])
        self.nought = rng.randrange(-150_000, 300_000)
        self.sign_first = rng.random() < 0.6
        self.signs = rng.choice(
            [(b"\0", b"\1"), (b"+", b"-"), (b"\0", b"\xff"), (b" ", b"-"), (b"\0", b"\x80")]
        )
        self.top = rng.choice([0x10, 0x40, 0x80, 0xC0])
        self.pad = rng.choice("0 ")

    def bytes_of(self, steps: int, weight_g: float) -> tuple[bytes, float]:
        """Give the bytes, and what they say in g."""
        if self.form == "raw":
            counts = round(weight_g * self.counts_per_g) + self.nought
            data = (counts & 0xFFFFFFFF).to_bytes(4, "big")[-max(3, self.width) :]
            return data if self.order == "big" else data[::-1], (counts - self.nought) / self.counts_per_g
        number, shown_g = steps * self.factor, steps * self.step_g
        size, sign = abs(number), self.signs[number < 0]
        if self.form == "whole":
            data = (number & (1 << 8 * self.width) - 1).to_bytes(self.width, self.order)
        elif self.form == "offset":
            data = (number + (1 << 8 * self.width - 1)).to_bytes(self.width, self.order)
        elif self.form == "bit":
            data = (size | (number < 0) << 8 * self.width - 1).to_bytes(self.width, self.order)
        elif self.form == "packed":  # 20 bits, flags above them
            data = (number & 0xFFFFF | self.top << 16).to_bytes(3, self.order)
        elif self.form == "apart":
            data = self._with_sign(size.to_bytes(self.width, self.order), sign)
        elif self.form == "bcd":
            packed = bytes.fromhex(f"{size:0{self.digits}d}")
            data = self._with_sign(packed if self.order == "big" else packed[::-1], sign)
        elif self.form == "hex":
            data = f"{number & (1 << 4 * self.digits) - 1:0{self.digits}X}".encode()
        elif self.form == "float":
            data = struct.pack((">" if self.order == "big" else "<") + "f", steps * self.per_step)
        else:
            places = max(0, -math.floor(math.log10(self.per_step) + 1e-9))
            text = f"{abs(steps) * self.per_step:.{places}f}".rjust(self.digits + 1, self.pad)
            data = ("-" if steps < 0 else "+").encode() + text.encode()
        return data, shown_g

    def _with_sign(self, data: bytes, sign: bytes) -> bytes:
        return sign + data if self.sign_first else data + sign


# Messages


class Instrument:
    """One instrument.

    :param seed: everything about it
    """

    def __init__(self, seed: int) -> None:
        self.rng = rng = random.Random(f"layered {seed}")
        self.link = rng.choice(["ble", "serial", "serial"])
        self.weight = Weight(rng)
        self.number = {"step_g": self.weight.step_g, "unit": self.weight.unit, "kind": self.weight.form}
        self.rate_hz = rng.choice([6.0, 8.0, 10.0, 10.0, 12.0, 15.0, 20.0, 25.0])
        step_g = 0.05 if self.weight.unit == "odd" else self.weight.step_g
        self.noise_g = min(0.3, step_g * rng.choice([0.0, 0.1, 0.3, 0.6, 1.2]))
        self.is_text = self.link == "serial" and self.weight.form in ("text", "hex") and rng.random() < 0.7
        self.check = rng.choice(["none", "none", "sum16", *SUMS, *CRCS]) if not self.is_text else "none"
        self.check_order = rng.choice(["big", "little"])
        first = rng.choice([0xA1, 0xB7, 0xC9, 0xE4, 0xF1, 0x5C, 0x69, 0x02, 0x01, 0x1B, 0x7F, 0x99, 0xD8])
        self.header = bytes([first, *(rng.randrange(1, 256) for _ in range(rng.choice([0, 1, 1, 2])))])
        if self.link == "ble" and rng.random() < 0.5:
            self.header = b""
        self.trailer = rng.choice([b"", b"", b"", b"\r\n", b"\x03", b"\xff", b"\x7e"])
        self.has_length, self.covers_header = rng.random() < 0.3, rng.random() < 0.6
        self.before = [self._other() for _ in range(rng.choice([0, 0, 1, 2, 3, 5]))]
        self.after = [self._other() for _ in range(rng.choice([0, 0, 1, 2, 3, 4]))]
        self.words = rng.sample(["w", "Net", "load", "A", "reading"], 3)
        self.line_form = rng.choice(["columns", "commas", "equals"])
        self.streams = rng.choice([1, 1, 2, 4]) if self.link == "ble" else 1
        self.at = rng.randrange(self.streams)
        self.uuids = [
            f"{rng.getrandbits(32):08x}-7a51-4c0e-8d21-{rng.getrandbits(48):012x}"
            for _ in range(self.streams)
        ]
        self.delivery = (
            rng.choices(["whole", "pieces", "blocks"], [6, 3, 1])[0] if self.link == "serial" else "whole"
        )
        self.layout: list[object] = []

    def _other(self) -> tuple[str, int, str]:
        name = self.rng.choice(
            ["count", "count16", "count-by-3", "ms", "tenths", "charge", "celsius", "slow", "other-unit",
             "flow", "fixed", "nought", "noise", "rest", "coarse"]
        )  # fmt: skip
        return name, self.rng.randrange(256), self.rng.choice(["big", "little"])

    def _other_bytes(self, what: tuple[str, int, str], now: dict[str, float]) -> bytes:
        name, fixed, order = what
        number, width = {
            "count": (now["number"], 1), "count16": (now["number"] + 250 * fixed, 2),
            "count-by-3": (3 * now["number"], 1), "ms": (now["time_s"] * 1000 + 1e5 * fixed, 4),
            "tenths": (now["time_s"] * 10 + 90 * fixed, 2),
            "charge": (20 + fixed % 80 - now["time_s"] // 100, 1),
            "celsius": (210 + fixed % 40 + now["time_s"] / 25 + now["flip"], 2),
            "slow": (now["slow_g"] * 10, 3),
            "other-unit": (now["shown_g"] / OUNCE_G * 100, 3), "flow": (now["flow_g_s"] * 10, 2),
            "fixed": (fixed, 1), "nought": (0, 1), "noise": (now["noise"], 1),
            "rest": (fixed & 0x6F | (0x10 if now["still"] else 0x80), 1), "coarse": (now["shown_g"], 2),
        }[name]  # fmt: skip
        return (round(number) & (1 << 8 * width) - 1).to_bytes(width, order)

    def message(self, weight: bytes, now: dict[str, float]) -> bytes:
        if self.is_text:
            return self._line(weight.decode(), now)
        body = b"".join(self._other_bytes(one, now) for one in self.before) + weight
        body += b"".join(self._other_bytes(one, now) for one in self.after)
        head = self.header + (bytes([len(body)]) if self.has_length else b"")
        covered = head + body if self.covers_header else body
        check = check_bytes(self.check, covered, self.check_order) if self.check != "none" else b""
        return head + body + check + self.trailer

    def _line(self, text: str, now: dict[str, float]) -> bytes:
        unit = {"odd": ""}.get(self.weight.unit, self.weight.unit)
        if self.line_form == "columns":
            return f"{self.words[0]} {text} {unit}\r\n".encode()
        if self.line_form == "commas":
            rest = "S" if now["still"] else "D"
            return f"{int(now['number']) % 1000},{text.strip()},{unit},{rest}\r\n".encode()
        others = f"{self.words[1]}={now['slow_g']:.1f} t={now['time_s']:.2f}"
        return f"{self.words[0]}={text.strip()} {others}\n".encode()

    # Sessions

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
        inexact = self.weight.unit != "odd"
        true = [g + rng.uniform(-0.04, 0.04) * inexact * (g != 0) for g in loads]
        pan, display = (
            Pan(rng, true, dwell_s, drifts=inexact, moving=moving),
            Display(self.rng, self.weight.step_g),
        )
        sent = [
            self._hurt(one, rng) if rng.random() < damage else one
            for one in self._sent(pan, display, rng, dwell_s)
        ]
        if self.delivery == "pieces":
            sent = [piece for one in sent for piece in in_pieces(one, rng)]
        elif self.delivery == "blocks":
            sent = in_blocks(sent, rng)
        begun = dwell_s * 0.5 * moving
        return Session(
            sent, [(g, at * dwell_s + begun, (at + 1) * dwell_s - 0.1) for at, g in enumerate(loads)]
        )

    def _sent(self, pan: Pan, display: Display, rng: random.Random, dwell_s: float) -> Iterator[Sent]:
        time_s, number, slow_g = 0.0, rng.randrange(5000), pan.true_g(0.0)
        while time_s < pan.end_s:
            weight_g = pan.true_g(time_s) + rng.gauss(0.0, self.noise_g)
            lag = 1 - math.exp(-1 / self.rate_hz / 0.8)
            last_g, slow_g = slow_g, slow_g + (weight_g - slow_g) * lag
            data, shown_g = self.weight.bytes_of(display.steps(weight_g), weight_g)
            now = {"time_s": time_s, "number": number, "slow_g": slow_g, "shown_g": shown_g,
                   "flow_g_s": (slow_g - last_g) * self.rate_hz, "noise": rng.randrange(256),
                   "flip": rng.choice([0, 0, 1]), "still": time_s % dwell_s > 2.0}  # fmt: skip
            yield Sent(time_s, self.at, self.message(data, now), shown_g)
            for stream in range(self.streams):
                if stream != self.at and number % (stream + 2) == 0:
                    yield Sent(
                        time_s + 0.002,
                        stream,
                        bytes([stream, number & 0xFF]) + struct.pack("<H", int(time_s)),
                    )
            number += 1
            time_s += rng.uniform(0.93, 1.07) / self.rate_hz

    def _hurt(self, one: Sent, rng: random.Random) -> Sent:
        data = bytearray(one.data)
        how = rng.choice(["flip", "short", "lose", "add"])
        place = rng.randrange(len(data))
        if how == "flip":
            data[place] ^= rng.randrange(1, 256)
        elif how == "short":
            del data[max(place, 1) :]
        elif how == "lose":
            del data[place]
        else:
            data.insert(place, rng.randrange(256))
        return Sent(one.time_s, one.stream, bytes(data), one.shown_g, True)


# Lines


def in_pieces(one: Sent, rng: random.Random) -> list[Sent]:
    """A frame as a port hands it over: in a few pieces, milliseconds apart."""
    count = rng.choice([1, 2, 2, 3])
    cuts = sorted({rng.randrange(1, max(2, len(one.data))) for _ in range(count - 1)})
    ends = [*cuts, len(one.data)]
    pieces = [one.data[a:b] for a, b in zip([0, *cuts], ends, strict=True)]
    times = [one.time_s + 0.004 * at for at in range(len(pieces))]
    return [
        Sent(when_s, one.stream, piece, None if at else one.shown_g, one.damaged)
        for at, (when_s, piece) in enumerate(zip(times, pieces, strict=True)) if piece
    ]  # fmt: skip


def in_blocks(sent: list[Sent], rng: random.Random) -> list[Sent]:
    """A line that is read now and then: what has come by then, be it the middle of a frame."""
    found: list[Sent] = []
    for one in sent:
        cut = rng.randrange(1, len(one.data)) if len(one.data) > 1 else 0
        found.append(Sent(one.time_s, 0, one.data[:cut], one.shown_g, one.damaged))
        # The rest comes with the next block.
        found.append(Sent(one.time_s + 0.02, 0, one.data[cut:]))
    return found


def random_loads(rng: random.Random, count: int) -> list[float]:
    """Whatever stands about in a kitchen, and now and then a glass lifted off after taring."""
    some = [round(rng.uniform(15, 900), 1) for _ in range(count - 1)]
    while min(abs(a - b) for at, a in enumerate([0.0, *some]) for b in some[at:]) < 10:
        some = [round(rng.uniform(15, 900), 1) for _ in range(count - 1)]
    if rng.random() < 0.15:
        some[-1] = -round(rng.uniform(20, 300), 1)
    return [0.0, *some]
