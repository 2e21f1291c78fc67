"""What is left possible of an edge, by how likely it is, and what that says of its time, level and course."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.edges.linear import Fits
from logger.curve.edges.share import Share

CLOCK_S = 0.03
"""Standard deviation of when a reading was taken, against when it arrived (common for radio and USB)."""

DEARER_FROM_S = 0.6
"""An error costs its size and, from about there on, its square."""

_MOST_WAYS = 32
_RANGE = (0.05, 0.5, 0.95)
_UNLIKELY = 1e-6


@dataclass(frozen=True, slots=True)
class Known:
    """An edge with its uncertainty.

    :param time_s: first water of a start; the flow's fall below 0.1 g/s of an end
    :param low_s: with ``high_s`` the central 90 % of what the samples leave possible
    :param level_g: the weight before a start, after an end
    :param level_sd_g: its standard deviation
    :param share: how much of the full flow beside it runs around the edge
    :param after_g: what may have come after an end, below 0.1 g/s, and lies in the level with the rest
    """

    time_s: float
    low_s: float
    high_s: float
    level_g: float
    level_sd_g: float
    share: Share | None = None
    after_g: float = 0.0


@dataclass(frozen=True, slots=True)
class Choice:
    """What is possible of some edges, by how likely it is; scores and fits of shape (e, ways, ramps, times).

    :param likely: which of all count, as places in what is laid out flat, edge by edge, shape (k,)
    :param chance: how likely each of them is, 1 in all of an edge, shape (k,)
    :param firsts: where those of each edge begin among them, and where the last edge's end, shape (e + 1,)
    """

    fits: Fits
    shape: tuple[int, ...]
    likely: NDArray[np.intp]
    chance: Floats
    firsts: NDArray[np.intp]

    @classmethod
    def by(cls, score: Floats, fits: Fits) -> Choice:
        """Weigh by the logarithm of how likely each is; of every edge something is possible."""
        edges, each = score.shape[0], score[0].size
        flat = score.reshape(edges, each)
        chance = np.exp(flat - flat.max(axis=1)[:, None]).ravel()
        likely = (chance > _UNLIKELY).nonzero()[0]
        firsts = likely.searchsorted(each * np.arange(edges + 1))
        return cls(fits, score.shape, likely, _as_one(chance[likely], firsts), firsts)

    def first(self, ways: int) -> Choice:
        """Leave only the first so many ways; all of an edge, where none of those is possible."""
        kept = self.likely // math.prod(self.shape[2:]) % self.shape[1] < ways
        found = np.logical_or.reduceat(kept, self.firsts[:-1])
        if not found.all():
            kept |= self._each(~found)
        firsts = np.concatenate(([0], kept.cumsum()))[self.firsts]
        return Choice(self.fits, self.shape, self.likely[kept], _as_one(self.chance[kept], firsts), firsts)

    def of(self, values: Floats) -> Floats:
        """Give the values of what is likely, of those of all or of what spreads to them."""
        if values.shape != self.shape:
            values = values + np.zeros(self.shape)
        return np.asarray(values.take(self.likely))

    def known(self, *at_s: Floats, has_two_humps: bool = False) -> list[Known]:
        """Sum up when each edge is, and the level beside it.

        :param at_s: when each of what is likely is; several where they look the same and are as likely
        :param has_two_humps: where two times may be as likely, and nothing between, not all is staked on one:
            what a large error costs counts more (see ``_least_costly_s``)
        """
        unsure_s, levels = 1.645 * CLOCK_S, zip(*self.level_g(), strict=True)
        known = []
        for first, end, level in zip(self.firsts[:-1], self.firsts[1:], levels, strict=True):
            at = np.concatenate([each_s[first:end] for each_s in at_s])
            chance = np.concatenate([self.chance[first:end] / len(at_s)] * len(at_s))
            order = np.argsort(at)
            at, chance = at[order], chance[order]
            below = np.cumsum(chance) - 0.5 * chance
            low_s, middle_s, high_s = np.interp(_RANGE, below, at).tolist()
            if has_two_humps:
                middle_s = _least_costly_s(at, chance, below)
            low_s = middle_s - math.hypot(middle_s - low_s, unsure_s)
            high_s = middle_s + math.hypot(high_s - middle_s, unsure_s)
            known.append(Known(middle_s, low_s, high_s, *level))
        return known

    def mean_of(self, values: Floats) -> list[float]:
        """Give the mean of each edge, over what is likely; values of shape (k,)."""
        means: list[float] = np.add.reduceat(self.chance * values, self.firsts[:-1]).tolist()
        return means

    def level_g(self) -> tuple[list[float], list[float]]:
        """Give the level beside each edge, and its standard deviation."""
        level_g, spread_g = self.of(self.fits.level_g), self.of(self.fits.level_sd_g)
        mean_g = np.add.reduceat(self.chance * level_g, self.firsts[:-1])
        off2 = spread_g**2 + (level_g - self._each(mean_g)) ** 2
        variance_g2 = np.add.reduceat(self.chance * off2, self.firsts[:-1])
        return mean_g.tolist(), np.sqrt(variance_g2).tolist()

    def _each(self, of_edges: NDArray[Any]) -> NDArray[Any]:
        """Spread what is said of each edge to what is likely of it."""
        return np.repeat(of_edges, self.firsts[1:] - self.firsts[:-1])

    def with_shares(
        self,
        known: list[Known],
        reach_s: tuple[float, float],
        turns_s: Floats,
        ramps_s: Floats,
        fades: Sequence[tuple[Floats, Floats]] | None = None,
    ) -> list[Known]:
        """Add how much of the flow runs around each edge, over the likeliest of what is possible.

        :param reach_s: so long before an edge's range, and after it, its flow may change
        :param turns_s: when the ramp of a start begins, or that of an end is over, shape (k,)
        :param ramps_s: how long it takes, shape (k,)
        :param fades: what fades after an end, see ``Share``; None of starts
        """
        of_ways = [turns_s, ramps_s, *(of_fade for fade in fades or () for of_fade in fade)]
        firsts = self.firsts.tolist()
        return [
            replace(
                each, share=self._share(each, reach_s, slice(first, last), of_ways, is_end=fades is not None)
            )
            for each, first, last in zip(known, firsts[:-1], firsts[1:], strict=True)
        ]

    def _share(
        self, known: Known, reach_s: tuple[float, float], own: slice, of_ways: list[Floats], *, is_end: bool
    ) -> Share:
        """Take the likeliest ways of one edge."""
        chance = self.chance[own]
        if chance.size > _MOST_WAYS:
            kept = chance.argpartition(-_MOST_WAYS)[-_MOST_WAYS:]
            chance = chance[kept] / chance[kept].sum()
            ways = [each[own][kept] for each in of_ways]
        else:
            ways = [each[own] for each in of_ways]
        turns_s, ramps_s, *of_fades = ways
        fades = tuple(zip(of_fades[::2], of_fades[1::2], strict=True)) if is_end else None
        return Share(known.low_s - reach_s[0], known.high_s + reach_s[1], chance, turns_s, ramps_s, fades)


def _least_costly_s(at_s: Floats, chance: Floats, below: Floats) -> float:
    """Give the time for which an error is expected to cost least, where one of ``x`` costs
    ``x + x^2 / (2 DEARER_FROM_S)``: about the median of what is narrow, towards the mean of what is wide.

    :param at_s: in order, with how likely each is, 1 in all, and how much lies below it
    """
    rising = 2.0 * below - 1.0 + (at_s - float(chance @ at_s)) / DEARER_FROM_S
    return float(np.interp(0.0, rising, at_s))


def _as_one(chance: Floats, firsts: NDArray[np.intp]) -> Floats:
    """Let what is likely of each edge be 1 in all."""
    return np.asarray(chance / np.repeat(np.add.reduceat(chance, firsts[:-1]), firsts[1:] - firsts[:-1]))
