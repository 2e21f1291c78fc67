"""What a number says while the loads are at rest, and the straight line through that."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from drivers.learn.captures.capture import Quantity
from drivers.learn.numbers.grids import grid_of
from drivers.learn.numbers.number import Number, middle_of
from drivers.learn.numbers.uncertainty import error_of, most_off, scatter
from drivers.learn.packets.arrays import Floats
from drivers.learn.packets.kinds import Kind

_FEWEST = 3
"""Packets at rest that tell a level."""

_FAR = 0.05
"""Share of the span of all loads that no noise of one load comes near."""

_ON_FLOOR = 0.45
"""Share of readings of an empty pan that are the least one, where there is none below nought."""

_OF_LOAD, _OF_UNIT = {"weight": 4e-4, "temperature": 0.01}, {"weight": 0.04, "temperature": 0.6}
"""How far a known load may be from what the brewer typed: a share of it, and g or °C."""

_MOST_NOISE, _MOST_OFF = 0.08, 0.02
"""Shares of the span of the loads: noise beyond which a number follows nothing, and how far off a line."""


@dataclass(frozen=True, eq=False)
class Rests:
    """What a number says at rest.

    :param typed: the loads, g or °C, shape (k,)
    :param levels: what it says at each, counts, shape (k,)
    :param spreads: standard deviation of one packet at each
    :param errors: standard uncertainty of each level, counts
    :param noise: the ordinary one of the spreads
    :param grid: the step in which it changes, counts
    """

    typed: Floats
    levels: Floats
    spreads: Floats
    errors: Floats
    noise: float
    grid: float

    @property
    def span(self) -> float:
        """From the lightest load to the heaviest, g or °C."""
        return float(np.ptp(self.typed))

    @property
    def away(self) -> float:
        """How far the loads are from their middle, all of them together, g or °C."""
        return max(float(self.typed.std()) * math.sqrt(len(self.typed)), 1e-9)


@dataclass(frozen=True, eq=False)
class Line:
    """A straight line through the levels: ``number = slope * load + offset``.

    :param slope: counts per g or °C
    :param offset: counts that stand for nothing
    :param off: how far each load lies off it, g or °C, shape (k,)
    :param fitted: what of it was fitted to the loads: 2, or 1 where what stands for nothing is known
    :param away: how far the loads are from where the line is held, all of them together, g or °C
    """

    slope: float
    offset: float
    off: Floats
    fitted: int
    away: float

    @property
    def worst(self) -> float:
        """The largest distance of a load from it, g or °C."""
        return float(np.abs(self.off).max())

    def error_of(self, each: Floats) -> float:
        """Give the standard uncertainty of the slope, where that of each load is known, g or °C."""
        return float(np.sqrt((each**2).mean())) * abs(self.slope) / self.away


def rests_of(kind: Kind, number: Number, values: Floats, typed: Floats) -> Rests | None:
    """Give what a number says at each load; None where it can hardly be read at one.

    :param values: what it says in each packet, shape (n,)
    :param typed: the loads, g or °C, shape (k,)
    """
    known = [values[rows][np.isfinite(values[rows])] for rows in kind.settled]
    if min(one.size for one in known) < _FEWEST:
        return None
    span_counts = float(np.ptp([middle_of(one) for one in known]))
    at_rest = [_ordinary(one, _FAR * span_counts) for one in known]
    spreads = np.array([one.std() for one in at_rest])
    grid = grid_of(values[np.isfinite(values)], number)
    return Rests(
        typed=typed,
        levels=np.array([_level_of(one, load) for one, load in zip(at_rest, typed, strict=True)]),
        spreads=spreads,
        errors=np.array([error_of(one, grid) for one in at_rest]),
        noise=float(middle_of(spreads)),
        grid=grid,
    )


def line_through(rests: Rests) -> Line | None:
    """Put a line through what a number says; None where it does not follow the loads."""
    typed, levels = rests.typed, rests.levels
    typed_mean, level_mean = typed.mean(), levels.mean()
    spread = float(((typed - typed_mean) ** 2).sum())
    slope = float(((typed - typed_mean) * (levels - level_mean)).sum()) / spread if spread else 0.0
    if slope == 0.0:
        return None
    offset = float(level_mean - slope * typed_mean)
    line = Line(slope, offset, (levels - slope * typed - offset) / slope, 2, rests.away)
    if rests.grid > abs(slope) * rests.span or rests.noise > _MOST_NOISE * abs(slope) * rests.span:
        return None
    uncertain_counts = 1.2 * rests.grid + 2.0 * float(middle_of(rests.errors))
    return None if line.worst > _MOST_OFF * rests.span + uncertain_counts / abs(slope) else line


def line_from(zero: float, rests: Rests) -> Line | None:
    """Put a line through what is known to stand for nothing: then all loads tell the factor.

    :param zero: what stands for nothing, counts
    """
    size = float((rests.typed**2).sum())
    slope = float((rests.typed * (rests.levels - zero)).sum()) / size
    if slope == 0.0:
        return None
    return Line(slope, zero, (rests.levels - zero) / slope - rests.typed, 1, math.sqrt(size))


def brewers_error(line: Line, rests: Rests, quantity: Quantity) -> float:
    """Give the standard uncertainty of a line's slope, the loads being what a brewer's are."""
    return line.error_of(np.hypot(rests.errors / abs(line.slope), _allowed(rests, quantity) / 2))


def shown_error(line: Line, rests: Rests, quantity: Quantity, *, with_scatter: bool) -> float:
    """Give the same, the loads being as exact as they look.

    :param with_scatter: and each at least as uncertain as all of them lie off the line
    """
    off = np.minimum(_allowed(rests, quantity) / 2, most_off(line.off, line.fitted))
    shown = np.maximum(rests.errors / abs(line.slope), off)
    return line.error_of(np.maximum(shown, scatter(line.off, line.fitted)) if with_scatter else shown)


def offset_error(line: Line, rests: Rests, quantity: Quantity) -> float:
    """Give the standard uncertainty of what stands for nothing, counts."""
    return float(np.sqrt((rests.errors**2).mean())) + abs(line.slope) * _OF_UNIT[quantity] / 4


def _allowed(rests: Rests, quantity: Quantity) -> Floats:
    return np.maximum(_OF_LOAD[quantity] * np.abs(rests.typed), _OF_UNIT[quantity])


def _ordinary(some: Floats, far: float) -> Floats:
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
    if kinds.size > 1:
        return 2.01 * float(np.diff(kinds).min())
    return 1e-9 * abs(float(kinds[0])) if kinds.size else 0.0
