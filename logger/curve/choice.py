"""What is left possible of an edge, by how likely it is, and what that says of its time, level and course."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

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


class Choice:
    """What is possible, by how likely it is; scores and fits of shape (fades, ramps, times)."""

    def __init__(self, score: Floats, fits: Fits) -> None:
        chance = np.exp(score - score.max()).ravel()
        self._shape, likely = score.shape, np.flatnonzero(chance > _UNLIKELY)
        self._chance = chance[likely] / chance[likely].sum()
        self._places = np.unravel_index(likely, score.shape)
        self._fits = fits

    @property
    def at_brim(self) -> bool:
        """Whether it may as well be at the first or the last of the times, and so beyond them."""
        time, last = self._places[-1], self._shape[-1] - 1
        brim = self._chance[(time == 0) | (time == last)]
        return bool(brim.size and brim.max() > _AT_BRIM * self._chance.max())

    def of(self, values: Floats) -> Floats:
        """Give the values of what is likely, of those of all or of what spreads to them."""
        if values.shape == self._shape:
            return np.asarray(values[self._places])
        sizes = (1,) * (len(self._shape) - values.ndim) + values.shape
        wanted = tuple(place if size > 1 else 0 for place, size in zip(self._places, sizes, strict=True))
        found = np.asarray(values.reshape(sizes)[wanted])
        return found if found.shape else np.full(self._chance.shape, found)

    def known(self, *at_s: Floats) -> Known:
        """Sum up when the edge is, and the level beside it.

        :param at_s: when each of what is likely is; several where they look the same and are as likely
        """
        at = np.concatenate(at_s)
        chance = np.concatenate([self._chance / len(at_s)] * len(at_s))
        order = np.argsort(at)
        below = np.cumsum(chance[order]) - 0.5 * chance[order]
        low_s, middle_s, high_s = np.interp([0.05, 0.5, 0.95], below, at[order])
        level_g, spread_g = self.of(self._fits.level_g), self.of(self._fits.level_sd_g)
        level = float(self._chance @ level_g)
        variance = float(self._chance @ (spread_g**2 + (level_g - level) ** 2))
        unsure_s = 1.645 * CLOCK_S
        return Known(
            float(middle_s),
            float(middle_s) - math.hypot(middle_s - low_s, unsure_s),
            float(middle_s) + math.hypot(high_s - middle_s, unsure_s),
            level,
            math.sqrt(variance),
        )

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
        best = np.argsort(self._chance)[-_MOST_SHARES:]
        chance = self._chance[best] / self._chance[best].sum()
        time = np.arange(from_s, to_s, SHARE_STEP_S)
        turns, ramp = self.of(turns_s)[best, None], self.of(ramp_s)[best, None]
        since = time - turns if is_start else turns - time
        share = np.clip(since / ramp, 0.0, 1.0)
        if fade_s is not None:
            fade = np.maximum(self.of(fade_s)[best, None], 1e-3)
            left = self.of(self._fits.fading_g_s)[best, None] / self.of(self._fits.flow_g_s)[best, None]
            left = np.maximum(left, 0.0)
            share = share + np.where(since < 0.0, left * np.exp(np.minimum(since, 0.0) / fade), 0.0)
        mean = chance @ share
        spread = np.sqrt(np.maximum(chance @ share**2 - mean**2, 0.0))
        return Known(
            known.time_s,
            known.low_s,
            known.high_s,
            known.level_g,
            known.level_sd_g,
            from_s,
            mean,
            spread,
        )
