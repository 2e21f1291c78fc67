"""When a brew is over: nothing needs pressing.

A brew ends when the vessel is lifted for good after the last pour; or when the target's water is in and its
time is past; or when nothing has moved for longer than a brew of its kind rests.
"""

from __future__ import annotations

from typing import Protocol

from logger.curve.brew import Method
from logger.curve.live.while_it_runs import Expectation, LiveAnalysis

LIFTED_FOR_GOOD_S = 8.0
"""A dripper that was lifted to swirl it is back by then."""

LIFTED_EARLY_S = 30.0
"""The same while water is still to come."""

RESTS_S: dict[Method, float] = {"espresso": 15.0, "pour-over": 150.0, "immersion": 330.0}
"""For how long nothing moves within a brew: an espresso's last drops, a bloom or a drawdown, a steep."""

AFTER_END_S = 30.0
"""How long after its planned end a brew whose water is in may still be served."""

NEARLY_ALL = 0.9


class TimedExpectation(Expectation, Protocol):
    """What of a target says when it is over."""

    @property
    def end_s(self) -> float | None:
        """When the brew should be over, from its first water, or None."""


def is_over(live: LiveAnalysis, time_s: float, target: TimedExpectation | None = None) -> bool:
    """Say whether the brew is over.

    :param live: fed with every reading so far
    :param time_s: now, on the readings' time axis
    :param target: what the brew should be, where known
    """
    if not live.pours or live.pouring or live.method is None or live.start_s is None:
        return False
    all_in = target is None or live.poured_g >= NEARLY_ALL * target.total_g
    lifted_s = _lifted_since_s(live)
    if lifted_s is not None and time_s - lifted_s > (LIFTED_FOR_GOOD_S if all_in else LIFTED_EARLY_S):
        return True
    if live.quiet_s <= LIFTED_FOR_GOOD_S:
        return False
    if target is not None and all_in and target.end_s is not None:
        return time_s - live.start_s > target.end_s + AFTER_END_S
    return live.quiet_s > RESTS_S[live.method]


def _lifted_since_s(live: LiveAnalysis) -> float | None:
    """Since when the vessel is off the scale, None while it is on."""
    after = live.pours[-1].end_s - 1.0
    moves = [event for event in live.events if event.kind.startswith("vessel") and event.start_s > after]
    return moves[-1].end_s if moves and moves[-1].kind == "vessel-off" else None
