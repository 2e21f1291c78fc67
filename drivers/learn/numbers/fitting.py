"""How well a number follows the known loads: a straight line through what it says at rest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drivers.decoders.byte_orders import WORD_ORDERS
from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.foreign import (
    begins_with_mark,
    has_foreign_byte,
    has_foreign_byte_in,
    has_still_upper_word,
    rests_alike,
)
from drivers.learn.numbers.grids import grid_of
from drivers.learn.numbers.meaning import Meaning, meaning_of_line
from drivers.learn.numbers.number import Number
from drivers.learn.numbers.resting import line_from, line_through, offset_error, rests_of, shown_error
from drivers.learn.numbers.scales import Scale
from drivers.learn.packets.arrays import Floats, without_single
from drivers.learn.packets.kinds import Kind

_ASTRAY = 0.6
"""Share of a step by which a number may be off both levels while it goes over."""

KNOWN_ZEROS = ("none", "half")
"""Kinds of nought that are known beforehand: an empty pan's is nothing, or the middle of the range."""


@dataclass(frozen=True, eq=False)
class Fit:
    """A number of one kind of packet, held against the loads: ``number = slope * load + offset``.

    :param levels: what it says at each load, shape (k,)
    :param spreads: standard deviation of one packet at each load
    :param noise: the ordinary one of those
    :param grid: the step in which it changes
    :param worst: the largest distance from the line, g or °C
    :param slope_error: standard uncertainty of the slope
    :param inside: share of all packets of the kind in which it is readable and near the range of the loads
    :param scale: the round meaning of a step, where there is one
    :param zero: the number that stands for nothing, ``half`` its range where that is round
    :param zero_kind: ``none``, ``half``, ``round`` or ``odd``
    :param cost: how unlikely all this is beforehand, a natural logarithm
    :param path: how far it goes up and down altogether, beside the way between the loads, noise left out
    :param switch_s: when it changed from each load to the next, shape (k - 1,); NaN where that is unknown
    """

    kind: Kind
    number: Number
    slope: float
    offset: float
    levels: Floats
    spreads: Floats
    noise: float
    grid: float
    worst: float
    slope_error: float
    offset_error: float
    inside: float
    scale: Scale | None
    zero: float
    zero_kind: str
    cost: float
    switch_s: Floats
    path: float

    @property
    def is_bare(self) -> bool:
        """Whether it is counts of a factor of its own, and what stands for nothing is any of them."""
        return self.scale is None and self.zero_kind == "odd"

    @property
    def step(self) -> float:
        """The step of the display, g or °C."""
        return self.grid / abs(self.per_unit)

    @property
    def per_unit(self) -> float:
        """Counts per g or °C, the round figure where there is one."""
        return self.scale.per_unit if self.scale is not None else self.slope

    @property
    def span(self) -> float:
        """From the lowest load to the highest, as the number says it, g or °C."""
        return float(np.ptp(self.levels)) / abs(self.slope)

    @property
    def reached(self) -> Floats:
        """What it says at each load, and last what it says, or would, on an empty pan; shape (k + 1,)."""
        return np.append(self.levels, self.offset)

    @property
    def noise_units(self) -> float:
        """Standard deviation of one packet, g or °C."""
        return self.noise / abs(self.slope)

    def loads_of(self, values: Floats) -> Floats:
        """Turn numbers into g or °C."""
        return (values - self.zero) / self.per_unit


def fit(kind: Kind, number: Number, loads: Sequence[Load], quantity: Quantity) -> Fit | None:
    """Hold a number against the loads, on all packets; None where it does not follow them.

    :param kind: packets of which is known which came while a load was at rest
    """
    values = number.values(kind.frames)
    rests = rests_of(kind, number, values, np.array([load.value for load in loads]))
    line = line_through(rests) if rests is not None else None
    if rests is None or line is None:
        return None
    levels, noise, grid = rests.levels, rests.noise, rests.grid
    good = in_place(kind, values, np.append(levels, line.offset), noise, grid)
    if not good.any():
        return None  # each load was told by the middle of packets of which none lies there
    if has_foreign_byte(kind, number, grid) or has_foreign_byte_in(kind, number, good):
        return None
    meaning = meaning_of_line(rests, line, number, quantity)
    if _has_bytes_of_others(kind, number, line.slope, meaning):
        return None
    if meaning.zero_kind == "half":  # the middle of a range is no multiple of fives
        grid = grid_of(values[np.isfinite(values)] - meaning.zero, number)
    if meaning.scale is None and meaning.zero_kind in KNOWN_ZEROS:
        held = line_from(meaning.zero, rests)
        if held is None:
            return None
        line = held
    return Fit(
        kind=kind,
        number=number,
        slope=line.slope,
        offset=line.offset,
        levels=levels,
        spreads=rests.spreads,
        noise=noise,
        grid=grid,
        worst=line.worst,
        slope_error=shown_error(line, rests, quantity, with_scatter=meaning.scale is None),
        offset_error=offset_error(line, rests, quantity),
        inside=float(good.mean()),
        scale=meaning.scale,
        zero=meaning.zero,
        zero_kind=meaning.zero_kind,
        cost=meaning.cost,
        switch_s=_switches(kind.time_s, values, levels, loads),
        path=_path(values, levels, good, noise, grid),
    )


