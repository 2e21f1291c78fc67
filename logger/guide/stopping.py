"""When to say "stop", so that what still comes lands on the weight; and what became of it."""

from __future__ import annotations

from dataclasses import dataclass

from logger.curve import Pour
from logger.guide.calls import Caller
from logger.guide.hand import Hand, Outcome, Stopped
from logger.guide.tracking import Now

CALLED_AGAIN_S = 2.5
"""Who pours on is told again."""


@dataclass(frozen=True, slots=True)
class _Call:
    time_s: float
    flow_g_s: float
    shown_g: float


class Stopping:
    """Calls to stop, for one brew.

    :param kind: what is to be stopped
    :param hand: what is known of the brewer, or of the machine
    """

    def __init__(self, kind: Stopped, hand: Hand, caller: Caller) -> None:
        self._kind: Stopped = kind
        self._caller = caller
        self._call: _Call | None = None
        self._said_s = 0.0
        self.hand = hand
        """What is known by now."""
        self.outcomes: tuple[Outcome, ...] = ()
        """What became of the calls of this brew."""

    @property
    def called(self) -> bool:
        """Whether "stop" was said of the stream at hand."""
        return self._call is not None

    def begin(self) -> None:
        """Another stream is at hand, or another stage of the same."""
        self._call = None

    def in_s(self, now: Now, to_go_g: float) -> float | None:
        """How soon "stop" is to be said; None without a flow.

        :param to_go_g: until the weight is reached, what is on its way to the display counted as in
        """
        if now.flow_g_s <= 0.0:
            return None
        unseen_g = now.flow_g_s * now.lag_s
        after_g = self.hand.after_g(self._kind, now.flow_g_s, now.lag_s)
        return max((to_go_g + unseen_g - after_g) / now.flow_g_s, 0.0)

    def call(self, now: Now, word: str) -> None:
        """Say it: once, and again to one who pours on."""
        if self._call is None:
            self._call = _Call(now.time_s, now.flow_g_s, now.shown_g)
        elif now.time_s - self._said_s < CALLED_AGAIN_S or now.flow_g_s < 0.5 * self._call.flow_g_s:
            return
        self._said_s = now.time_s
        self._caller.say("stop", now.time_s, word)

    def read(self, pour: Pour, lag_s: float) -> None:
        """A pour is over and was read: learn from it what became of the call.

        :param lag_s: of the scale, as it is known now
        """
        call, self._call = self._call, None
        if call is None or pour.start_s > call.time_s:
            return
        after_g = pour.to_g - call.shown_g
        outcome = Outcome(self._kind, call.flow_g_s, after_g, lag_s, self.hand.scale)
        if outcome.tells:
            self.outcomes, self.hand = (*self.outcomes, outcome), self.hand.learned(outcome)
