"""One brew held against its target: what was found, stage by stage, and for the brew as a whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from logger.compare.thermometers import BrewTemperature
from logger.curve import Analysis, Bed, Drawdown, Floats, Pour
from logger.curve.shot.figures import ShotFigures
from logger.recording import Recording
from logger.target import Stage, Target

Finding = Literal["matched", "missing", "merged", "split", "unseen"]
Quantity = Literal[
    "start_s",
    "end_s",
    "to_g",
    "poured_g",
    "flow_g_s",
    "water_c",
    "total_g",
    "first_drip_s",
    "drawdown_s",
    "resistance_s",
    "strength_percent",
]


@dataclass(frozen=True, slots=True)
class Deviation:
    """One figure against its target.

    :param quantity: which figure; its unit is the end of the name
    :param wanted: the target's value (the nearer edge where the target is a window and the figure is
        outside, the figure itself where it is inside)
    :param actual: the brew's value, NaN where it could not be measured
    :param tolerance: how far off still counts as inside
    :param inside: True, False, or None: it cannot be told (not measured, or the scale's own step is wider
        than the tolerance)
    :param why: one clause where ``inside`` is None
    :param window: earliest and latest, where the target says a window instead of a value
    :param step: the finest difference that can be told in this figure; 0 where nothing was said of it
    """

    quantity: Quantity
    wanted: float
    actual: float
    tolerance: float
    inside: bool | None
    why: str = ""
    window: tuple[float, float] | None = None
    step: float = 0.0

    @property
    def difference(self) -> float:
        """Actual less wanted."""
        return self.actual - self.wanted


@dataclass(frozen=True, slots=True)
class StageResult:
    """One stage of the target and the pours that belong to it.

    :param finding: ``matched`` one pour; ``split`` several pours where one was planned; ``merged`` one pour
        that covers this stage and another; ``missing`` none; ``unseen`` the readings end before it
    """

    stage: Stage
    finding: Finding
    pours: tuple[Pour, ...]
    deviations: tuple[Deviation, ...]

    @property
    def inside(self) -> bool | None:
        """False where the stage is missing, merged, or any figure is outside; None where a figure cannot be
        told and none is outside; a split stage counts by its figures.
        """
        if self.finding in ("missing", "merged"):
            return False
        if self.finding == "unseen":
            return None
        return all_inside(self.deviations)


@dataclass(frozen=True, slots=True)
class Comparison:
    """A brew against its target.

    :param stages: one for each stage of the target, in order
    :param extra: pours that belong to no stage
    :param whole: figures of the brew as a whole: total water or yield, end, first drip, temperature
    :param verdict: one sentence: how the brew went
    :param change: one sentence: what to change next, or empty
    :param notes: what the reader must know to judge the figures (a coarse scale, no temperature, ...)
    """

    target: Target
    stages: tuple[StageResult, ...]
    extra: tuple[Pour, ...]
    whole: tuple[Deviation, ...]
    verdict: str
    change: str
    notes: tuple[str, ...] = ()

    @property
    def inside(self) -> bool | None:
        """True where all is inside and nothing is extra; None where something cannot be told."""
        if self.extra or any(result.inside is False for result in self.stages):
            return False
        results = [*(result.inside for result in self.stages), all_inside(self.whole)]
        if False in results:
            return False
        return None if None in results else True


@dataclass(frozen=True, slots=True)
class Brew:
    """A recording with what was made of it: the thing that every screen and page shows.

    :param temperatures: by channel name, the times and the values (°C), NaN-free, on the recording's axis
    :param bed: what the bed did, where a second scale weighed what came through; None without one
    :param drawdown: when the bed ran dry, as far as it can be told; None where there is no pour-over
    :param shots: the espressos in it, in order; empty for other methods
    :param thermometers: by channel name, what those in the kettle and in the slurry say
    """

    recording: Recording
    analysis: Analysis
    comparison: Comparison | None
    temperatures: Mapping[str, tuple[Floats, Floats]]
    bed: Bed | None = None
    drawdown: Drawdown | None = None
    shots: tuple[ShotFigures, ...] = ()
    thermometers: Mapping[str, BrewTemperature] = field(default_factory=dict)


def all_inside(deviations: tuple[Deviation, ...]) -> bool | None:
    """False where any is outside, else None where any cannot be told, else True."""
    insides = [deviation.inside for deviation in deviations]
    if False in insides:
        return False
    return None if None in insides else True
