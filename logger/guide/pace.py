"""Too fast or too slow: a bar for the eye, and a word when the stream is off for longer than a wobble."""

from __future__ import annotations

from typing import Literal

RISES_S = 1.5
"""The first moments of a pour are the stream coming up: nothing is said of them."""

OFF_FOR_S = 1.0
"""A hand wobbles up and down within a second; what lasts longer is a habit."""

BACK_WITHIN = 0.8
"""Of the tolerance: the word goes when the stream is well inside again, so that it does not flicker."""

AGAIN_AFTER_S = 5.0
"""The same advice is not called again sooner."""

Advice = Literal["", "slower", "faster"]


class Pace:
    """Watches one stream after another; :meth:`begin` with each."""

    def __init__(self) -> None:
        self.begin(0.0)
        self._called_s: dict[Advice, float] = {}

    def begin(self, time_s: float) -> None:
        """A stream begins."""
        self._began_s = time_s
        self._off_since_s: float | None = None
        self._side: Advice = ""
        self.rate: float | None = None
        """-1 to 1; ±0.5 is the edge of the tolerance."""
        self.advice: Advice = ""

    def follow(self, time_s: float, off_g_s: float, tolerance_g_s: float) -> bool:
        """Take how far the flow is off its plan now.

        :param off_g_s: flow less the planned flow
        :returns: whether its advice is to be called aloud now
        """
        if time_s - self._began_s < RISES_S:
            return False
        share = off_g_s / max(tolerance_g_s, 0.1)
        self.rate = min(max(share / 2.0, -1.0), 1.0)
        side: Advice = "slower" if share > 1.0 else "faster" if share < -1.0 else ""
        if side != self._side and (side or abs(share) < BACK_WITHIN):
            self._side, self._off_since_s, self.advice = side, time_s if side else None, ""
        if self._off_since_s is None or time_s - self._off_since_s < OFF_FOR_S:
            return False
        self.advice = self._side
        if time_s - self._called_s.get(self._side, -AGAIN_AFTER_S) < AGAIN_AFTER_S:
            return False
        self._called_s[self._side] = time_s
        return True
