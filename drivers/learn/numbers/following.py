"""Which numbers of a kind of packet follow the loads roughly: all are tried on a few packets of each load."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.number import Number, SignPlace, middle_of
from drivers.learn.numbers.numerals import all_numbers, whole_hex
from drivers.learn.packets.arrays import Floats, Frames
from drivers.learn.packets.kinds import Kind
from drivers.learn.packets.line_makes import LineMake

_SAMPLE = 48

_ROUGH = 0.02
"""A number that is further off a straight line than this share of its span is none of the load."""

_LEAST_COUNTS = 5.0

_ALIKE = 0.94


Tried = list[tuple[list[Number], Floats, Floats]]
"""Numbers, what they say at each load, shape (k, c), and their ordinary spread, shape (c,)."""


def rough_fits(kind: Kind, loads: Sequence[Load], tried: Tried | None = None) -> Iterator[Number]:
    """Give the numbers of a kind that roughly follow the loads.

    :param tried: what has been found of the kind for other values of the same loads; filled if it is empty
    """
    rows, bounds = sampled(kind)
    frames = kind.frames[rows]
    if tried is not None and not tried:
        tried += _all_levels(kind, frames, bounds)
    values = np.array([load.value for load in loads])
    seen = set[tuple[str, int, int, str]]()
    for numbers, levels, noise in _all_levels(kind, frames, bounds) if tried is None else tried:
        good = _follows(levels, noise, values, numbers[0].encoding)
        if values.min() < 0 and not numbers[0].signed and numbers[0].encoding != "float":
            sizes = _follows(levels, noise, np.abs(values), numbers[0].encoding) & ~good
            for at in np.flatnonzero(sizes):
                yield from _with_signs(kind, numbers[at], values)
        for at in np.flatnonzero(good):
            number = numbers[at]
            place = (number.encoding, number.offset, number.width, number.order)
            if number.covers & kind.checked:
                continue
            if number.mask and place in seen and not _has_upper_bits(number, frames):
                continue  # without its upper bits it says nothing more
            seen.add(place)
            yield number


def _all_levels(
    kind: Kind, frames: Frames, bounds: list[tuple[int, int]]
) -> Iterator[tuple[list[Number], Floats, Floats]]:
    """Give what all numbers say at the loads.

    :param frames: some packets of each load
    :param bounds: where those of each are
    """
    moves = np.array([np.bincount(column).max() < 0.994 * column.size for column in kind.frames.T])
    if not moves.any():
        return
    moves[counters(kind.frames)] = False
    is_hex = isinstance(kind.make, LineMake) and kind.make.is_hex
    for numbers, columns in whole_hex(frames) if is_hex else all_numbers(frames, moves):
        yield numbers, *levels_of(columns, bounds)


def _with_signs(kind: Kind, number: Number, loads: Floats) -> Iterator[Number]:
    """Give a number that follows the size of the loads with all that may say which of them are below zero."""
    most = np.abs(loads).max()
    below = np.concatenate([rows for rows, g in zip(kind.settled, loads, strict=True) if g < 0])
    above = [rows for rows, g in zip(kind.settled, loads, strict=True) if g > 0.02 * most]
    if not above:
        return
    minus, plus = kind.frames[below], kind.frames[np.concatenate(above)]
    for place in range(kind.length):
        if place in number.covers and not number.mask:
            continue
        codes = [int(np.bincount(column).argmax()) for column in (minus[:, place], plus[:, place])]
        bits = [1 << bit for bit in range(8)]
        for mask in (*bits, 0xFF) if (codes[0] ^ codes[1]).bit_count() == 1 else (0xFF, *bits):
            shift = (mask & -mask).bit_length() - 1
            here, there = codes[0] & mask, codes[1] & mask
            if here == there or mask & number.own_bits(place):
                continue
            if min((minus[:, place] & mask == here).mean(), (plus[:, place] & mask == there).mean()) > _ALIKE:
                yield replace(number, sign=SignPlace(place, mask, (here >> shift,), (there >> shift,)))
                break


def _has_upper_bits(number: Number, frames: Frames) -> bool:
    """Say whether bits beyond the mask are set nearly always, as flags are."""
    plain = Number(number.encoding, number.offset, number.width, number.order)
    return bool((plain.values(frames) > number.mask).mean() > 0.9)


def counters(frames: Frames) -> np.ndarray:
    """Give the places of bytes that count packets: always the same step up, whatever the load does."""
    steps = np.diff(frames, axis=0)
    return np.array([
        place for place, column in enumerate(steps.T)
        if (usual := int(np.bincount(column, minlength=256).argmax())) and (column == usual).mean() > 0.7
    ], dtype=np.int64)  # fmt: skip


def sampled(kind: Kind) -> tuple[np.ndarray, list[tuple[int, int]]]:
    """Pick some packets of each load, and say where each load's are among those."""
    picked, bounds, at = [], [], 0
    for rows in kind.settled:
        some = rows[np.linspace(0, rows.size - 1, min(_SAMPLE, rows.size)).astype(np.int64)]
        picked.append(some)
        bounds.append((at, at + some.size))
        at += some.size
    return np.concatenate(picked), bounds


def _follows(levels: Floats, noise: Floats, loads: Floats, encoding: str) -> np.ndarray:
    x = loads - loads.mean()
    slope = x @ levels / max(float(x @ x), 1e-12)
    off = levels - levels.mean(axis=0) - np.outer(x, slope)
    span = np.abs(slope) * np.ptp(loads)
    count = 1.0 if encoding not in ("float", "ascii") else 0.0
    limit = np.maximum(np.maximum(_ROUGH * span, 1.01 * count), 3.0 * noise)
    enough = np.maximum(12.0 * noise, _LEAST_COUNTS * count)
    return np.asarray((np.abs(off).max(axis=0) <= limit) & (span >= enough) & (span > 0))


def levels_of(columns: Floats, bounds: list[tuple[int, int]]) -> tuple[Floats, Floats]:
    """Give the median of each load, shape (k, c), and the ordinary spread, shape (c,)."""
    levels, spreads = [], []
    for first, last in bounds:
        part = columns[first:last]
        bad = np.isnan(part)
        if bad.any():
            part = np.where(bad, np.broadcast_to(_first_known(part), part.shape), part)
        middle = middle_of(part)
        levels.append(middle)
        spreads.append(middle_of(np.abs(part - middle)))
    return np.array(levels), 1.48 * middle_of(np.array(spreads))


def _first_known(part: Floats) -> Floats:
    known = ~np.isnan(part)
    return np.asarray(part[known.argmax(axis=0), np.arange(part.shape[1])])
