"""The scale's lag where no step shows it: told by how the edges of the pours are rounded.

A lag rounds an edge in another way than a slow hand does. The flow's own wobble, not the noise, limits how
well an edge can be fitted, so misfits are compared by their ratio, edge by edge. What that leaves possible is
wide: the mean of it is off by less than the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.edge import THIN_FLOW_G_S, misfits_g2
from logger.curve.edges.edge_misfits import Window
from logger.curve.edges.shapes import Response
from logger.curve.pours.stretches import TRIED_EVERY_S, about_s
from logger.curve.pours.water_curve import Curve
from logger.curve.scale.response import USUAL

RESPONSES = (
    *(Response(stage_s) for stage_s in (0.03, 0.06, 0.1, 0.2, 0.3, 0.45, 0.65, 0.9)),
    *(Response(stage_s, 2) for stage_s in (0.15, 0.25, 0.4, 0.6, 0.8)),
)
TYPICAL_LAG_S, LAGS_DIFFER = 0.44, 1.0
"""The middle of 0.15 to 0.8 s, by ratio, where every third scale lags twice over; by how much scales differ:
standard deviation of the logarithm."""
EDGE_TELLS = 4.0
"""So many readings of its own an edge has to say about the lag: the others see the same wobble of a hand."""
MOST_TELLING = 3
"""So many pours, the largest, tell the lag as well as all."""
UNSEEN_S = 0.5
_LASTS_S = 3.0
_BEFORE_S, _AFTER_S = 3.0, 2.2
"""How far the samples of an edge reach away from its pour and into it; an end's reach a lag further."""
_FEWEST = 8
ABOUT_S = 0.5
"""By how much an edge may be off where its stretch leaves a level or reaches one, and half a ramp."""


@dataclass(frozen=True, slots=True)
class ToldLag:
    """What is told of the lag.

    :param sd_s: standard deviation of the delay
    """

    response: Response
    sd_s: float


@dataclass(frozen=True, slots=True)
class Lags:
    """Lags that are possible.

    :param responses: each of them, those of one stage first
    :param chance: how likely each is, shape (n,)
    """

    responses: tuple[Response, ...]
    chance: Floats

    @classmethod
    def usual(cls) -> Lags:
        """Give those of scales of which nothing is known."""
        return cls.about(TYPICAL_LAG_S, LAGS_DIFFER, RESPONSES)

    @classmethod
    def about(cls, middle_s: float, differ: float, responses: tuple[Response, ...]) -> Lags:
        """Take them for as likely as they lie near the middle, by ratio.

        :param differ: standard deviation of the logarithm
        """
        off = np.log([response.delay_s / middle_s for response in responses]) / differ
        return cls(responses, np.exp(-0.5 * off**2))

    def told(self, more_likely: Floats | float = 0.0) -> ToldLag:
        """Sum up what is possible.

        :param more_likely: the logarithm of by how much, by what else is known
        """
        likely = np.log(self.chance) + more_likely
        chance = np.exp(likely - likely.max())
        chance /= chance.sum()
        delays_s = np.array([response.delay_s for response in self.responses])
        delay_s = float(chance @ delays_s)
        order = 1 + int(chance @ [response.order > 1 for response in self.responses] > 0.5)
        return ToldLag(Response(delay_s / order, order), float(np.sqrt(chance @ (delays_s - delay_s) ** 2)))


def lag_by_edges(curve: Curve, spans: Sequence[tuple[int, int]], lags: Lags) -> ToldLag | None:
    """Weigh lags by how well the edges of the largest pours fit with each.

    An espresso says nothing of the scale: its last drops fade as if seen through a lag.

    :param curve: taken for one of the usual lag
    :param spans: first and last grid index of each stretch of flow, in order
    :param lags: those that are possible
    :returns: None where nothing tells it
    """
    edges = _telling_edges(curve, spans, lags.responses)
    if not edges:
        return None
    floor_g2 = 0.25 * curve.noise_g**2
    misfit = np.mean([np.log(np.maximum(each, floor_g2)) for each in edges], axis=0)
    return lags.told(-0.5 * EDGE_TELLS * len(edges) * misfit)


def _telling_edges(
    curve: Curve, spans: Sequence[tuple[int, int]], responses: tuple[Response, ...]
) -> list[Floats]:
    """Misfits for each lag, of the edges of stretches that last and flow like a pour."""
    poured = []
    for number, (first, last) in enumerate(spans):
        start_s, end_s = about_s(curve, first, last)
        gained_g = float(curve.grid_g[last] - curve.grid_g[first])
        if end_s - start_s > _LASTS_S and gained_g > THIN_FLOW_G_S * (end_s - start_s):
            poured.append((gained_g, number, start_s, end_s))
    starts, ends = [], []
    for _, number, start_s, end_s in sorted(poured)[-MOST_TELLING:]:
        earlier_s = curve.grid_s[spans[number - 1][1]] if number else -np.inf
        later_s = curve.grid_s[spans[number + 1][0]] if number + 1 < len(spans) else np.inf
        middle_s = 0.5 * (start_s + end_s)
        # Where the readings begin or end in a pour, there is no edge.
        if start_s > curve.time_s[0] + UNSEEN_S:
            window_s = (
                max(start_s - _BEFORE_S, 0.5 * (earlier_s + start_s)),
                min(start_s + _AFTER_S, middle_s),
            )
            starts.append(_window(curve, start_s, window_s))
        if end_s < curve.time_s[-1] - UNSEEN_S:
            window_s = max(end_s - _AFTER_S, middle_s), min(end_s + _BEFORE_S + 1.0, 0.5 * (later_s + end_s))
            ends.append(_window(curve, end_s, window_s))
    found: list[Floats] = []
    for windows, is_start in ((starts, True), (ends, False)):
        seen = [window for window in windows if window is not None]
        if seen:
            found.extend(misfits_g2(seen, responses, is_start=is_start).T)
    return found


def _window(curve: Curve, at_s: float, window_s: tuple[float, float]) -> Window | None:
    """The samples of one edge, and when it may be shown, whatever the lag."""
    time, weight = curve.measured(*window_s)
    if time.size < _FEWEST:
        return None
    shown_s = at_s + USUAL.delay_s
    return Window(time, weight, np.arange(shown_s - ABOUT_S, shown_s + ABOUT_S, TRIED_EVERY_S))