def _has_bytes_of_others(kind: Kind, number: Number, slope: float, meaning: Meaning) -> bool:
    """Say whether what a number would stand for shows that some of its bytes belong to something else."""
    is_known = meaning.zero_kind in KNOWN_ZEROS
    if number.order in WORD_ORDERS and not is_known and has_still_upper_word(kind, number):
        return True
    if meaning.scale is None and rests_alike(kind, number, slope):
        return True
    return meaning.zero_kind == "round" and begins_with_mark(kind, number)


def in_place(kind: Kind, values: Floats, reached: Floats, noise: float, grid: float) -> np.ndarray:
    """Say for each packet whether its number is near the range of the loads, and near its own at rest.

    :param reached: what it says at each load, and last what it would on an empty pan; shape (k + 1,)
    """
    levels = reached[:-1]
    near = 0.03 * float(np.ptp(levels)) + 8.0 * noise + 3.0 * grid
    good = in_reach(values, reached, noise)
    with np.errstate(invalid="ignore"):
        for rows, level in zip(kind.settled, levels, strict=True):
            good[rows] &= np.abs(values[rows] - level) <= near
    return good


def in_reach(values: Floats, reached: Floats, noise: float) -> np.ndarray:
    """Say for each packet whether its number is near the range of the loads.

    A vessel that is tared and lifted off goes as far below nought as a load goes above.

    :param reached: what it says at each load, and last what it would on an empty pan, which each load goes
        through that is put on and taken off; shape (k + 1,)
    """
    reach = 0.35 * float(np.ptp(reached[:-1])) + 6.0 * noise
    mirrored = 2.0 * reached[-1] - reached
    lowest, highest = np.minimum(reached, mirrored).min(), np.maximum(reached, mirrored).max()
    with np.errstate(invalid="ignore"):
        return np.asarray((values >= lowest - reach) & (values <= highest + reach))


def rows_in_place(one: Fit, kind: Kind | None = None) -> np.ndarray:
    """Say for each packet whether the number of a fit is in place there, shape (n,).

    :param kind: whose packets; the fit's own where none are given
    """
    kind = one.kind if kind is None else kind
    return in_place(kind, one.number.values(kind.frames), one.reached, one.noise, one.grid)


def _path(values: Floats, levels: Floats, good: np.ndarray, noise: float, grid: float) -> float:
    """Give how far a number goes altogether, as a share of the way that the loads make it go."""
    way = float(np.abs(np.diff(levels)).sum())
    some = values[good]
    if some.size > 2:
        some = without_single(some)
    gone = np.abs(np.diff(some))
    return float(gone[gone > 5.0 * noise + 2.0 * grid].sum()) / max(way, 1e-12)


def _switches(time_s: Floats, values: Floats, levels: Floats, loads: Sequence[Load]) -> Floats:
    """Give when a number went over from each level to the next: the time that halves the area of the step."""
    found = []
    for at in range(len(loads) - 1):
        height = levels[at + 1] - levels[at]
        first_s = loads[at].start_s + 0.6 * (loads[at].end_s - loads[at].start_s)
        last_s = loads[at + 1].start_s + 0.6 * (loads[at + 1].end_s - loads[at + 1].start_s)
        first, last = np.searchsorted(time_s, (first_s, last_s))
        part, when = values[first:last], time_s[first:last]
        if height == 0:
            found.append(math.nan)
            continue
        done = (part - levels[at]) / height
        with np.errstate(invalid="ignore"):
            known = (done > -_ASTRAY) & (done < 1.0 + _ASTRAY)  # what wraps below nought is far off
        done, when = done[known], when[known]
        if done.size < 5:
            found.append(math.nan)
            continue
        done[1:-1] = without_single(done)
        done = np.clip(done, -0.2, 1.2)
        held = np.diff(when, append=last_s)
        found.append(float(last_s - (done * held).sum()))
    return np.array(found)
