"""What is so on the scale at any moment: whether water runs, how much is in, how fast it comes."""

from __future__ import annotations

from dataclasses import dataclass

from logger.curve import Change, LiveAnalysis
from logger.curve.live.while_it_runs import QUICK_S
from logger.guide.stream import HAND_S, MACHINE_S, Stream
from logger.target import Target

RESTS_AFTER_S = 0.4
"""A stream that is quiet for so long has ended, though the pour has still to be read."""

_UNKNOWN_S = LiveAnalysis().lag_s
"""What the live analysis assumes of a scale that has not shown its lag yet."""


@dataclass(frozen=True, slots=True)
class Now:
    """One moment of a brew that has begun.

    :param time_s: on the readings' axis
    :param clock_s: since the first water
    :param runs: whether water (or espresso) runs
    :param poured_g: in so far, what is on its way to the display too
    :param flow_g_s: now, 0 while none runs
    :param lag_s: by how much the scale shows a steady flow late, as far as that is known
    :param stream: counts the streams of the brew
    :param rested_g: what was in before this stream
    """

    time_s: float
    clock_s: float
    runs: bool
    poured_g: float
    flow_g_s: float
    lag_s: float
    stream: int
    rested_g: float

    @property
    def shown_g(self) -> float:
        """What the display shows of it."""
        return self.poured_g - self.flow_g_s * self.lag_s


class Track:
    """Takes the readings of the scale; says how things stand at that moment, and at any soon after.

    :param target: what the brew should be, or None
    :param lag_s: of the scale, as it was known before this brew
    """

    def __init__(self, target: Target | None, lag_s: float) -> None:
        self.live = LiveAnalysis(target=target)
        """Pours and events."""
        self._stream = Stream(MACHINE_S if target and target.shot else HAND_S)
        self._known_lag_s = lag_s
        self._offset_g = self._rested_g = 0.0
        self._ran_s = float("-inf")
        self._runs = False
        self._streams = 0

    @property
    def lag_s(self) -> float:
        """The scale's lag: as this brew has shown it, else as it was known before."""
        return self.live.lag_s - 0.5 * QUICK_S if self.live.lag_s != _UNKNOWN_S else self._known_lag_s

    def push(self, time_s: float, weight_g: float) -> list[Change]:
        """Take one reading; give what has become known."""
        live = self.live
        self._stream.push(time_s, weight_g)
        news = live.push(time_s, weight_g)
        if live.pouring:
            # What the display shows of this brew: tares and vessels taken out, nothing added yet.
            late_s = live.lag_s - 0.5 * QUICK_S
            self._offset_g = live.poured_g - live.flow_g_s * late_s - weight_g
            if live.flow_g_s > 0.0 or any(change.kind == "pour-began" for change in news):
                self._ran_s = time_s
        else:
            self._rested_g = live.poured_g
        runs = live.pouring and time_s - self._ran_s <= RESTS_AFTER_S
        self._streams += runs and not self._runs
        self._runs = runs
        return news

    def now(self, time_s: float) -> Now | None:
        """Say how things stand; None before the first water."""
        start_s = self.live.start_s
        if start_s is None:
            return None
        flow_g_s = max(self._stream.flow_g_s, 0.0) if self._runs else 0.0
        poured_g = self.live.poured_g
        if self._runs:
            poured_g = self._stream.weight_g(time_s) + self._offset_g + flow_g_s * self.lag_s
        clock_s = max(time_s - start_s, 0.0)
        return Now(time_s, clock_s, self._runs, poured_g, flow_g_s, self.lag_s, self._streams, self._rested_g)
