"""What may be left when a stream stops, and until when it drips on with that.

The fit of an end gives what fades as a normal distribution around a mean. Where the samples say little that
distribution is wide, and the end of the pour is anywhere between the stream's own end and long after: the
distribution is taken in three parts, cut to what can be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.edges.choice import Choice
from logger.curve.edges.linear import Fits
from logger.curve.readings.runs import Flags

ENDS_AT_G_S = 0.1
"""Below that a pour is over."""

MOST_LEFT = 1.3
"""No stream leaves more behind it than it was, give or take what it wavers; a share of the flow."""

_PARTS = np.array([[1.0 / 6.0], [0.5], [5.0 / 6.0]])
_FARTHEST, _STEPS_EACH = 5.0, 20
_DEVIATIONS = np.linspace(-_FARTHEST, _FARTHEST, round(2.0 * _FARTHEST * _STEPS_EACH) + 1)
_BELOW = np.array([0.5 * (1.0 + math.erf(deviation / math.sqrt(2.0))) for deviation in _DEVIATIONS])
_GROWS = np.append(np.diff(_BELOW), 0.0)
_LEAST_CHANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Left:
    """What fades after every end that is possible, cut to between nothing and ``MOST_LEFT`` of the flow.

    :param below: how much of the distribution lies below nothing
    :param chance: how much lies between; 1 where nothing fades
    """

    mean_g_s: Floats
    sd_g_s: Floats
    below: Floats
    chance: Floats

    @classmethod
    def of(cls, fits: Fits, fades: int, most: float = MOST_LEFT) -> Left:
        """Take it from the fits of an end.

        :param fades: so many fades follow each that is none
        :param most: no more is left than that, as a share of the flow
        """
        mean, sd = fits.fading_g_s, fits.fading_sd_g_s
        cuts = np.stack((-mean, most * fits.flow_g_s - mean)) / sd
        below, within = _share_below(cuts)
        chance = np.maximum(within - below, _LEAST_CHANCE)
        chance[:, :: fades + 1] = 1.0
        return cls(mean, sd, below, chance)

    def only(self, edges: NDArray[np.intp]) -> Left:
        """Take what is left after the ends of some edges."""
        return Left(self.mean_g_s[edges], self.sd_g_s[edges], self.below[edges], self.chance[edges])

    @property
    def possible(self) -> Flags:
        """Which ends do not need less than nothing to fade, nor far more than there was."""
        return self.chance > _LEAST_CHANCE

    def parts_g_s(self, choice: Choice) -> Floats:
        """The middles of the thirds of the distribution, of what is likely; shape (3, k)."""
        mean, sd, below, chance = map(choice.of, (self.mean_g_s, self.sd_g_s, self.below, self.chance))
        return np.asarray(mean + sd * np.interp(below + _PARTS * chance, _BELOW, _DEVIATIONS))


def _share_below(deviations: Floats) -> Floats:
    """How much of a normal distribution lies below, by straight lines between even deviations."""
    steps = (np.minimum(np.maximum(deviations, -_FARTHEST), _FARTHEST) + _FARTHEST) * _STEPS_EACH
    whole = steps.astype(np.intp)
    return np.asarray(_BELOW.take(whole) + (steps - whole) * _GROWS.take(whole))


def times_it_ends_s(
    parts_g_s: Floats,
    stops_s: Floats,
    fades_s: Floats,
    own_ends_s: tuple[Floats, Floats],
) -> list[Floats]:
    """When the flow falls below 0.1 g/s: by its fade, or before that by the stream's own fall.

    :param parts_g_s: what may fade, see ``Left.parts_g_s``, shape (p, k)
    :param stops_s: when each stream has stopped, and what fades begins, shape (k,)
    :param fades_s: time constants, 0 for none, shape (k,)
    :param own_ends_s: when the stream itself falls below, as likely one as the other, shape (k,) each
    :returns: times as likely as each other, shape (k,) each
    """
    lasts_s = fades_s * np.log(np.maximum(parts_g_s / ENDS_AT_G_S, 1.0))
    fades = zip(lasts_s > 0.0, stops_s + lasts_s, strict=True)
    return [np.where(lasts, faded_s, own_s) for lasts, faded_s in fades for own_s in own_ends_s]


def tails_g(parts_g_s: Floats, fades_s: Floats) -> Floats:
    """How much a fade still brings below 0.1 g/s, on average; parameters as above, shape (k,)."""
    below_g_s = np.minimum(np.maximum(parts_g_s, 0.0), ENDS_AT_G_S).sum(axis=0)
    return np.asarray(below_g_s * fades_s / len(parts_g_s))
