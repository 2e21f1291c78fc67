"""What a brew should do: dose, water, temperature, stages, tolerances."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from logger.target.calls import Calls

Method = Literal["pour-over", "espresso", "immersion"]

Keep = Literal["times", "intervals", "plan"]
"""What stays of a plan when a pour went wrong: the starts of the pours to come, the time between pours (then
all that follows is as late as the late pour), or the plan as it was written, whatever happened."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far off still counts as inside, each way.

    :param start_s: a stage's start
    :param weight_g: a stage's finishing weight; for espresso the yield
    :param flow_g_s: a stage's mean flow
    :param water_c: the water's temperature
    :param end_s: the end of a stage where its target is known, and of the whole brew
    """

    start_s: float = 3.0
    weight_g: float = 3.0
    flow_g_s: float = 1.5
    water_c: float = 2.0
    end_s: float = 10.0


@dataclass(frozen=True, slots=True)
class Stage:
    """One step of a target in which water is poured (pour-over, immersion).

    :param name: the brewer's own word: bloom, pour 1, ...
    :param start_s: when it starts, from the first water of the brew
    :param to_g: the weight on the scale when it is done, cumulative, as brewers say it
    :param from_g: the weight when it starts: the finishing weight of the stage before
    :param flow_g_s: the flow wanted, or None
    :param duration_s: how long it takes, or None
    :param water_c: the water's temperature for this stage, or None for the target's
    :param tolerance: the stage's own or the target's
    """

    name: str
    start_s: float
    to_g: float
    from_g: float = 0.0
    flow_g_s: float | None = None
    duration_s: float | None = None
    water_c: float | None = None
    tolerance: Tolerance = Tolerance()

    @property
    def poured_g(self) -> float:
        """What this stage adds."""
        return self.to_g - self.from_g

    @property
    def planned_flow_g_s(self) -> float | None:
        """The flow that the plan asks for, directly or by its duration."""
        if self.flow_g_s is not None:
            return self.flow_g_s
        return self.poured_g / self.duration_s if self.duration_s else None

    @property
    def planned_end_s(self) -> float | None:
        """When the stage's pour should be done, where the plan says so."""
        if self.duration_s is not None:
            return self.start_s + self.duration_s
        return self.start_s + self.poured_g / self.flow_g_s if self.flow_g_s else None


@dataclass(frozen=True, slots=True)
class Shot:
    """What an espresso should do; times count from the pump's start, where that is known.

    :param yield_g: beverage in the cup
    :param time_s: earliest and latest end of the extraction
    :param first_drip_s: earliest and latest first drip, or None
    """

    yield_g: float
    time_s: tuple[float, float]
    first_drip_s: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Target:
    """A target as a whole.

    :param title: the brewer's name for it
    :param method: what kind of brew
    :param dose_g: dry coffee
    :param water_c: the water's temperature, or None
    :param stages: in order; empty for espresso
    :param shot: for espresso; None otherwise
    :param end_s: when the bed has run dry or the brew is served, or None
    :param tolerance: what a stage without its own goes by
    :param coffee: which coffee, in the brewer's words
    :param grind: which setting, in the brewer's words
    :param notes: anything
    :param text: the file as it was written, kept with each recording
    :param keep: what the guide keeps when it works out the rest of a plan anew; the water in all always stays
    :param calls: what the guide says aloud, and how
    """

    title: str
    method: Method
    dose_g: float
    water_c: float | None = None
    stages: tuple[Stage, ...] = ()
    shot: Shot | None = None
    end_s: float | None = None
    tolerance: Tolerance = Tolerance()
    coffee: str = ""
    grind: str = ""
    notes: str = ""
    text: str = ""
    keep: Keep = "times"
    calls: Calls = field(default_factory=Calls)

    @property
    def total_g(self) -> float:
        """Water in all (pour-over, immersion) or the yield (espresso)."""
        return self.shot.yield_g if self.shot else self.stages[-1].to_g

    @property
    def brew_ratio(self) -> float:
        """Water, or beverage for espresso, per dose."""
        return self.total_g / self.dose_g
