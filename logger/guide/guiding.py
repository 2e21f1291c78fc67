"""The guide through one brew: readings come in, a :class:`Cue` comes out.

It takes the same time for every reading, whatever came before (but for the moments at which the live analysis
reads a pour again). Of the present it knows from :class:`Track`, of the brewer from :class:`Hand`; what to do
about it a :class:`Course` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from logger.curve import Change, LiveAnalysis, is_over
from logger.guide.ahead import Ahead
from logger.guide.calls import Caller
from logger.guide.course import Course, Fields, Unplanned
from logger.guide.cue import Cue, StageCue, Verdict, Water
from logger.guide.hand import Hand, Outcome
from logger.guide.place import unreachable, wanted_c
from logger.guide.plan import Plan
from logger.guide.pours import PourCourse
from logger.guide.senses import Channels, Kettle
from logger.guide.shot import ShotCourse
from logger.guide.tracking import Now, Track
from logger.target import Calls, Target, reachable

if TYPE_CHECKING:
    from logger.compare import Comparison

SCALE = "scale"


class Guide:
    """Give it every reading, and a tick in between; it starts and ends by itself.

    :param target: what the brew should be, or None: then it says what is, not what to do
    :param hand: what is known of the brewer
    :param boils_c: at which temperature water boils here, or None
    :param warnings: more sentences to be shown before the brew
    :param warned: whether they were spoken already
    :param brew: counts the brews of a session
    :param before: the verdict on the brew before, shown until water runs
    """

    def __init__(
        self,
        target: Target | None = None,
        *,
        hand: Hand | None = None,
        boils_c: float | None = None,
        warnings: Sequence[str] = (),
        warned: bool = False,
        brew: int = 1,
        before: Verdict | None = None,
    ) -> None:
        hand = hand or Hand()
        self._target = target if target is None else reachable(target, boils_c)
        self._warnings = (*(unreachable(target, boils_c) if target else ()), *warnings)
        calls = target.calls if target else Calls()
        self._words, self._caller = calls.words, Caller(calls)
        self._track = Track(self._target, hand.lag_s)
        self._course = _course(self._target, hand, self._caller)
        self._channels, self._kettle = Channels(), Kettle()
        self._ahead, self._stages = Ahead(), _Stages()
        self._brew, self._verdict, self._warned = brew, before, warned
        self._over = self._began = False
        self.news: list[Change] = []
        """What the last reading of the scale has made known."""

    @property
    def live(self) -> LiveAnalysis:
        """The pours and events so far."""
        return self._track.live

    @property
    def plan(self) -> Plan | None:
        """The plan as it stands now."""
        return self._course.plan

    @property
    def hand(self) -> Hand:
        """What is known of the brewer by now."""
        return self._course.hand

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What became of this brew's calls to stop, to be kept for the next."""
        return self._course.outcomes

    @property
    def verdict(self) -> Verdict | None:
        """On this brew once it is concluded; until then on the one before, if any."""
        return self._verdict

    @property
    def finished(self) -> bool:
        """Whether the brew is over."""
        return self._over

    def push(self, time_s: float, weight_g: float, channel: str = SCALE) -> Cue:
        """Take one reading of the scale.

        :param time_s: when it arrived, on the readings' axis
        :param weight_g: as shown, g
        """
        self._channels.heard(channel, time_s)
        self._take(self._track.push(time_s, weight_g))
        self._over = self._over or is_over(self.live, time_s, self.plan.target if self.plan else None)
        return self.tick(time_s)

    def temperature(self, time_s: float, channel: str, water_c: float) -> Cue:
        """Take one reading of a thermometer, °C."""
        self._kettle.push(channel, water_c)
        return self.heard(time_s, channel)

    def heard(self, time_s: float, channel: str) -> Cue:
        """Know that a channel is alive of whose value nothing depends here."""
        self._channels.heard(channel, time_s)
        return self.tick(time_s)

    def lost(self, time_s: float, channel: str) -> Cue:
        """Know that a channel's link is down; its next reading says that it is back."""
        self._channels.lost(channel, time_s)
        return self.tick(time_s)

    def finish(self) -> list[Change]:
        """Say what can be said of the readings so far, now that no more will come."""
        self._take(self.live.finish())
        return self.news

    def conclude(self, time_s: float, comparison: Comparison | None) -> Cue:
        """Know how the brew compares, now that it is over.

        :param comparison: None where there was no target, or no brew
        """
        from logger.guide.verdict import verdict_of

        self._over = True
        if comparison is not None:
            self._verdict = verdict_of(comparison)
            self._caller.say("done", time_s, f"{self._verdict.text} {self._verdict.change}".strip())
        return self.tick(time_s)

    def tick(self, time_s: float) -> Cue:
        """Say how things stand, between two readings too: for half a second the stream is followed on."""
        now = self._track.now(time_s)
        for number, warning in enumerate(() if now or self._warned else self._warnings):
            self._caller.once("warning", str(number), time_s, warning)
        if now is None and self._began:
            # What looked like the first water was none.
            self._course.restart()
        self._began = now is not None
        told: dict[str, Any] = dict(self._waiting() if now is None else self._moment(now))
        clock_s = now.clock_s if now else 0.0
        return Cue(
            time_s=time_s,
            word_text=getattr(self._words, told["word"]),
            clock_s=clock_s,
            poured_g=now.poured_g if now else 0.0,
            flow_g_s=now.flow_g_s if now else 0.0,
            brew=self._brew,
            water=self._water(time_s, told.get("stage"), now is not None),
            devices=self._channels.states(time_s),
            calls=self._caller.recent(time_s),
            sound=self._caller.sound,
            change=self._course.change,
            **told,
            **self._planned(clock_s),
        )

    def _waiting(self) -> Fields:
        told = {"phase": "waiting", "word": "ready", "warnings": self._warnings, "verdict": self._verdict}
        return {**told, **self._course.waiting()}

    def _moment(self, now: Now) -> Fields:
        if self._over:
            return {"phase": "done", "word": "done", "verdict": self._verdict}
        return self._course.moment(now, self.live)

    def _take(self, news: list[Change]) -> None:
        self.news = news
        for change in news:
            self._course.learn(change, self.live, self._track.lag_s)

    def _planned(self, clock_s: float) -> Fields:
        plan = self.plan
        if plan is None:
            return {}
        target = plan.target
        return {
            "shot": target.shot is not None,
            "title": target.title,
            "total_g": target.total_g,
            "end_s": target.end_s,
            "plan_version": plan.version,
            "stages": self._stages.of(plan),
            "ahead": self._ahead.moments(target, plan.version, clock_s),
        }

    def _water(self, time_s: float, at: StageCue | None, begun: bool) -> tuple[Water, ...]:
        """The thermometers; ready or not is said of the stage at hand, and no more when all is in."""
        plan, stage = self.plan, None
        if plan is None or (at is None and begun):
            return self._kettle.water(self._channels, time_s, None, 0.0)
        if at is not None:
            stage = plan.stages[plan.written.index(at.number - 1)]
        tolerance = (stage or plan.target).tolerance
        return self._kettle.water(self._channels, time_s, wanted_c(plan.target, stage), tolerance.water_c)


class _Stages:
    """Remembers how the stages of the newest plan look."""

    def __init__(self) -> None:
        self._version, self._cues = -1, tuple[StageCue, ...]()

    def of(self, plan: Plan) -> tuple[StageCue, ...]:
        if plan.version != self._version:
            self._version, self._cues = plan.version, plan.cues()
        return self._cues


def _course(target: Target | None, hand: Hand, caller: Caller) -> Course:
    if target is None:
        return Unplanned(hand)
    return ShotCourse(target, hand, caller) if target.shot else PourCourse(target, hand, caller)
