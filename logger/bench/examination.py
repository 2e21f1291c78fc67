"""What known masses say of a scale, in the terms of OIML R 76: errors, repeatability, linearity, drift.

This is a look at one scale on one bench. It is no verification in the sense of the law.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.bench.plateaus import Plateau, find_plateaus
from logger.curve import Floats
from logger.curve.edges.shapes import Response
from logger.curve.readings.noise import display_step_g
from logger.curve.readings.timebase import Samples, grid_of, samples_from
from logger.curve.scale.response import response_from
from logger.curve.taken_out.steps import find_moves

NEAR_SHARE, NEAR_G = 0.1, 3.0
"""So far off a known mass a plateau may be and still be taken for it."""


@dataclass(frozen=True, slots=True)
class Load:
    """One known mass, placed once or several times.

    :param mass_g: what it is
    :param shown_g: what the scale showed each time, less the zero before
    :param allowed_g: the largest error that R 76 allows in service for a scale of this step, class III
    """

    mass_g: float
    shown_g: tuple[float, ...]
    allowed_g: float

    @property
    def error_g(self) -> float:
        """Mean error of indication."""
        return sum(self.shown_g) / len(self.shown_g) - self.mass_g

    @property
    def range_g(self) -> float:
        """Repeatability as R 76 takes it: the largest difference between placings; NaN from one alone."""
        return max(self.shown_g) - min(self.shown_g) if len(self.shown_g) > 1 else math.nan


@dataclass(frozen=True, slots=True)
class Examination:
    """A scale, examined.

    :param loads: by mass; those that were recognised
    :param step_g: of the display; 0 where it follows no usual step
    :param noise_g: standard deviation of one reading at rest
    :param rate_hz: readings a second
    :param jitter_s: standard deviation of the time between two arrivals
    :param response: the scale's lag, from the steps; None where none was clean enough
    :param slope: shown per true gram; NaN from fewer than two masses
    :param nonlinearity_g: the largest distance of a load from the line through all of them
    :param zero_drift_g: the last zero less the first
    :param creep_g: the largest creep under a load at rest
    """

    loads: tuple[Load, ...]
    step_g: float
    noise_g: float
    rate_hz: float
    jitter_s: float
    response: Response | None
    slope: float
    nonlinearity_g: float
    zero_drift_g: float
    creep_g: float


def examine(time_s: Floats, weight_g: Floats, masses_g: Sequence[float]) -> Examination:
    """Examine a scale by a recording in which known masses were put on and taken off.

    :param time_s: arrival times, not falling, shape (n,)
    :param weight_g: shape (n,)
    :param masses_g: the known masses, g, each over 0
    :raises ValueError: when the arrays do not match, or a mass is none
    """
    if not masses_g or min(masses_g) <= 0.0 or not all(math.isfinite(mass) for mass in masses_g):
        raise ValueError("known masses are numbers over 0 g")
    samples = samples_from(time_s, weight_g)
    plateaus = find_plateaus(samples.time_s, samples.weight_g)
    step_g = display_step_g(samples.weight_g)
    zeros, loads = _sorted_out(plateaus, sorted(set(masses_g)), step_g)
    slope, off_g = _line(loads)
    steps = np.diff(np.asarray(time_s, dtype=np.float64))
    return Examination(
        loads=loads,
        step_g=step_g,
        noise_g=float(np.median([each.sd_g for each in plateaus])) if plateaus else math.nan,
        rate_hz=1.0 / samples.interval_s,
        jitter_s=float(steps[steps < samples.gap_s].std()) if steps.size else math.nan,
        response=_response(samples),
        slope=slope,
        nonlinearity_g=off_g,
        zero_drift_g=zeros[-1].level_g - zeros[0].level_g if len(zeros) > 1 else math.nan,
        creep_g=max((abs(each.creep_g) for each in plateaus if each not in zeros), default=math.nan),
    )


def allowed_error_g(load_g: float, step_g: float) -> float:
    """The largest error of a class III scale in service: twice the initial 0.5, 1 and 1.5 steps.

    OIML R 76-1:2006, tables 6 and 3.5.2 (in service: double); the verification interval is taken for the
    step of the display.
    """
    steps = load_g / step_g if step_g else math.inf
    return 2.0 * step_g * (0.5 if steps <= 500 else 1.0 if steps <= 2000 else 1.5)


def _sorted_out(
    plateaus: Sequence[Plateau], masses_g: Sequence[float], step_g: float
) -> tuple[list[Plateau], tuple[Load, ...]]:
    """Tell zeros from loads; each load counts from the zero before it."""
    zeros: list[Plateau] = []
    shown: dict[float, list[float]] = {}
    for plateau in plateaus:
        zero_g = zeros[-1].level_g if zeros else 0.0
        net_g = plateau.level_g - zero_g
        nearest = min((0.0, *masses_g), key=lambda mass: abs(net_g - mass))
        if abs(net_g - nearest) > max(NEAR_SHARE * nearest, NEAR_G):
            continue
        if nearest == 0.0:
            zeros.append(plateau)
        else:
            shown.setdefault(nearest, []).append(net_g)
    loads = tuple(
        Load(mass, tuple(values), allowed_error_g(mass, step_g)) for mass, values in sorted(shown.items())
    )
    return zeros, loads


def _line(loads: Sequence[Load]) -> tuple[float, float]:
    """Slope of the line through nought that fits all loads best, and the largest distance from it."""
    if not loads:
        return math.nan, math.nan
    mass = np.array([load.mass_g for load in loads for _ in load.shown_g])
    shown = np.array([value for load in loads for value in load.shown_g])
    slope = float((mass @ shown) / (mass @ mass))
    if len(loads) < 2:
        return slope, math.nan
    return slope, float(np.abs(shown - slope * mass).max())


def _response(samples: Samples) -> Response | None:
    if samples.time_s.size < 8:
        return None
    moves = find_moves(grid_of(samples), 0.1)
    return response_from(samples, samples.weight_g, moves)
