"""Instruments that nobody has described, at random: what they send, and what their displays show meanwhile.

Written from the ways in which numbers, frames and checks are commonly built, without a line of ``drivers``.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from dataclasses import dataclass, field

from tests.drivers.learn.session import OUNCE_G, Sent, Session

# The pan


class Pan:
    """A weight that goes from load to load, with the settling and the noise of a real one."""

    def __init__(
        self, rng: random.Random, loads: list[float], dwell_s: float, noise_g: float, bits: bool
    ) -> None:
        self._rng, self._noise_g = rng, noise_g
        self._loads, self._dwell_s = loads, dwell_s
        self.tau_s = rng.uniform(0.05, 0.5)
        self._wobble = rng.random() < 0.3
        self._walk = bits

    @property
    def end_s(self) -> float:
        return len(self._loads) * self._dwell_s

    def true_g(self, time_s: float) -> float:
        import math

        at = min(int(time_s / self._dwell_s), len(self._loads) - 1)
        since = time_s - at * self._dwell_s
        before = self._loads[at - 1] if at else self._loads[0]
        fade = math.exp(-since / self.tau_s)
        if self._wobble:
            fade *= math.cos(since * 9.0)
        weight = self._loads[at] + (before - self._loads[at]) * fade
        if self._walk:  # hands, water running
            weight += 12.0 * math.sin(time_s * 0.7) * (since < 0.5 * self._dwell_s)
        return weight

    def noisy_g(self, time_s: float) -> float:
        return self.true_g(time_s) + self._rng.gauss(0.0, self._noise_g)

    def at_rest(self, time_s: float) -> bool:
        return time_s % self._dwell_s > 5 * self.tau_s


# How numbers are written


def whole(value: int, width: int, order: str) -> bytes:
    return (value % (1 << 8 * width)).to_bytes(width, order)


def write_number(spec: dict, steps: int) -> dict[str, bytes]:
    """Write a number of steps; gives the bytes of the number and, where it stands apart, of its sign."""
    kind, width, order, sign = spec["encoding"], spec["width"], spec["order"], spec["sign"]
    if kind == "float":
        value = steps * spec["unit_per_step"]
        return {"number": struct.pack((">" if order == "big" else "<") + ("f" if width == 4 else "d"), value)}
    if kind == "ascii":
        text = f"{steps * spec['unit_per_step']:.{spec['decimals']}f}"
        negative = text.startswith("-") and float(text) != 0
        digits = text.lstrip("-").rjust(width - 1, spec["pad"])
        if spec["sign_place"] == "tight" and spec["pad"] == " ":
            mark = ("-" if negative else "+" if spec["plus"] else "") + text.lstrip("-")
            return {"number": mark.rjust(width).encode()[-width:]}
        return {"number": (("-" if negative else "+" if spec["plus"] else " ") + digits).encode()[:width]}
    magnitude = abs(steps)
    if kind == "bcd":
        digits = f"{magnitude:0{2 * width}d}"[-2 * width :]
        data = bytes.fromhex(digits)
        out = {"number": data if order == "big" else data[::-1]}
    elif sign == "twos":
        return {"number": whole(steps, width, order)}
    elif sign == "offset":
        return {"number": whole(steps + (1 << 8 * width - 1), width, order)}
    elif sign == "bit":
        top = (1 << 8 * width - 1) if steps < 0 else 0
        return {"number": whole(magnitude % (1 << 8 * width - 1) | top, width, order)}
    else:
        out = {"number": whole(magnitude, width, order)}
    if sign == "byte":
        out["sign"] = bytes([spec["sign_codes"][steps < 0]])
    return out


def random_number(rng: random.Random, most_g: float) -> dict:
    """Choose how the weight is written."""
    unit = rng.choices(["g", "oz", "odd"], [7, 1.5, 1.5])[0]
    per_step = {
        "g": rng.choice([0.1, 0.1, 0.01, 0.01, 0.001, 1.0]),
        "oz": rng.choice([0.01, 0.001, 0.1]),
    }.get(unit, 0.0)
    encoding = (
        rng.choices(["integer", "bcd", "ascii", "float"], [6, 1.2, 1.5, 1.3])[0]
        if unit != "odd"
        else "integer"
    )
    spec: dict = {
        "encoding": encoding,
        "unit": unit,
        "unit_per_step": per_step,
        "order": rng.choice(["big", "little"]),
    }
    if unit == "odd":
        spec["counts_per_g"] = rng.uniform(15, 900) * rng.choice([1, 1, 1, -1])
        spec["zero"] = rng.randint(-60000, 60000) if rng.random() < 0.7 else 0
        spec["step_g"] = max(0.1, 1 / abs(spec["counts_per_g"]))
        spec["unit_per_step"] = 0.0
        most = abs(spec["counts_per_g"]) * most_g + abs(spec["zero"])
    else:
        grams = per_step * (OUNCE_G if unit == "oz" else 1.0)
        spec["step_g"] = grams
        most = most_g / grams
    spec["decimals"] = {1.0: 0, 0.1: 1, 0.01: 2, 0.001: 3}.get(per_step, 2)
    spec["sign"] = rng.choice(["twos", "twos", "byte", "bit", "offset"]) if encoding == "integer" else "byte"
    if unit == "odd":
        spec["sign"] = rng.choice(["twos", "twos", "offset"])
    if encoding == "float":
        spec["width"], spec["sign"] = rng.choice([4, 4, 4, 8]), "float"
    elif encoding == "ascii":
        spec["width"] = len(f"{most * per_step:.{spec['decimals']}f}") + rng.choice([2, 3])
        spec["pad"], spec["plus"] = rng.choice(["0", " ", " "]), rng.random() < 0.6
        spec["sign_place"] = rng.choice(["tight", "apart"])
    else:
        base = 100 if encoding == "bcd" else 256
        width = 1
        while base**width / (1 if encoding == "bcd" else 2.05) < most:
            width += 1
        spec["width"] = min(max(width, rng.choice([1, 2, 3, 4])), 4)
    codes = rng.choice([(0, 1), (0x2B, 0x2D), (0, 0x80), (0, 0xFF), (1, 2), (0x20, 0x2D)])
    spec["sign_codes"] = codes
    return spec


# Checks


def check_of(kind: str, data: bytes, crc: dict) -> bytes:
    if kind == "sum":
        return bytes([sum(data) % 256])
    if kind == "xor":
        value = 0
        for byte in data:
            value ^= byte
        return bytes([value])
    if kind == "negsum":
        return bytes([-sum(data) % 256])
    if kind == "sum16":
        return (sum(data) % 65536).to_bytes(2, crc["order"])
    width = crc["width"]
    register = crc["init"]
    for byte in data:
        if crc["reflect"]:
            byte = int(f"{byte:08b}"[::-1], 2)
        register ^= byte << (width - 8)
        for _ in range(8):
            register = (register << 1) ^ (crc["poly"] if register >> (width - 1) & 1 else 0)
            register &= (1 << width) - 1
    if crc["reflect"]:
        register = int(f"{register:0{width}b}"[::-1], 2)
    return (register ^ crc["xorout"]).to_bytes(width // 8, crc["order"])


CRC8 = [
    (0x07, 0, False, 0),
    (0x31, 0, True, 0),
    (0x31, 0xFF, False, 0),
    (0x1D, 0xFF, False, 0xFF),
    (0x9B, 0, True, 0),
]
CRC16 = [
    (0x1021, 0xFFFF, False, 0), (0x1021, 0, False, 0), (0x8005, 0xFFFF, True, 0), (0x8005, 0, True, 0),
    (0x1021, 0xFFFF, True, 0xFFFF), (0x3D65, 0, True, 0xFFFF), (0x8BB7, 0, False, 0),
]  # fmt: skip


def random_crc(rng: random.Random, width: int) -> dict:
    poly, init, reflect, xorout = rng.choice(CRC8 if width == 8 else CRC16)
    return {"width": width, "poly": poly, "init": init, "reflect": reflect, "xorout": xorout,
            "order": rng.choice(["big", "little"])}  # fmt: skip


# The instrument


@dataclass
class Part:
    name: str
    width: int
    spec: dict = field(default_factory=dict)


class Instrument:
    """One instrument of a random kind.

    :param most_g: the largest load that it must be able to say
    """

    def __init__(self, seed: int, most_g: float = 1200.0, link: str | None = None) -> None:
        self.rng = rng = random.Random(seed)
        self.link = link or rng.choice(["ble", "serial"])
        self.number = random_number(rng, most_g)
        self.rate_hz = rng.uniform(10, 20)
        self.noise_g = self.number["step_g"] * rng.choice([0.0, 0.2, 0.5, 1.0, 2.0])
        self.noise_g = min(self.noise_g, 0.5)
        self.streams = rng.randint(1, 8) if self.link == "ble" else 1
        self.weight_stream = rng.randrange(self.streams)
        self.uuids = [str(rng.getrandbits(128)) for _ in range(self.streams)]
        self.uuids = [
            f"{rng.getrandbits(32):08x}-{rng.getrandbits(16):04x}-4{rng.getrandbits(12):03x}-9abc-{rng.getrandbits(48):012x}"
            for _ in range(self.streams)
        ]
        self.layout = self._random_layout()
        self.check = rng.choice(["", "sum", "xor", "negsum", "crc8", "crc16", "sum16"])
        self.crc = (
            random_crc(rng, 16 if self.check == "crc16" else 8)
            if self.check.startswith("crc")
            else {"order": rng.choice(["big", "little"])}
        )
        low = len(self.header)
        self.check_from = rng.choice([0, 0, low, min(1, low)])
        low_s = 2 if self.link == "serial" else 0
        if self.link == "serial" and not self.header:
            self.header = bytes([0xAA, 0x55][:low_s])
        self.footer = rng.choice([b"", b"", b"", b"\r\n", b"\x55"])
        self.tau_filter_s = rng.uniform(0.3, 1.5)
        self.decoy_streams = [self._random_decoy_layout() for _ in range(self.streams)]
        self._state: dict = {}

    def _random_layout(self) -> list[Part]:
        rng = self.rng
        count = rng.choice([0, 1, 1, 2, 2, 3, 4])
        if self.link == "serial":
            count = max(count, 1)
        self.header = bytes(
            rng.choice([0xAA, 0x55, 0xA5, 0x5A, 0xFE, 0x7E, 0x02, 0x3C, 0xEF, 0xDD, 0x03])
            for _ in range(count)
        )
        parts = [Part("weight", self.number["width"])]
        if self.number["sign"] == "byte" and self.number["encoding"] in ("integer", "bcd"):
            sign = Part("sign", 1)
            parts = [sign, *parts] if rng.random() < 0.7 else [*parts, sign]
        others = list(self._decoys(rng.randint(0, 5)))
        if rng.random() < 0.6:
            others.append(
                Part(
                    "flags",
                    1,
                    {
                        "bit": rng.randrange(8),
                        "when": rng.random() < 0.7,
                        "rest": rng.choice([0, 0, 0x40, 0x10]),
                    },
                )
            )
        rng.shuffle(others)
        at = rng.randint(0, len(others))
        layout = [*others[:at], *parts, *others[at:]]
        if rng.random() < 0.3:
            layout.insert(0, Part("length", 1))
        return layout

    def _decoys(self, count: int) -> list[Part]:
        rng = self.rng
        made = []
        for _ in range(count):
            name = rng.choice(
                ["counter", "counter16", "timer_ms", "timer_s", "battery", "temperature", "filtered",
                 "ounces", "flow", "fixed", "zero", "random"]
            )  # fmt: skip
            width = {"counter": 1, "counter16": 2, "timer_ms": 4, "timer_s": 2, "battery": 1,
                     "temperature": 2, "filtered": 0, "ounces": 4, "flow": 2, "fixed": 1, "zero": 1,
                     "random": 1}[name]  # fmt: skip
            order = rng.choice(["big", "little"])
            spec = {"order": order, "start": rng.randrange(60000), "value": rng.randrange(256)}
            if name == "filtered":
                width = 4 if self.number["encoding"] == "float" else 3
            if name == "battery":
                spec["value"] = rng.randint(20, 100)
            made.append(Part(name, width, spec))
        return made

    def _random_decoy_layout(self) -> list[Part]:
        parts = self._decoys(self.rng.randint(1, 5))
        return [Part(p.name, p.width, p.spec) for p in parts if p.name not in ("filtered", "ounces")] or [
            Part("battery", 1, {"value": 77})
        ]

    # Sending

    def steps_of(self, weight_g: float) -> tuple[int, float]:
        """Give what the display shows as steps, and in g."""
        number = self.number
        if number["unit"] == "odd":
            counts = round(weight_g * number["counts_per_g"]) + number["zero"]
            return counts, (counts - number["zero"]) / number["counts_per_g"]
        steps = round(weight_g / number["step_g"])
        if number["encoding"] == "integer" and number["sign"] in ("twos", "bit", "offset", "byte"):
            top = 1 << 8 * number["width"] - (number["sign"] != "byte")
            steps = max(-top + 1, min(top - 1, steps))
        return steps, steps * number["step_g"]

    def frame(self, weight_g: float, time_s: float, still: bool, extra: dict) -> tuple[bytes, float]:
        steps, shown_g = self.steps_of(weight_g)
        written = write_number(self.number, steps)
        body = b""
        length = len(self.header) + sum(part.width for part in self.layout)
        for part in self.layout:
            if part.name == "weight":
                body += written["number"]
            elif part.name == "sign":
                body += written["sign"]
            elif part.name == "length":
                body += bytes([length % 256])
            elif part.name == "flags":
                bit = 1 << part.spec["bit"]
                body += bytes([(part.spec["rest"] & ~bit) | (bit if still == part.spec["when"] else 0)])
            else:
                body += self._decoy(part, time_s, shown_g, extra)
        data = self.header + body
        if self.check:
            data += check_of(self.check, data[self.check_from :], self.crc)
        return data + self.footer, shown_g

    def _decoy(self, part: Part, time_s: float, shown_g: float, extra: dict) -> bytes:
        spec, name = part.spec, part.name
        order = spec.get("order", "big")
        if name in ("counter", "counter16"):
            return whole(spec["start"] + extra["number"], part.width, order)
        if name == "timer_ms":
            return whole(spec["start"] + int(time_s * 1000), 4, order)
        if name == "timer_s":
            return whole(spec["start"] + int(time_s * 10), 2, order)
        if name == "battery":
            return bytes([max(1, spec["value"] - int(time_s / 150))])
        if name == "temperature":
            return whole(int(231 + 3 * (time_s / 60) + extra["jitter"]), 2, order)
        if name == "filtered":
            value = round(extra["filtered_g"] * 100)
            if part.width == 4:
                return struct.pack(">f" if order == "big" else "<f", extra["filtered_g"])
            return whole(value, 3, order)
        if name == "ounces":
            return whole(round(shown_g / OUNCE_G * 100), 4, order)
        if name == "flow":
            return whole(round(extra["flow_g_s"] * 10), 2, order)
        if name == "random":
            return bytes([extra["random"]])
        return bytes([0 if name == "zero" else spec["value"]])

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
        pan = Pan(rng, loads, dwell_s, self.noise_g, moving)
        sent: list[Sent] = []
        filtered, last_g, last_s = loads[0], loads[0], 0.0
        number = rng.randrange(1000)
        time_s = 0.0
        while time_s < pan.end_s:
            true = pan.noisy_g(time_s)
            gap = max(time_s - last_s, 1e-3)
            filtered += (true - filtered) * (1 - 2.718281828 ** (-gap / self.tau_filter_s))
            extra = {"number": number, "filtered_g": filtered, "flow_g_s": (filtered - last_g) / gap,
                     "random": rng.randrange(256), "jitter": rng.choice([0, 0, 1])}  # fmt: skip
            last_g, last_s = filtered, time_s
            data, shown = self.frame(true, time_s, pan.at_rest(time_s), extra)
            sent.append(Sent(time_s, self.weight_stream, data, shown))
            if self.link == "ble":
                for stream in range(self.streams):
                    if stream != self.weight_stream and rng.random() < 0.8:
                        other = b"".join(
                            self._decoy(p, time_s, 0.0, extra) for p in self.decoy_streams[stream]
                        )
                        sent.append(Sent(time_s + 0.001 * stream, stream, other))
            number += 1
            time_s += (1 + rng.uniform(-0.1, 0.1)) / self.rate_hz
        sent = [damaged(one, rng) if rng.random() < damage else one for one in sent]
        spans = [
            (load, at * dwell_s + (0.0 if not moving else dwell_s / 2), (at + 1) * dwell_s - 0.05)
            for at, load in enumerate(loads)
        ]
        return Session(sent, spans)


def damaged(one: Sent, rng: random.Random) -> Sent:
    """Flip bits, cut the end off, or lose bytes."""
    data = bytearray(one.data)
    how = rng.choice(["flip", "cut", "lose"])
    if how == "flip":
        for _ in range(rng.randint(1, 3)):
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    elif how == "cut":
        del data[rng.randrange(len(data)) :]
    else:
        for _ in range(rng.randint(1, 2)):
            if data:
                del data[rng.randrange(len(data))]
    return Sent(one.time_s, one.stream, bytes(data), one.shown_g, True)


LOADS: Callable[[random.Random, int], list[float]]


def random_loads(rng: random.Random, count: int) -> list[float]:
    """Choose loads as a brewer would: nothing, and what is at hand."""
    some = rng.sample([20, 50, 100, 150.3, 200, 250, 312.7, 400, 500, 87.4, 640], count - 1)
    return [0.0, *map(float, sorted(some) if rng.random() < 0.7 else some)]
