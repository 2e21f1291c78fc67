"""Leading an espresso: grams, seconds, flow, and when to stop the pump so that the yield lands."""

from __future__ import annotations

from logger.curve import Change, LiveAnalysis
from logger.guide.calls import Caller
from logger.guide.course import Fields
from logger.guide.cue import PlanChange
from logger.guide.hand import Hand, Outcome
from logger.guide.plan import Plan
from logger.guide.stopping import Stopping
from logger.guide.tracking import Now
from logger.target import Target, first_weight_s

SOON_S = 3.0
"""So long before it is to be stopped it is said that it will be."""

A_SHOT = 0.6
"""Of the yield: what rests in the cup before that much is in are the first drops."""

_LEAST_FLOW_G_S = 0.2


class ShotCourse:
    """Leads one espresso.

    :param target: with a shot
    """

    change: PlanChange | None = None

    def __init__(self, target: Target, hand: Hand, caller: Caller) -> None:
        self.plan = Plan.of(target)
        self._target, self._words, self._caller = target, target.calls.words, caller
        self._stopping = Stopping("shot", hand, caller)

    @property
    def hand(self) -> Hand:
        """What is known of the machine by now."""
        return self._stopping.hand

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What became of the call to stop."""
        return self._stopping.outcomes

    def waiting(self) -> Fields:
        """The whole yield is to go."""
        return {"to_go_g": self._target.total_g}

    def moment(self, now: Now, live: LiveAnalysis) -> Fields:
        """Wait, or stop."""
        to_go_g = self._target.total_g - now.poured_g
        if not now.runs:
            in_cup = live.pours and not live.pouring and now.poured_g >= A_SHOT * self._target.total_g
            phase, word = ("done", "done") if in_cup else ("drawdown", "wait")
            return {"phase": phase, "word": word, "to_go_g": to_go_g}
        stop_in_s = self._stopping.in_s(now, to_go_g)
        if stop_in_s is not None and stop_in_s <= 0.0:
            self._stopping.call(now, self._words.stop)
        elif stop_in_s is not None and stop_in_s <= SOON_S:
            self._caller.once("soon", "", now.time_s, self._words.soon)
        called = self._stopping.called
        return {
            "phase": "pouring",
            "word": "stop" if called else "wait",
            "to_go_g": to_go_g,
            "stop_in_s": None if called else stop_in_s,
            "rate": None if called else self._rate(now, to_go_g),
        }

    def learn(self, change: Change, live: LiveAnalysis, lag_s: float) -> None:
        """Learn how much came after the call."""
        if change.kind == "pour-ended" and change.pour is not None:
            self._stopping.read(change.pour, lag_s)

    def restart(self) -> None:
        """Forget a call that was for no espresso."""
        self._stopping.begin()

    def _rate(self, now: Now, to_go_g: float) -> float | None:
        """How the end that can be foreseen lies in its window: positive is too early, so too fast."""
        shot = self._target.shot
        if shot is None or now.flow_g_s <= _LEAST_FLOW_G_S:
            return None
        early_s, late_s = shot.time_s
        ends_s = now.clock_s + first_weight_s(self._target) + max(to_go_g, 0.0) / now.flow_g_s
        half_s = max((late_s - early_s) / 2.0, 1.0)
        return min(max(((early_s + late_s) / 2.0 - ends_s) / (2.0 * half_s), -1.0), 1.0)
