"""Made-up instruments whose fields are drawn like cards: each packet is a shuffled hand of them.

The weight is one card; beside it lie a counter, clocks, a battery, temperatures, the weight once more,
filtered or in another unit, a flow, and bytes that mean nothing. Some send a second kind of message in
between. Serial instruments are heard in chunks cut anywhere.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

import numpy as np

from tests.drivers.learn.made_checks import CRC8, CRC16, check_of
from tests.drivers.learn.session import OUNCE_G, Sent, Session
from tests.drivers.learn.shuffled_hearing import damage, in_chunks

Card = Callable[["Moment"], bytes]


class Moment:
    """What the instrument knows when it sends."""

    def __init__(self) -> None:
        self.number, self.time_s, self.shown_g, self.filtered_g, self.flow = 0, 0.0, 0.0, 0.0, 0.0
        self.is_stable, self.battery, self.celsius, self.noise = True, 90.0, 22.0, 0


class Instrument:
    """One instrument."""

    def __init__(self, seed: int, link: str = "") -> None:
        self.rng = rng = np.random.default_rng(seed)
        self.link = link or ("ble" if rng.random() < 0.55 else "serial")
        count = int(rng.integers(1, 9))
        self.uuids = [f"{rng.integers(1 << 32):08x}-0000-1000-8000-00805f9b34fb" for _ in range(count)]
        self.weight_stream = int(rng.integers(len(self.uuids))) if self.link == "ble" else 0
        self.rate_hz = float(rng.choice([5, 8, 10, 10, 16, 20]))
        self.capacity_g = float(rng.choice([500, 1000, 2000, 3000, 5000]))
        self.check, self.check_from, self.sign, self.tail = "none", 0, "", b""
        self.is_text = self.link == "serial" and rng.random() < 0.35
        self.number = self._number()
        self.kinds = self._kinds()

    # ----------------------------------------------------------------------------------------- the weight

    def _number(self) -> dict:
        rng = self.rng
        kinds = ["integer", "bcd", "ascii", "float"]
        kind = "ascii" if self.is_text else str(rng.choice(kinds, p=[0.6, 0.12, 0.13, 0.15]))
        chances = [0.72, 0.12, 0.16] if kind in ("integer", "float") else [0.85, 0.15, 0]
        unit = str(rng.choice(["g", "oz", "odd"], p=chances))
        in_unit = {"g": [0.01, 0.1, 0.1, 0.1, 0.5, 1.0], "oz": [0.001, 0.005, 0.01]}.get(unit)
        step = float(rng.choice(in_unit)) if in_unit else float(10 ** rng.uniform(-2.7, -0.5))
        unit_g = OUNCE_G if unit == "oz" else 1.0
        decimals = {0.5: 1, 0.005: 3}.get(step, round(-np.log10(step)))
        return {
            "encoding": kind, "unit": unit, "unit_g": unit_g, "step": step, "step_g": step * unit_g,
            "decimals": max(0, decimals) + int(rng.random() < 0.1),
            "order": str(rng.choice(["big", "little"])),
        }  # fmt: skip

    def shown(self, weight_g: float) -> float:
        """Give what the display shows, in g."""
        weight_g = max(weight_g, 0.0) if self.sign == "none" else weight_g
        return round(weight_g / self.number["step_g"]) * self.number["step_g"]

    def _weight_cards(self) -> list[Card]:
        """Give the cards of the weight: the number, and perhaps its sign apart."""
        spec, rng = self.number, self.rng
        if spec["encoding"] == "float":
            form = ("<" if spec["order"] == "little" else ">") + "f"
            factor = float(rng.choice([1.0, 1.0, 0.001])) if spec["unit"] == "g" else 1.0
            per = spec["step_g"] if spec["unit"] == "odd" else spec["unit_g"]
            return [lambda now: struct.pack(form, now.shown_g / per * factor)]
        per_g = spec["step_g"] if spec["unit"] == "odd" else spec["unit_g"] / 10 ** spec["decimals"]
        top = self.capacity_g * 1.1 / per_g
        if spec["encoding"] == "ascii":
            return [self._ascii(per_g, top)]
        sign = str(rng.choice(["byte", "byte", "flag", "none"] if spec["encoding"] == "bcd" else
                              ["twos", "twos", "twos", "byte", "bit", "offset", "flag", "none"]))  # fmt: skip
        self.sign = sign
        if spec["encoding"] == "bcd":
            width = int(np.ceil(len(str(int(top))) / 2)) + int(rng.random() < 0.3)
        else:
            width = next(w for w in (2, 3, 4) if 2 ** (8 * w - 1) > top)
            width = int(min(4, width + rng.integers(0, 2)))
        half = 1 << (8 * width - 1)
        self.width = width

        def number(now: Moment) -> bytes:
            n = round(now.shown_g / per_g)
            bit = abs(n) | (half if n < 0 else 0)
            coded = {"twos": n % (2 * half), "bit": bit, "offset": n + half, "none": max(n, 0)}
            whole = coded.get(sign, abs(n))
            if spec["encoding"] == "bcd":
                return _ordered(bytes.fromhex(f"{whole:0{2 * width}d}"), spec["order"])
            return whole.to_bytes(width, spec["order"])

        if sign == "byte":
            plus, minus = [(0, 1), (0x2B, 0x2D), (0, 0xFF), (1, 0), (0x20, 0x2D), (0, 0x80)][rng.integers(6)]

            def mark(now: Moment) -> bytes:
                return bytes([minus if round(now.shown_g / per_g) < 0 else plus])

            return [lambda now: mark(now) + number(now)] if rng.random() < 0.7 else [mark, number]
        return [number]

    def _ascii(self, per_g: float, top: float) -> Card:
        rng, spec = self.rng, self.number
        point = bool(rng.random() < 0.75) or self.is_text
        digits = len(str(int(top))) + int(rng.random() < 0.4)
        pad, plus = str(rng.choice([" ", "0"])), str(rng.choice(["+", " "]))
        near = bool(rng.random() < 0.5) and pad == " "
        wide = digits + int(point and spec["decimals"] > 0)

        def card(now: Moment) -> bytes:
            n = round(now.shown_g / per_g)
            text = f"{abs(n) / 10 ** spec['decimals']:.{spec['decimals']}f}" if point else str(abs(n))
            mark = "-" if n < 0 else plus
            whole = (mark.strip() + text).rjust(wide + 1, pad) if near else mark + text.rjust(wide, pad)
            return whole.encode()

        return card

    # ----------------------------------------------------------------------------------------- the others

    def _decoys(self) -> list[Card]:
        """Draw the cards that are not the weight."""
        rng = self.rng
        order = self.number["order"] if rng.random() < 0.8 else str(rng.choice(["big", "little"]))
        per_ms, wide = int(rng.choice([1, 10, 100, 1000])), int(rng.choice([2, 3, 4]))
        start = int(rng.integers(1 << 20))
        other_g = float(rng.choice([OUNCE_G / 100, OUNCE_G / 1000, 0.453592, 0.01, 0.1]))
        step_g = self.number["step_g"]
        flow_wide, still, temp_wide = int(rng.choice([1, 2])), int(rng.integers(256)), int(rng.choice([1, 2]))
        most_flow = 127 if flow_wide == 1 else 30_000
        stable_bit, set_bits = 1 << int(rng.integers(8)), int(rng.integers(256))
        turned, signed_flag = bool(rng.random() < 0.5), 1 << int(rng.integers(8))

        def signed(n: float, width: int) -> bytes:
            return (round(n) % (1 << 8 * width)).to_bytes(width, order)

        def status(now: Moment) -> bytes:
            bits = set_bits & ~stable_bit | (stable_bit if now.is_stable != turned else 0)
            if self.sign == "flag":
                flag = signed_flag if signed_flag != stable_bit else stable_bit << 1 & 0xFF or 1
                bits = bits & ~flag | (flag if now.shown_g < -1e-9 else 0)
            return bytes([bits])

        cards: list[Card] = [
            lambda now: (now.number % 256).to_bytes(1, order),
            lambda now: (now.number % 65536).to_bytes(2, order),
            lambda now: signed(start + now.time_s * 1000 / per_ms, wide),
            lambda now: bytes([round(now.battery)]),
            lambda now: signed(now.battery * 9 + 3300, 2),
            lambda now: signed(now.celsius * (10 if temp_wide == 2 else 1), temp_wide),
            lambda now: signed(now.filtered_g / step_g, 4 if step_g < 0.1 else 3),
            lambda now: signed(now.shown_g / other_g, 4),
            lambda now: signed(np.clip(now.flow * 10, -most_flow, most_flow), flow_wide),
            lambda now: bytes([still]),
            lambda now: bytes(2),
            lambda now: bytes([now.noise]),
        ]
        chances = np.array([2, 1, 2, 2, 1, 2, 1.2, 1.2, 1.5, 2, 1, 0.5])
        drawn = rng.choice(len(cards), int(rng.integers(0, 6)), replace=False, p=chances / chances.sum())
        hand = [cards[which] for which in drawn]
        if self.sign == "flag" or rng.random() < 0.5:
            hand.append(status)
        return hand

    def _kinds(self) -> list[Callable[[Moment], bytes]]:
        """Make the kinds of packets: the weight's is the first."""
        rng = self.rng
        if self.is_text:
            return [self._line()]
        cards = self._weight_cards()
        cards += self._decoys()
        rng.shuffle(cards)
        least = 0 if self.link == "ble" else 1
        header = bytes(rng.integers(1, 256, int(rng.integers(least, 4))).astype(np.uint8))
        has_kinds = len(header) > 0 and rng.random() < 0.25
        self.tail = tail = [b"\r\n", b"\x55", b"\x03"][rng.integers(3)] if rng.random() < 0.2 else b""
        finish = self._finish(len(header))
        start = header + (b"\x01" if has_kinds else b"")

        def weighing(now: Moment) -> bytes:
            return finish(start + b"".join(card(now) for card in cards)) + tail

        def charge(now: Moment) -> bytes:
            return finish(header + bytes([2, round(now.battery), now.number % 7])) + tail

        return [weighing, charge] if has_kinds else [weighing]

    def _finish(self, header: int) -> Callable[[bytes], bytes]:
        """Draw the check that goes behind."""
        rng = self.rng
        self.check = check = str(rng.choice(["none", "sum", "xor", "lrc", "crc8", "crc16"]))
        self.check_from = start = int(rng.choice([0, header, max(0, header - 1)]))
        order = str(rng.choice(["big", "little"]))
        eight, sixteen = CRC8[rng.integers(len(CRC8))], CRC16[rng.integers(len(CRC16))]

        def finish(body: bytes) -> bytes:
            part = body[start:]
            return body + (check_of(check, part, eight, sixteen, order) if check != "none" else b"")

        return finish

    def _line(self) -> Callable[[Moment], bytes]:
        rng = self.rng
        weight = self._weight_cards()[0]
        gap, end = str(rng.choice([",", " ", ";", ", "])), [b"\r\n", b"\n", b"\r"][rng.integers(3)]
        unit = b" oz" if self.number["unit"] == "oz" else [b" g", b"g", b""][rng.integers(3)]
        words: list[Card] = [
            lambda now: b"ST" if now.is_stable else b"US",
            lambda now: b"GS",
            lambda now: f"{now.number:05d}".encode(),
            lambda now: f"{now.celsius:.1f}".encode(),
            lambda now: f"{now.battery:3.0f}%".encode(),
            lambda now: f"{now.time_s * 1000:.0f}".encode(),
        ]
        drawn = [words[which] for which in rng.choice(len(words), int(rng.integers(0, 4)), replace=False)]
        drawn.insert(int(rng.integers(len(drawn) + 1)), lambda now: weight(now) + unit)
        check = bool(rng.random() < 0.2)
        self.check, self.tail = "xor" if check else "none", end

        def line(now: Moment) -> bytes:
            text = gap.encode().join(card(now) for card in drawn)
            xor = 0
            for byte in text:
                xor ^= byte
            return text + (f"*{xor:02X}".encode() if check else b"") + end

        return line

    # ---------------------------------------------------------------------------------------- the session

    def session(
        self, loads: list[float], seed: int, seconds: float = 10.0, *, moving: bool = False
    ) -> Session:
        """Put loads on, one after another, and hear what is sent."""
        rng, now, session = np.random.default_rng(seed), Moment(), Session([], [])
        loads = [abs(load) for load in loads] if self.sign == "none" else loads
        noise_g, lag_s = self.number["step_g"] * rng.uniform(0.0, 1.5), rng.uniform(0.1, 0.4)
        now.battery, now.celsius = rng.uniform(40, 99), rng.uniform(18, 30)
        weight_g = last_g = loads[0]
        time_s, number = float(rng.uniform(0, 900)), int(rng.integers(1000))
        frames: list[tuple[bytes, Sent]] = []
        for load in loads:
            begun, from_g = time_s, weight_g
            while time_s < begun + seconds + 2.0:
                gone = time_s - begun
                goal = from_g + (load - from_g) * min(1.0, gone / (0.7 * seconds)) if moving else load
                weight_g += (goal - weight_g) * (1 - np.exp(-1 / self.rate_hz / lag_s))
                now.time_s, now.number, now.noise = time_s, number, int(rng.integers(256))
                now.shown_g = self.shown(weight_g + rng.normal(0, noise_g))
                now.flow, last_g = (weight_g - last_g) * self.rate_hz, weight_g
                now.filtered_g += (now.shown_g - now.filtered_g) * 0.15
                now.is_stable = abs(weight_g - goal) < 2 * self.number["step_g"]
                now.celsius += rng.normal(0, 0.004)
                now.battery -= 0.0005
                frames += self._sent_at(now, rng)
                number += 1
                time_s += max(0.01, rng.normal(1 / self.rate_hz, 0.004))
            if not moving:
                session.loads.append((load, begun + 1.8, time_s - 0.1))
        damage(frames, rng, is_joined=self.link != "ble")
        session.sent = in_chunks(frames, self.tail, rng) if self.link == "serial" else [
            Sent(one.time_s, one.stream, data, one.shown_g, one.damaged) for data, one in frames
        ]  # fmt: skip
        return session

    def _sent_at(self, now: Moment, rng: np.random.Generator) -> list[tuple[bytes, Sent]]:
        stream = self.weight_stream
        found = [(self.kinds[0](now), Sent(now.time_s, stream, b"", now.shown_g))]
        if len(self.kinds) > 1 and now.number % 5 == 2:
            found.append((self.kinds[1](now), Sent(now.time_s + 0.01, stream, b"")))
        if self.link == "ble" and len(self.uuids) > 1 and now.number % 4 == 1:
            other = (stream + 1 + now.number // 4 % (len(self.uuids) - 1)) % len(self.uuids)
            celsius = int(now.celsius * 100) + int(rng.integers(9))
            alien = struct.pack("<BHH", other, now.number % 65536, celsius)
            found.append((alien, Sent(now.time_s + 0.02, other, b"")))
        return found


def _ordered(data: bytes, order: str) -> bytes:
    return data if order == "big" else data[::-1]


def random_loads(rng: random.Random, count: int) -> list[float]:
    """Draw loads as a brewer has them: nothing, water, check masses, perhaps a vessel lifted off."""
    some = [rng.choice([50.0, 100.0, 200.0, 500.0, round(rng.uniform(20, 480), 1)]) for _ in range(count - 1)]
    if rng.random() < 0.1:
        some[-1] = -round(rng.uniform(20, 300), 1)
    loads = [0.0, *some]
    return loads if len(set(loads)) == count else random_loads(rng, count)
