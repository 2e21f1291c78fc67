"""What the curve says of a brew: pours, events, and the brew as a whole."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Method = Literal["pour-over", "espresso", "immersion"]
EventKind = Literal[
    "tare", "vessel-on", "vessel-off", "dose", "knock", "stir", "gap", "press", "drift", "unit"
]
Floats = NDArray[np.float64]

METHODS: tuple[Method, ...] = ("pour-over", "espresso", "immersion")


@dataclass(frozen=True, slots=True)
class Pour:
    """One stretch in which water (or espresso) arrives on the scale.

    It starts when its first water reaches the pan and ends when flow falls below 0.1 g/s. ``from_g`` and
    ``to_g`` are the water on the scale since the brew began, before and after. The three ranges hold
    the truth in about nine of ten cases, fewer on a coarse and bursty scale; None where nothing can be said,
    as of the end of a pour in which the recording was cut off.
    """

    start_s: float
    end_s: float
    from_g: float
    to_g: float
    poured_g: float
    mean_flow_g_s: float
    peak_flow_g_s: float
    start_between_s: tuple[float, float] | None = None
    end_between_s: tuple[float, float] | None = None
    poured_between_g: tuple[float, float] | None = None

    def later(self, by_s: float) -> Pour:
        """Give the same pour on a time axis that begins so much earlier."""
        return Pour(
            self.start_s + by_s,
            self.end_s + by_s,
            self.from_g,
            self.to_g,
            self.poured_g,
            self.mean_flow_g_s,
            self.peak_flow_g_s,
            _later(self.start_between_s, by_s),
            _later(self.end_between_s, by_s),
            self.poured_between_g,
        )


@dataclass(frozen=True, slots=True)
class Event:
    """Anything else that moves the weight; ``change_g`` is what it left behind in the reading."""

    kind: EventKind
    start_s: float
    end_s: float
    change_g: float

    def later(self, by_s: float) -> Event:
        """Give the same event on a time axis that begins so much earlier."""
        return Event(self.kind, self.start_s + by_s, self.end_s + by_s, self.change_g)


@dataclass(frozen=True, slots=True)
class Analysis:
    """A brew, read from its weight curve.

    :param method: as given or found; None where there is no brew
    :param start_s: the first water on the pan, on the input's time axis; None where there is no brew
    :param end_s: the last water: the end of the last pour; None where there is no brew
    :param total_g: water (or beverage) that arrived
    :param pours: in order of time
    :param events: in order of time
    :param time_s: even grid, on the input's time axis; shape (n,)
    :param weight_g: weight of water alone: tares, vessels, doses and stirring taken out; shape (n,)
    :param flow_g_s: its rate; shape (n,)
    :param response_s: by how much the scale shows a steady flow late, given, estimated or assumed
    :param noise_g: standard deviation of one reading around the curve
    :param step_g: the step of the scale's display
    :param flow_sd_g_s: standard deviation of ``flow_g_s``; shape (n,), empty where nothing is said of it
    :param drift_g: what the weight changed by itself, in rests and pours together: from first to last,
        ``weight_g`` changes by the pours and this
    """

    method: Method | None
    start_s: float | None
    end_s: float | None
    total_g: float
    pours: tuple[Pour, ...]
    events: tuple[Event, ...]
    time_s: Floats
    weight_g: Floats
    flow_g_s: Floats
    response_s: float
    noise_g: float
    step_g: float
    drift_g: float = 0.0
    flow_sd_g_s: Floats = field(default_factory=lambda: np.zeros(0))

    def later(self, by_s: float) -> Analysis:
        """Give the same brew on a time axis that begins so much earlier."""
        return replace(
            self,
            start_s=None if self.start_s is None else self.start_s + by_s,
            end_s=None if self.end_s is None else self.end_s + by_s,
            pours=tuple(pour.later(by_s) for pour in self.pours),
            events=tuple(event.later(by_s) for event in self.events),
            time_s=self.time_s + by_s,
        )


def _later(between_s: tuple[float, float] | None, by_s: float) -> tuple[float, float] | None:
    return None if between_s is None else (between_s[0] + by_s, between_s[1] + by_s)
