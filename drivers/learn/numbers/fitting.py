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
from drivers.learn.numbers.meaning import meaning_of_line
from drivers.learn.numbers.number import Number, middle_of
from drivers.learn.numbers.scales import Scale
from drivers.learn.numbers.uncertainty import error_of, most_off, scatter
from drivers.learn.packets.arrays import Floats
from drivers.learn.packets.kinds import Kind

_ASTRAY = 0.6
_FAR = 0.05
"""Share of the span of all loads that no noise of one load comes near."""

_ON_FLOOR = 0.45
"""Share of readings of an empty pan that are the least one, where there is none below nought."""

KNOWN_ZEROS = ("none", "half")
"""Kinds of nought that are known beforehand: an empty pan's is nothing, or the middle of the range."""

_OF_LOAD, _OF_UNIT = {"weight": 4e-4, "temperature": 0.01}, {"weight": 0.04, "temperature": 0.6}
"""How far a known load may be from what the brewer typed: a share of it, and g or °C."""


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
    typed = np.array([load.value for load in loads])
    known = [values[rows][np.isfinite(values[rows])] for rows in kind.settled]
    if min(one.size for one in known) < 3:
        return None
    span_counts = float(np.ptp([middle_of(one) for one in known]))
    at_rest = [settled_values(one, _FAR * span_counts) for one in known]
    levels = np.array([_level_of(one, load) for one, load in zip(at_rest, typed, strict=True)])
    spreads = np.array([one.std() for one in at_rest])
    noise = float(middle_of(spreads))
    grid = grid_of(values[np.isfinite(values)], number)
    errors = np.array([error_of(one, grid) for one in at_rest])
    slope, offset = _line(typed, levels)
    if slope == 0.0:
        return None
    off = (levels - slope * typed - offset) / slope
    span = np.ptp(typed)
    uncertain_counts = 1.2 * grid + 2.0 * float(middle_of(errors))
    if grid > abs(slope) * span or noise > 0.08 * abs(slope) * span:
        return None
    if np.abs(off).max() > 0.02 * span + uncertain_counts / abs(slope):
        return None
    good = in_place(kind, values, np.append(levels, offset), noise, grid)
    if has_foreign_byte(kind, number) or has_foreign_byte_in(kind, number, good):
        return None
    allowed = np.maximum(_OF_LOAD[quantity] * np.abs(typed), _OF_UNIT[quantity])
    lever = max(float(typed.std()) * math.sqrt(len(typed)), 1e-9) / abs(slope)
    error = np.hypot(errors / abs(slope), allowed / 2)
    slope_error = float(np.sqrt((error**2).mean())) / lever
    shown = np.maximum(errors / abs(slope), np.minimum(allowed / 2, most_off(off)))
    least_error = float(np.sqrt((shown**2).mean())) / lever
    scale, zero, zero_kind, cost = meaning_of_line(
        typed, levels, errors, slope, offset, slope_error, least_error, grid, number, quantity
    )
    if _has_bytes_of_others(kind, number, slope, scale, zero_kind):
        return None
    if scale is None:
        least_error = float(np.sqrt((np.maximum(shown, scatter(off)) ** 2).mean())) / lever
    if scale is None and zero_kind in KNOWN_ZEROS:
        # What stands for nothing is known beforehand: all loads tell the factor, and none of them nothing.
        size = float((typed**2).sum())
        slope, offset = float((typed * (levels - zero)).sum()) / size, zero
        if slope == 0.0:
            return None
        off = (levels - zero) / slope - typed
        shown = np.maximum(errors / abs(slope), np.minimum(allowed / 2, most_off(off, 1)))
        shown = np.maximum(shown, scatter(off, 1))
        least_error = abs(slope) * float(np.sqrt((shown**2).mean())) / math.sqrt(size)
    return Fit(
        kind=kind,
        number=number,
        slope=slope,
        offset=offset,
        levels=levels,
        spreads=spreads,
        noise=noise,
        grid=grid,
        worst=float(np.abs(off).max()),
        slope_error=least_error,
        offset_error=float(np.sqrt((errors**2).mean())) + abs(slope) * _OF_UNIT[quantity] / 4,
        inside=float(good.mean()),
        scale=scale,
        zero=zero,
        zero_kind=zero_kind,
        cost=cost,
        switch_s=_switches(kind.time_s, values, levels, loads),
        path=_path(values, levels, good, noise, grid),
    )


