"""How a line is set, found by listening alone: a port that garbles what is read at the wrong speed."""

from __future__ import annotations

import asyncio
import random

import pytest

from drivers.learn.listening.line_settings import LineSettings, find_settings, hidden_parity, sense_of


def frames(count: int = 60) -> bytes:
    """Frames of seven bytes, of which five move."""
    rng = random.Random(4)
    return b"".join(bytes([0xA9, 0x5E, *(rng.randrange(256) for _ in range(5))]) for _ in range(count))


def lines(count: int = 60) -> bytes:
    return b"".join(f"w {100 + n * 0.1:7.1f} g\r\n".encode() for n in range(count))


def with_parity(data: bytes, *, odd: bool) -> bytes:
    """Text of seven bits and a parity bit, as a port of eight bits without parity reads it."""
    return bytes(byte | (byte.bit_count() % 2 != odd) << 7 for byte in data)


class Line:
    """A port that makes sense at one setting only."""

    def __init__(self, right: LineSettings, data: bytes) -> None:
        self.right, self.data, self.tried = right, data, []

    async def listen(self, settings: LineSettings) -> bytes:
        self.tried.append(settings)
        if settings.baud == self.right.baud:
            return self.data
        return bytes(random.Random(settings.baud).choices((0x00, 0xFF, 0x80, 0xFE, 0xF8, 0xE0), k=300))


@pytest.mark.parametrize("data", [frames(), lines()], ids=["frames", "lines"])
@pytest.mark.parametrize("baud", [9600, 19200, 2400])
def test_the_speed_at_which_it_makes_sense_is_found(baud, data):
    line = Line(LineSettings(baud), data)
    found, sense = asyncio.run(find_settings(line.listen))
    assert found.baud == baud
    assert sense > 0.8


def test_what_the_brewer_knows_is_tried_first_and_alone_where_it_is_right():
    line = Line(LineSettings(4800), lines())
    found, _ = asyncio.run(find_settings(line.listen, LineSettings(4800)))
    assert found == LineSettings(4800)
    assert line.tried == [LineSettings(4800)]


@pytest.mark.parametrize(("odd", "name"), [(False, "even"), (True, "odd")])
def test_a_parity_bit_among_the_bytes_is_seen(odd, name):
    data = with_parity(lines(), odd=odd)
    assert hidden_parity(data) == name
    found, _ = asyncio.run(find_settings(Line(LineSettings(9600), data).listen))
    assert found == LineSettings(9600, name, 7)


def test_a_silent_line_makes_no_sense():
    line = Line(LineSettings(1), b"")
    line.listen = lambda settings: asyncio.sleep(0, b"")
    found, sense = asyncio.run(find_settings(line.listen))
    assert sense == 0.0
    assert found.baud == 9600


def test_noise_makes_less_sense_than_frames():
    noise = random.Random(2).randbytes(420)
    assert sense_of(noise) < 0.5 < sense_of(frames())
