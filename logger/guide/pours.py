"""Leading a brew that is poured by hand: how much is to go, when to stop, when to pour next."""

from __future__ import annotations

from logger.curve import Change, LiveAnalysis
from logger.guide.calls import Caller
from logger.guide.course import Fields
from logger.guide.cue import PlanChange, Word
from logger.guide.hand import Hand, Outcome
from logger.guide.pace import Pace
from logger.guide.plan import LEAST_PAUSE_S, Plan
from logger.guide.stopping import Stopping
from logger.guide.tracking import Now
from logger.target import Stage, Target

NEXT_S = 6.0
"""So long before a pour it is said what it goes to; the count follows."""

SHORT_S = 1.0
"""A pause that is as short as that has no time for it."""

NO_FASTER_S = 2.0
"""Just before the stop nobody is told to hurry."""


class PourCourse:
    """Leads one pour-over or immersion.

    :param target: with stages
    """

    def __init__(self, target: Target, hand: Hand, caller: Caller) -> None:
        self._target, self._words, self._caller = target, target.calls.words, caller
        self._stopping, self._pace = Stopping("pour", hand, caller), Pace()
        self.restart()

    def restart(self) -> None:
        """Stand before the first water again: what looked like it was none."""
        self.plan = Plan.of(self._target)
        """The plan as it stands now."""
        self.change: PlanChange | None = None
        """How it changed last."""
        self._cues = self.plan.cues()
        self._at: int | None = None
        self._begun = set[int]()
        self._stream = 0
        self._stopping.begin()

    @property
    def hand(self) -> Hand:
        """What is known of the brewer by now."""
        return self._stopping.hand

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What became of the calls to stop."""
        return self._stopping.outcomes

    def waiting(self) -> Fields:
        """The first stage is to come."""
        return {"stage": self._cues[0], "to_go_g": self._cues[0].to_g}

    def moment(self, now: Now, live: LiveAnalysis) -> Fields:
        """Pour, wait, stop."""
        if now.runs and now.stream != self._stream:
            self._begin_stream(now)
        return self._pouring(now) if now.runs else self._between(now)

    def learn(self, change: Change, live: LiveAnalysis, lag_s: float) -> None:
        """A pour was read: learn of the hand, and of what became of the plan."""
        pour = change.pour
        if change.kind != "pour-ended" or pour is None or live.start_s is None:
            return
        self._stopping.read(pour, lag_s)
        if self._at is None:
            return
        following = self.plan.next_stage(pour.to_g)
        if following is None or following > self._at:
            clock_s = pour.end_s - live.start_s
            self._adopt(*self.plan.ended(self._at, pour.to_g, clock_s), change.time_s, clock_s)

    def _begin_stream(self, now: Now) -> None:
        """Water begins to run: for which stage, and is that late?"""
        self._stream = now.stream
        self._stopping.begin()
        self._pace.begin(now.time_s)
        self._at = number = self.plan.next_stage(now.rested_g)
        if number is None or self.plan.written[number] in self._begun:
            return
        self._begun.add(self.plan.written[number])
        began_s = max(now.clock_s - _SEEN_AFTER_S - now.lag_s, 0.0)
        self._adopt(*self.plan.begun(number, began_s), now.time_s, now.clock_s)

    def _pouring(self, now: Now) -> Fields:
        """Water runs: how much of its stage is to go, or to stop."""
        number = self._stage_being_poured(now)
        if number is None:
            self._stopping.call(now, self._words.stop)
            return {"phase": "pouring", "word": "stop", "to_go_g": self.plan.target.total_g - now.poured_g}
        stage = self.plan.stages[number]
        to_go_g, runs_on = stage.to_g - now.poured_g, self.plan.runs_on(number)
        stop_in_s = None if runs_on else self._stopping.in_s(now, to_go_g)
        if stop_in_s is not None and stop_in_s <= 0.0:
            self._stopping.call(now, self._words.stop)
        called = self._stopping.called
        return {
            "phase": "pouring",
            "word": "stop" if called else self._advice(now, stage, stop_in_s),
            "stage": self._cues[number],
            "to_go_g": to_go_g,
            "stop_in_s": None if called else stop_in_s,
            "rate": self._pace.rate,
        }

    def _between(self, now: Now) -> Fields:
        """No water runs: when to pour next, or when the brew is over."""
        self._give_up_short(now)
        number = self.plan.next_stage(now.poured_g)
        if number is None:
            end_s = self.plan.target.end_s
            in_s = None if end_s is None else end_s - now.clock_s
            if in_s is None or in_s <= 0.0:
                return {"phase": "done", "word": "done"}
            return {"phase": "drawdown", "word": "wait", "next_in_s": in_s}
        stage = self.plan.stages[number]
        in_s = stage.start_s - now.clock_s
        if number and self.plan.written[number] not in self._begun:
            self._call_next(now.time_s, self.plan.written[number], stage, in_s)
        return {
            "phase": "pause",
            "word": "pour" if in_s <= 0.0 else "wait",
            "stage": self._cues[number],
            "to_go_g": stage.to_g - now.poured_g,
            "next_in_s": in_s,
        }

    def _stage_being_poured(self, now: Now) -> int | None:
        """The stage that this pour began with, until the next one is due: too much is not the next pour."""
        stages = self.plan.stages
        while self._at is not None and self._at + 1 < len(stages) and self._is_done(now, self._at):
            following = stages[self._at + 1]
            self._at += 1
            self._begun.add(self.plan.written[self._at])
            self._stopping.begin()
            self._caller.once("next", f"{self._at}", now.time_s, self._caller.to_grams(following.to_g))
        return self._at

    def _is_done(self, now: Now, number: int) -> bool:
        """Whether a stage is done though its stream runs on: what only fades away is no next pour."""
        stage, following = self.plan.stages[number], self.plan.stages[number + 1]
        if self.plan.runs_on(number):
            return now.poured_g >= stage.to_g
        due = now.clock_s >= following.start_s - following.tolerance.start_s
        return due and now.poured_g >= stage.to_g + stage.tolerance.weight_g

    def _give_up_short(self, now: Now) -> None:
        """A pour that was ended short is over for good when the next one is at hand: its water is shared."""
        number = self.plan.next_stage(now.poured_g)
        if number is None or self.plan.written[number] not in self._begun:
            return
        if number + 1 >= len(self.plan.stages):
            return
        if now.clock_s >= self.plan.stages[number + 1].start_s - LEAST_PAUSE_S:
            self._adopt(*self.plan.ended(number, now.poured_g, now.clock_s), now.time_s, now.clock_s)

    def _adopt(self, plan: Plan, text: str, time_s: float, clock_s: float) -> None:
        """Go by another plan from now on, and say so; the number of the stage at hand stays as it was."""
        if not text:
            return
        self.plan, self._cues = plan, plan.cues()
        self.change = PlanChange(plan.version, clock_s, text)
        self._caller.say("change", time_s, self._words.change)

    def _advice(self, now: Now, stage: Stage, stop_in_s: float | None) -> Word:
        planned = stage.planned_flow_g_s
        if planned is None:
            return "pour"
        aloud = self._pace.follow(now.time_s, now.flow_g_s - planned, stage.tolerance.flow_g_s)
        advice = self._pace.advice
        if not advice or (advice == "faster" and stop_in_s is not None and stop_in_s < NO_FASTER_S):
            return "pour"
        if aloud:
            word = self._words.slower if advice == "slower" else self._words.faster
            self._caller.say(advice, now.time_s, word)
        return advice

    def _call_next(self, time_s: float, written: int, stage: Stage, in_s: float) -> None:
        """Say what the next pour goes to, count the last seconds, and say when to begin; not of the first."""
        count_s, which = self._target.calls.count_s, f"{written} at {stage.start_s:.1f}"
        if SHORT_S < in_s <= max(NEXT_S, count_s + 2.0):
            self._caller.once("next", which, time_s, self._caller.to_grams(stage.to_g))
        for second in range(count_s, 0, -1):
            if second - 1 < in_s <= second:
                self._caller.once("count", f"{which}, {second}", time_s, str(second))
        if in_s <= 0.0:
            self._caller.once("start", which, time_s, self._words.pour)


_SEEN_AFTER_S = 0.4
"""By so much the live analysis sees a stream later than its display."""
