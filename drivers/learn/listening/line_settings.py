"""How a serial line is set, found by listening at one setting after another: nothing is ever written."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

import numpy as np

from drivers.learn.packets.framing import is_text
from drivers.learn.packets.landmarks import LONGEST, best_cover

BAUDS = (9600, 115200, 19200, 38400, 57600, 4800, 2400, 1200, 230400)
_GOOD_ENOUGH = 0.8
_PARITIES = ("none", "even", "odd")


@dataclass(frozen=True, slots=True)
class LineSettings:
    """One way to set a line."""

    baud: int
    parity: str = "none"
    bytesize: int = 8


Listen = Callable[[LineSettings], Awaitable[bytes]]


async def find_settings(listen: Listen, given: LineSettings | None = None) -> tuple[LineSettings, float]:
    """Find the setting at which what arrives makes most sense.

    :param listen: opens the line so set, listens for a moment, and gives what came
    :param given: what the brewer knows already; tried first, and alone where it makes sense
    :returns: the best setting, and how much sense it makes, from 0 to 1
    """
    best, most = given or LineSettings(BAUDS[0]), 0.0
    tries = [LineSettings(baud, parity) for parity in _PARITIES for baud in BAUDS]
    for settings in [given, *tries] if given else tries:
        data = await listen(settings)
        sense, parity = sense_of(data), hidden_parity(data)
        if parity:
            settings, sense = LineSettings(settings.baud, parity, 7), 1.0
        if sense > most:
            best, most = settings, sense
        if most >= _GOOD_ENOUGH:
            break
    return best, most


def sense_of(data: bytes) -> float:
    """Say how much what arrived looks like an instrument's: lines of text, or frames that repeat."""
    if len(data) < 2 * LONGEST // 4:
        return 0.0
    values = np.frombuffer(data, dtype=np.uint8)
    if is_text(values):
        return 1.0
    if np.isin(values, (0x00, 0xFF, 0x80, 0xFE, 0xF8, 0xE0)).mean() > 0.9:
        return 0.1  # what a line looks like that is read at the wrong speed
    return float(min(best_cover(values), 1.0))


def hidden_parity(data: bytes) -> str:
    """Say which parity stands in the upper bit, where text of 7 bits is read as bytes of 8; else ''."""
    values = np.frombuffer(data, dtype=np.uint8)
    if values.size < 40 or not (values > 127).any() or not is_text((values & 0x7F).astype(np.uint8)):
        return ""
    ones = np.unpackbits(values[:, None], axis=1).sum(axis=1) % 2
    if (ones == 0).mean() > 0.97:
        return "even"
    return "odd" if (ones == 1).mean() > 0.97 else ""
