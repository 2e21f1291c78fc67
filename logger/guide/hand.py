"""How much still flows after "stop" was called, learned from what flowed before.

Between the weight that the scale shows and the end of the stream lie the scale's own lag, the radio, the
device that gives the call, the ear, the hand, and the stream's fading. All of it together is one time: what
came on top of what was shown at the call, divided by the flow at the call. The scale's lag is known apart
from the rest once a pour or a vessel has shown it; the rest is the brewer's. An espresso's after-drip is the
same, with another prior.

Only the prior is from outside. The hand's part of it is the reaction to a sound: 186 ms where only one sound
can come, 283 ms where the sound has to be told from others first, as here ("A study on measurement of
auditory reaction time", Nihon Jibiinkoka Gakkai Kaiho 93(5):746-755; the abstract was read). The rest is
common practice: half of the 0.3 to 1 s in which a stream fades, and a tenth of a second for the links.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

Stopped = Literal["pour", "shot"]

REACTION_S = 0.283
"""Mean reaction to a sound that has to be told from others; see the module."""

PRIOR_S: dict[Stopped, float] = {"pour": REACTION_S + 0.3 + 0.1, "shot": REACTION_S + 0.85 + 0.2}
"""Before anything is known: the reaction, half a stream's fading (or an espresso's after-drip), the links."""

PRIOR_WEIGHT: dict[Stopped, float] = {"pour": 0.7, "shot": 0.25}
"""What the prior counts for, in outcomes: it is as far off as hands (or machines) differ, one outcome as far
as the same hand (or machine) differs from itself: about 0.2 to 0.15 s, and 0.25 to 0.12 s."""

OTHER_SCALE = 0.3
"""What an outcome on another scale counts for: the hand is the same, the delay of the display is not."""

FORGETS_AFTER = 20
"""An outcome that so many have followed counts half: hands learn, and kettles change."""

MOST = 60
LEAST_FLOW_G_S = 0.4
LONGEST_S = 3.5
"""Who pours on for longer has not heard the call, or did not follow it; nor did who stopped before it."""

USUAL_LAG_S = 0.3
"""Of a scale of which nothing is known: the middle of what bench scales show (0.15 to 0.8 s)."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one call to stop.

    :param kind: what was stopped
    :param flow_g_s: when it was called
    :param after_g: what came on top of what the scale showed at the call
    :param lag_s: of the scale, as far as it was known when the pour had been read
    :param scale: which scale said so: its address, or empty
    """

    kind: Stopped
    flow_g_s: float
    after_g: float
    lag_s: float = USUAL_LAG_S
    scale: str = ""

    @property
    def delay_s(self) -> float:
        """The time in which that flow brings that much, the scale's lag in it."""
        return self.after_g / self.flow_g_s

    @property
    def tells(self) -> bool:
        """Whether anything can be learned from it."""
        numbers = math.isfinite(self.flow_g_s) and math.isfinite(self.after_g)
        if not numbers or not 0.0 <= self.lag_s <= LONGEST_S:
            return False
        return self.flow_g_s >= LEAST_FLOW_G_S and 0.0 <= self.delay_s <= LONGEST_S


@dataclass(frozen=True, slots=True)
class Hand:
    """What is known of a brewer's hand (and machine), on one scale.

    :param outcomes: of earlier calls, oldest first
    :param scale: the one in use
    """

    outcomes: tuple[Outcome, ...] = ()
    scale: str = ""

    def delay_s(self, kind: Stopped, lag_s: float) -> float:
        """How long the flow goes on, in effect, beyond what the scale shows when "stop" is called.

        A mean of what was seen and of the prior, by weight; what lies far from the median of those seen is
        drawn in, so that one distracted pour does not spoil the next. What was seen on this scale has its lag
        in it; of what was seen on another the lags are exchanged.

        :param lag_s: of the scale in use, as far as it is known
        """
        prior_s = PRIOR_S[kind] + lag_s
        seen = [each for each in self.outcomes if each.kind == kind and each.tells]
        if not seen:
            return prior_s
        here = [each.scale == self.scale for each in seen]
        delays = [
            each.delay_s if is_here else each.delay_s - each.lag_s + lag_s
            for each, is_here in zip(seen, here, strict=True)
        ]
        weights = [
            math.exp2(-age / FORGETS_AFTER) * (1.0 if is_here else OTHER_SCALE)
            for age, is_here in zip(reversed(range(len(seen))), here, strict=True)
        ]
        drawn_in = _drawn_in(delays, prior_s)
        whole = sum(weight * delay for weight, delay in zip(weights, drawn_in, strict=True))
        return max((whole + PRIOR_WEIGHT[kind] * prior_s) / (sum(weights) + PRIOR_WEIGHT[kind]), 0.0)

    @property
    def lag_s(self) -> float:
        """The lag of the scale in use, as it was known last."""
        known = [each.lag_s for each in self.outcomes if each.scale == self.scale]
        return median(known[-5:]) if known else USUAL_LAG_S

    def after_g(self, kind: Stopped, flow_g_s: float, lag_s: float) -> float:
        """What will still come on top of what the scale shows, when "stop" is called at this flow."""
        return self.delay_s(kind, lag_s) * max(flow_g_s, 0.0)

    def learned(self, outcome: Outcome) -> Hand:
        """Know one outcome more; one from which nothing can be learned is passed over."""
        if not outcome.tells:
            return self
        return Hand((*self.outcomes, outcome)[-MOST:], self.scale)


def _drawn_in(delays: Sequence[float], prior_s: float) -> list[float]:
    """Bring what lies more than three deviations from the middle (the prior is one voice) to that edge."""
    middle = median([*delays, prior_s])
    spread = max(1.4826 * median(abs(delay - middle) for delay in delays), 0.1)
    return [min(max(delay, middle - 3.0 * spread), middle + 3.0 * spread) for delay in delays]
