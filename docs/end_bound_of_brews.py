"""How well any method could know the ends of the simulated brews, beside how well they are read.

For every pour the bound of ``end_bound`` is worked out with its own scale (noise, step, rate, lag, all taken
as known) and its own spout: what still flows below half of the pour's mean flow, as an exponential. A
wavering hand, stirring, knocks, gaps and single drops are left out, so nothing can do better. Normal errors
of just that size are then summed up as the errors of what was read are.

    python docs/end_bound_of_brews.py [BREWS]
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from docs.end_bound import fading_end_bound_s, shot_end_bound_s
from drivers.simulated import SimulatedBrew, TruePour
from logger.curve import analyse
from logger.curve.fading import ENDS_AT_G_S
from logger.curve.shapes import Response
from tests.benchmarks.curve_suite import LEVELS, ReadPour, brews, matches, weights

Floats = NDArray[np.float64]

_TAIL_SHARE, _TAIL_S = 0.5, 5.0
_FADES_S = (0.05, 3.0)
_LEAST_G_S = 0.15


def end_bound_s(brew: SimulatedBrew, pour: TruePour) -> float:
    """Give the least standard deviation of one pour's end on the scale that it was poured on."""
    scale = brew.truth.instrument
    noise_g = float(np.hypot(scale.noise_g, scale.step_g / np.sqrt(12.0)))
    response = Response(float(np.mean(scale.lags_s)), len(scale.lags_s)) if scale.lags_s else Response(0.0)
    left_g_s, fade_s = tail(brew, pour)
    if brew.truth.method == "espresso":
        return shot_end_bound_s(noise_g, response, 0.0, scale.rate_hz, left_g_s, fade_s)
    return fading_end_bound_s(noise_g, response, scale.rate_hz, left_g_s, fade_s, pour.mean_flow_g_s)


def tail(brew: SimulatedBrew, pour: TruePour) -> tuple[float, float]:
    """Give the flow with which a pour begins to fade, g/s, and the time constant of that, s."""
    time_s, flow_g_s = brew.truth.time_s, brew.truth.flow_g_s
    share = 1.0 if brew.truth.method == "espresso" else _TAIL_SHARE
    within = (time_s > pour.end_s - _TAIL_S) & (time_s <= pour.end_s) & (flow_g_s > ENDS_AT_G_S)
    full = np.flatnonzero(within & (flow_g_s >= share * pour.mean_flow_g_s))
    first = full[-1] + 1 if full.size else int(np.argmax(within))
    left = flow_g_s[first : int(np.searchsorted(time_s, pour.end_s, side="right"))]
    if left.size < 3 or left[0] <= _LEAST_G_S:
        return _LEAST_G_S, _FADES_S[0]
    lasts_s = time_s[first + left.size - 1] - time_s[first]
    return float(left[0]), float(np.clip(lasts_s / np.log(left[0] / ENDS_AT_G_S), *_FADES_S))


def bounds_and_errors_s(level: str, count: int, first_seed: int) -> Iterator[tuple[bool, float, float]]:
    """Give, for every pour that was read: whether it is an espresso, the bound of its end and its error."""
    for brew in brews(LEVELS[level], count, first_seed):
        read = [ReadPour(pour.start_s, pour.end_s, pour.poured_g) for pour in analyse(*weights(brew)).pours]
        for mine, true in matches(read, brew.truth.pours):
            is_shot = brew.truth.method == "espresso"
            yield is_shot, end_bound_s(brew, true), abs(mine.end_s - true.end_s)


def table(count: int) -> Iterator[str]:
    """Give a line for each level and kind: pours, errors at the bound, errors as read."""
    rng = np.random.default_rng(0)
    for level in LEVELS:
        found = list(bounds_and_errors_s(level, count, 5_000_000))
        for is_shot, kind in ((False, "water"), (True, "espresso")):
            bound, error = np.array([(each[1], each[2]) for each in found if each[0] == is_shot]).T
            at_bound = np.abs(rng.normal(0.0, 1.0, (400, bound.size)) * bound)
            sums = [
                " / ".join(f"{np.percentile(each, at):.2f}" for at in (50, 95)) for each in (at_bound, error)
            ]
            yield f"| {level} | {kind} | {bound.size} | {' | '.join(sums)} |\n"


if __name__ == "__main__":
    sys.stdout.writelines(table(int(sys.argv[1]) if len(sys.argv) > 1 else 96))