def _has_bytes_of_others(
    kind: Kind, number: Number, slope: float, scale: Scale | None, zero_kind: str
) -> bool:
    """Say whether what a number would stand for shows that some of its bytes belong to something else."""
    if number.order in WORD_ORDERS and zero_kind not in KNOWN_ZEROS and has_still_upper_word(kind, number):
        return True
    if scale is None and rests_alike(kind, number, slope):
        return True
    return zero_kind == "round" and begins_with_mark(kind, number)


def in_place(kind: Kind, values: Floats, reached: Floats, noise: float, grid: float) -> np.ndarray:
    """Say for each packet whether its number is near the range of the loads, and near its own at rest.

    A vessel that is tared and lifted off goes as far below nought as a load goes above.

    :param reached: what it says at each load, and last what it would on an empty pan, which each load goes
        through that is put on and taken off; shape (k + 1,)
    """
    levels = reached[:-1]
    span = float(np.ptp(levels))
    reach = 0.35 * span + 6.0 * noise
    near = 0.03 * span + 8.0 * noise + 3.0 * grid
    mirrored = 2.0 * reached[-1] - reached
    lowest, highest = np.minimum(reached, mirrored).min(), np.maximum(reached, mirrored).max()
    with np.errstate(invalid="ignore"):
        good = (values >= lowest - reach) & (values <= highest + reach)
        for rows, level in zip(kind.settled, levels, strict=True):
            good[rows] &= np.abs(values[rows] - level) <= near
    return np.asarray(good)


def rows_in_place(one: Fit, kind: Kind | None = None) -> np.ndarray:
    """Say for each packet whether the number of a fit is in place there, shape (n,).

    :param kind: whose packets; the fit's own where none are given
    """
    kind = one.kind if kind is None else kind
    return in_place(kind, one.number.values(kind.frames), one.reached, one.noise, one.grid)


def settled_values(some: Floats, far: float) -> Floats:
    """Give what a number says at rest, damaged packets left out.

    :param some: what it says, where it can be read
    :param far: a distance at which nothing belongs to a load any more
    """
    middle = middle_of(some)
    reach = float(middle_of(np.abs(some - middle)))
    ordinary = np.abs(some - middle) <= max(7.0 * reach, 0.0 if reach else min(_least_gap(some), far))
    return np.asarray(some[ordinary])


def _level_of(some: Floats, load: float) -> float:
    """Give what a number says of a load at rest: the mean.

    An empty pan whose display has nothing below nought shows the upper half of its noise only, and nought for
    the other half: there the middle one is right.
    """
    least = float(some.min())
    return least if load == 0.0 and (some == least).mean() >= _ON_FLOOR else float(some.mean())


def _least_gap(some: Floats) -> float:
    """Give the smallest step between values: where most are equal, the next ones belong to them."""
    kinds, counts = np.unique(some, return_counts=True)
    kinds = kinds[counts >= max(2.0, 0.02 * some.size)]
    return (
        2.01 * float(np.diff(kinds).min())
        if kinds.size > 1
        else 1e-9 * abs(float(kinds[0]))
        if kinds.size
        else 0.0
    )


def _line(x: Floats, y: Floats) -> tuple[float, float]:
    x_mean, y_mean = x.mean(), y.mean()
    spread = float(((x - x_mean) ** 2).sum())
    slope = float(((x - x_mean) * (y - y_mean)).sum()) / spread if spread else 0.0
    return slope, float(y_mean - slope * x_mean)


def _path(values: Floats, levels: Floats, good: np.ndarray, noise: float, grid: float) -> float:
    """Give how far a number goes altogether, as a share of the way that the loads make it go."""
    way = float(np.abs(np.diff(levels)).sum())
    some = values[good]
    if some.size > 2:  # single ones astray are damage
        some = np.median((some[:-2], some[1:-1], some[2:]), axis=0)
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
        done[1:-1] = np.median((done[:-2], done[1:-1], done[2:]), axis=0)
        done = np.clip(done, -0.2, 1.2)
        held = np.diff(when, append=last_s)
        found.append(float(last_s - (done * held).sum()))
    return np.array(found)
