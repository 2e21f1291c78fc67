"""How well any method could know the ends of the simulated brews, beside how well they are read.

For every pour the bound of ``end_bound`` is worked out with its own scale (noise, step, rate, lag, all taken
as known) and its own spout: what still flows below half of the pour's mean flow, as an exponential. A
wavering hand, stirring, knocks, gaps and single drops are left out, so nothing can do better. Normal errors
of just that size are then summed up as the errors of what was read are.

    python docs/end_bound_of_brews.py [BREWS]

The same of what is known by 1.5 s after each end, beside what ``LiveAnalysis`` has told by then:

    python docs/end_bound_of_brews.py [BREWS] --live
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
from logger.curve import LiveAnalysis, Pour, analyse
from logger.curve.edges.fading import ENDS_AT_G_S
from logger.curve.edges.shapes import Response
from tests.benchmarks.curve_suite import LEVELS, ReadPour, brews, matches, weights

Floats = NDArray[np.float64]

_TAIL_SHARE, _TAIL_S = 0.5, 5.0
_FADES_S = (0.05, 3.0)
_LEAST_G_S = 0.15
_SOON_S = 1.5

Found = Iterator[tuple[bool, float, float | None]]


def end_bound_s(brew: SimulatedBrew, pour: TruePour, seen_s: float = np.inf) -> float:
    """Give the least standard deviation of one pour's end on the scale that it was poured on.

    :param seen_s: for so long after its end there are readings
    """
    scale = brew.truth.instrument
    noise_g = float(np.hypot(scale.noise_g, scale.step_g / np.sqrt(12.0)))
    response = Response(float(np.mean(scale.lags_s)), len(scale.lags_s)) if scale.lags_s else Response(0.0)
    left_g_s, fade_s = tail(brew, pour)
    until_s = fade_s * float(np.log(left_g_s / ENDS_AT_G_S)) + seen_s
    if brew.truth.method == "espresso":
        return shot_end_bound_s(
            noise_g, response, 0.0, scale.rate_hz, left_g_s, fade_s, until_s=min(until_s, 6.0)
        )
    flow_g_s = pour.mean_flow_g_s
    return fading_end_bound_s(
        noise_g, response, scale.rate_hz, left_g_s, fade_s, flow_g_s, until_s=min(until_s, 4.0)
    )


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


def bounds_and_errors_s(brew: SimulatedBrew) -> Found:
    """Give, for every pour that was read: whether it is an espresso, the bound of its end and its error."""
    for mine, true in _matched(analyse(*weights(brew)).pours, brew):
        yield brew.truth.method == "espresso", end_bound_s(brew, true), abs(mine.end_s - true.end_s)


def soon_bounds_and_errors_s(brew: SimulatedBrew) -> Found:
    """Give the same of what live has told by 1.5 s after each end; no error where it has not."""
    live, waiting = LiveAnalysis(), list(brew.truth.pours)
    for time_s, weight_g in zip(*(values.tolist() for values in weights(brew)), strict=True):
        while waiting and time_s > waiting[0].end_s + _SOON_S:
            true = waiting.pop(0)
            told = [
                abs(mine.end_s - true.end_s) for mine, other in _matched(live.pours, brew) if other is true
            ]
            is_shot = brew.truth.method == "espresso"
            yield is_shot, end_bound_s(brew, true, _SOON_S), told[0] if told else None
        live.push(time_s, weight_g)


def _matched(pours: tuple[Pour, ...], brew: SimulatedBrew) -> list[tuple[ReadPour, TruePour]]:
    return matches([ReadPour(pour.start_s, pour.end_s, pour.poured_g) for pour in pours], brew.truth.pours)


def table(count: int, *, soon: bool = False) -> Iterator[str]:
    """Give a line for each level and kind: pours, how many were read, errors at the bound, errors as read."""
    rng = np.random.default_rng(0)
    read = soon_bounds_and_errors_s if soon else bounds_and_errors_s
    for level in LEVELS:
        found = [each for brew in brews(LEVELS[level], count, 5_000_000) for each in read(brew)]
        for is_shot, kind in ((False, "water"), (True, "espresso")):
            bound = np.array([each[1] for each in found if each[0] == is_shot])
            error = [each[2] for each in found if each[0] == is_shot and each[2] is not None]
            at_bound = np.abs(rng.normal(0.0, 1.0, (400, bound.size)) * bound)
            sums = [
                " / ".join(f"{np.percentile(each, at):.2f}" for at in (50, 95)) for each in (at_bound, error)
            ]
            yield f"| {level} | {kind} | {bound.size} | {len(error)} | {' | '.join(sums)} |\n"


if __name__ == "__main__":
    counts = [int(each) for each in sys.argv[1:] if each.isdecimal()]
    sys.stdout.writelines(table(counts[0] if counts else 96, soon="--live" in sys.argv))
