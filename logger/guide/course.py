"""How a brew is led, whatever its kind: what is asked of the one that leads it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from logger.curve import Change, LiveAnalysis
from logger.guide.cue import PlanChange
from logger.guide.hand import Hand, Outcome
from logger.guide.plan import Plan
from logger.guide.tracking import Now

Fields = Mapping[str, Any]
"""Some of a cue's fields, by name."""


class Course(Protocol):
    """Leads one kind of brew."""

    @property
    def plan(self) -> Plan | None:
        """The plan as it stands now."""

    @property
    def change(self) -> PlanChange | None:
        """How it changed last."""

    @property
    def hand(self) -> Hand:
        """What is known of the brewer by now."""

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What became of this brew's calls to stop."""

    def waiting(self) -> Fields:
        """Say what stands there before the first water."""

    def moment(self, now: Now, live: LiveAnalysis) -> Fields:
        """Say what to do now: phase and word at the least."""

    def learn(self, change: Change, live: LiveAnalysis, lag_s: float) -> None:
        """Take what has become known."""

    def restart(self) -> None:
        """Stand before the first water again: what looked like it was none."""


class Unplanned:
    """A brew without a target: it is said what is, not what to do."""

    plan, change = None, None
    outcomes: tuple[Outcome, ...] = ()

    def __init__(self, hand: Hand) -> None:
        self.hand = hand

    def waiting(self) -> Fields:
        """Nothing is planned."""
        return {}

    def moment(self, now: Now, live: LiveAnalysis) -> Fields:
        """Say whether water runs."""
        if now.runs:
            return {"phase": "pouring", "word": "pour"}
        return {"phase": "pause", "word": "wait"}

    def learn(self, change: Change, live: LiveAnalysis, lag_s: float) -> None:
        """Nothing was called, so nothing is learned."""

    def restart(self) -> None:
        """Nothing to forget."""
