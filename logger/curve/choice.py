"""What is left possible of an edge, by how likely it is, and what that says of its time, level and course."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.linear import Fits

CLOCK_S = 0.03
"""Standard deviation of when a reading was taken, against when it arrived (common for radio and USB)."""

SHARE_STEP_S = 0.05

_MOST_SHARES = 32
_UNLIKELY = 1e-6
_AT_BRIM = 1e-3
"""As likely as that against the likeliest, an edge at the brim means that those beyond count."""


@dataclass(frozen=True, slots=True)
class Known:
    """An edge with its uncertainty.

    :param time_s: first water of a start; the flow's fall below 0.1 g/s of an end; the median
    :param low_s: with ``high_s`` the central 90 % of what the samples leave possible
    :param level_g: the weight before a start, after an end
    :param level_sd_g: its standard deviation
    :param share: the flow around the edge, as a share of the full flow beside it, from ``share_from_s`` on
        every ``SHARE_STEP_S``: the mean of all that is possible; ``share_sd`` is its standard deviation
    """

    time_s: float
    low_s: float
    high_s: float
    level_g: float
    level_sd_g: float
    share_from_s: float = 0.0
    share: Floats | None = None
    share_sd: Floats | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """What is possible, by how likely it is; scores and fits of shape (fades, ramps, times).

    :param likely: which of all count, as places in what is laid out flat, shape (k,)
    :param chance: how likely each of them is, 1 in all, shape (k,)
    """

    fits: Fits
    shape: tuple[int, ...]
    likely: NDArray[np.intp]
    chance: Floats

    @classmethod
    def by(cls, score: Floats, fits: Fits) -> Choice:
        """Weigh by the logarithm of how likely each is."""
        chance = np.exp(score - score.max()).ravel()
        likely = (chance > _UNLIKELY).nonzero()[0]
        return cls(fits, score.shape, likely, chance[likely] / chance[likely].sum())

    def likeliest(self, most: int) -> Choice:
        """Leave only so many."""
        if self.chance.size <= most:
            return self
        kept = self.chance.argpartition(-most)[-most:]
        return Choice(self.fits, self.shape, self.likely[kept], self.chance[kept] / self.chance[kept].sum())

    def first(self, ways: int) -> Choice:
        """Leave only the first so many along the first axis; all, where none of those is possible."""
        kept = self.likely < ways * math.prod(self.shape[1:])
        if not kept.any():
            return self
        return Choice(self.fits, self.shape, self.likely[kept], self.chance[kept] / self.chance[kept].sum())

    @property
    def at_brim(self) -> bool:
        """Whether it may as well be at the first or the last of the times, and so beyond them."""
        time, last = self.likely % self.shape[-1], self.shape[-1] - 1
        brim = self.chance[(time == 0) | (time == last)]
        return bool(brim.size and brim.max() > _AT_BRIM * self.chance.max())

    def of(self, values: Floats) -> Floats:
        """Give the values of what is likely, of those of all or of what spreads to them."""
        if values.shape != self.shape:
            values = values + np.zeros(self.shape)
        return np.asarray(values.take(self.likely))

    def known(self, *at_s: Floats) -> Known:
        """Sum up when the edge is, and the level beside it.

        :param at_s: when each of what is likely is; several where they look the same and are as likely
        """
        at = np.concatenate(at_s)
        chance = np.concatenate([self.chance / len(at_s)] * len(at_s))
        order = np.argsort(at)
        below = np.cumsum(chance[order]) - 0.5 * chance[order]
        low_s, middle_s, high_s = np.interp([0.05, 0.5, 0.95], below, at[order])
        unsure_s = 1.645 * CLOCK_S
        return Known(
            float(middle_s),
            float(middle_s) - math.hypot(middle_s - low_s, unsure_s),
            float(middle_s) + math.hypot(high_s - middle_s, unsure_s),
            *self.level_g(),
        )

    def level_g(self) -> tuple[float, float]:
        """Give the level beside the edge, and its standard deviation."""
        level_g, spread_g = self.of(self.fits.level_g), self.of(self.fits.level_sd_g)
        mean_g = float(self.chance @ level_g)
        variance_g2 = float(self.chance @ (spread_g**2 + (level_g - mean_g) ** 2))
        return mean_g, math.sqrt(variance_g2)

    def with_share(
        self,
        known: Known,
        from_s: float,
        to_s: float,
        turns_s: Floats,
        ramp_s: Floats,
        fade_s: Floats | None = None,
        *,
        is_start: bool,
    ) -> Known:
        """Add the mean course of the flow over the likeliest, between two times.

        :param turns_s: when the ramp of a start begins, or that of an end is over
        """
        best = self.likeliest(_MOST_SHARES)
        time = np.arange(from_s, to_s, SHARE_STEP_S)
        since = time - best.of(turns_s)[:, None]
        if not is_start:
            since = -since
        share = np.minimum(np.maximum(since / best.of(ramp_s)[:, None], 0.0), 1.0)
        if fade_s is not None:
            fade = np.maximum(best.of(fade_s), 1e-3)[:, None]
            left = best.of(self.fits.fading_g_s) / best.of(self.fits.flow_g_s)
            # What fades counts once the stream has stopped.
            faded = np.exp(np.minimum(since, 0.0) / fade)
            share += np.maximum(left, 0.0)[:, None] * faded * (since < 0.0)
        mean = best.chance @ share
        spread = np.sqrt(np.maximum(best.chance @ share**2 - mean**2, 0.0))
        edge = (known.time_s, known.low_s, known.high_s, known.level_g, known.level_sd_g)
        return Known(*edge, from_s, mean, spread)
