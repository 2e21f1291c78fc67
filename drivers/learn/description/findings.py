"""What else the packets hold: rest, counters, clocks, perhaps a battery."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.following import counters
from drivers.learn.numbers.number import Number
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import places_of
from drivers.learn.packets.arrays import Frames

_CLOCKS = {1000.0: ("ms", 1.0, "milliseconds"), 100.0: ("s", 0.01, "hundredths of a second"),
           10.0: ("s", 0.1, "tenths of a second"), 1.0: ("s", 1.0, "seconds")}  # fmt: skip
_AT_REST, _MOVING = 0.97, 0.55


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that a packet holds beside the weight.

    :param words: for the brewer
    :param field: the lines of a ``[[frame.field]]``; empty where it is not certain enough to be read
    """

    words: str
    field: str = ""


def findings(one: Fit, outside: Outside) -> list[Finding]:
    """Look for what else there is in the packets of the chosen number."""
    taken = set(one.number.covers)
    if one.number.sign is not None:
        taken.add(one.number.sign.offset)
    if outside.check is not None:
        taken |= set(range(outside.check.at, outside.check.at + outside.check.width))
    taken |= set(range(len(outside.header)))
    found = []
    if (clock := _clock(one, taken)) is not None:
        number, finding = clock
        taken |= number.covers
        found.append(finding)
    for place in counters(one.kind.frames):
        if int(place) not in taken:
            taken.add(int(place))
            found.append(Finding(f"byte {place} counts the packets"))
    if (rest := _rest_flag(one, taken)) is not None:
        found.append(rest)
    found += _battery(one.kind.frames, taken)
    return found


def clock_in(one: Fit) -> frozenset[int]:
    """Give the places of a clock beside the number, its upper bytes that stay for now among them."""
    clock = _clock(one, set(places_of(one)))
    return clock[0].covers if clock is not None else frozenset()


def _clock(one: Fit, taken: set[int]) -> tuple[Number, Finding] | None:
    """Find a number that goes with the host's clock."""
    kind = one.kind
    time_s = kind.time_s - kind.time_s[0]
    if time_s[-1] < 5.0:
        return None
    for width in (4, 3, 2):
        for offset in range(kind.length - width + 1):
            if taken & set(range(offset, offset + width)):
                continue
            for order in ("big", "little"):
                number = Number("integer", offset, width, order)
                steps = np.diff(number.values(kind.frames)) % (1 << 8 * width)
                gone = np.diff(time_s)
                rate = float(np.median(steps) / max(np.median(gone), 1e-6))
                near = min(_CLOCKS, key=lambda one: abs(np.log(max(rate, 1e-9) / one)))
                total = float(steps[steps < 60.0 * near].sum()) / near
                if abs(total / time_s[-1] - 1.0) < 0.03 and (steps <= 3.0 * near).mean() > 0.95:
                    return number, _clock_finding(number, *_CLOCKS[near])
    return None


def _clock_finding(number: Number, unit: str, scale: float, words: str) -> Finding:
    text = f"bytes {number.offset} to {number.end - 1} are a clock in {words}"
    if number.width < 4:
        return Finding(f"{text}, which begins again too often to be of use")
    lines = ["[[frame.field]]", 'holds = "device_time"', f"offset = {number.offset}",
             f"width = {number.width}",
             f'order = "{number.order}"', f"scale = {scale:g}", f'unit = "{unit}"']  # fmt: skip
    return Finding(text, "\n".join(lines))


def _rest_flag(one: Fit, taken: set[int]) -> Finding | None:
    """Find a bit that says whether the load is at rest."""
    kind = one.kind
    frames = kind.frames
    values = one.number.values(frames)
    settled = np.concatenate(kind.settled)
    quiet = rows_in_place(one, kind)
    moving = np.zeros(len(frames), dtype=bool)
    jump = 6.0 * one.noise + 3.0 * one.grid
    with np.errstate(invalid="ignore"):
        moving[1:-1] = (np.abs(values[2:] - values[:-2]) > jump) & quiet[1:-1]
    if moving.sum() < 6:
        return None
    for place in range(kind.length):
        if place in taken:
            continue
        for bit in range(8):
            bits = frames[:, place] >> bit & 1
            at_rest = float(bits[settled].mean())
            usual = int(at_rest > 0.5)
            steady = at_rest if usual else 1.0 - at_rest
            if steady >= _AT_REST and (bits[moving] != usual).mean() >= _MOVING:
                lines = [
                    "[[frame.field]]",
                    'holds = "stable"',
                    f"offset = {place}",
                    f"mask = 0x{1 << bit:02X}",
                ]
                if not usual:
                    lines.append("when = 0")
                return Finding(f"bit {bit} of byte {place} tells rest from moving", "\n".join(lines))
    return None


def _battery(frames: Frames, taken: set[int]) -> list[Finding]:
    """Name bytes that a charge could be: from 1 to 100, and going down by single steps if at all."""
    found = []
    for place, column in enumerate(frames.T):
        kinds, counts = np.unique(column, return_counts=True)
        often = kinds[counts > 0.02 * column.size]
        falls = column[0] >= column[-1]
        if (
            place not in taken
            and 1 <= often.size <= 3
            and often.min() >= 5
            and often.max() <= 100
            and np.ptp(often) <= 2
            and falls
        ):
            found.append(Finding(f"byte {place} may be the battery's charge ({int(often.max())} %)"))
    return found[:2]
