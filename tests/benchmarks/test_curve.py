"""How fast and how well a curve is read, beside two other methods in the same run.

``pytest tests/benchmarks/test_curve.py --benchmark-only -s`` prints the tables; it takes a few minutes. With
``OPENBLAS_NUM_THREADS=1`` the times are those of one core.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from time import perf_counter

import numpy as np
import pytest

from drivers.simulated import EASY, simulate
from logger.curve import LiveAnalysis, analyse
from tests.benchmarks.curve_flows import FLOWS, rmse_g_s
from tests.benchmarks.curve_suite import (
    LEVELS,
    READERS,
    THREE_POURS,
    Floats,
    Score,
    brews,
    score,
    spread,
    weights,
)

BREWS = 96
FLOW_BREWS = 24
THREE_MINUTES = weights(simulate(THREE_POURS, 2, replace(EASY, rate_hz=(10.0,), vessel_chance=1.0)))
HOUR_S = 3600.0


@pytest.mark.benchmark(group="one brew of three minutes, 10 Hz")
@pytest.mark.parametrize("name", READERS)
def test_time_for_one_brew(benchmark, name: str) -> None:
    assert len(benchmark(READERS[name], *THREE_MINUTES)) == 3


@pytest.mark.benchmark(group="one brew of three minutes, 10 Hz")
def test_time_for_one_brew_live(benchmark, capsys: pytest.CaptureFixture[str]) -> None:
    longest_s = []

    def follow() -> LiveAnalysis:
        live, longest = LiveAnalysis(), 0.0
        for time_s, weight_g in zip(*THREE_MINUTES, strict=True):
            began_s = perf_counter()
            live.push(time_s, weight_g)
            longest = max(longest, perf_counter() - began_s)
        longest_s.append(longest)
        return live

    assert len(benchmark(follow).pours) == 3
    took_s, longest = benchmark.stats.stats.median, 1e3 * float(np.median(longest_s))
    rate = THREE_MINUTES[0].size / took_s
    _say(capsys, f"live: {rate:,.0f} readings/s on average; the one that ends a pour {longest:.0f} ms")


@pytest.mark.benchmark(group=f"{BREWS} brews a level")
@pytest.mark.parametrize("level", LEVELS)
def test_how_well_brews_are_read(benchmark, level: str, capsys: pytest.CaptureFixture[str]) -> None:
    some = brews(LEVELS[level], BREWS)
    scores = {name: score(read, some) for name, read in READERS.items() if name != "evencup"}
    here = benchmark.pedantic(score, (READERS["evencup"], some), rounds=1)
    flows = {name: rmse_g_s(flow, some[:FLOW_BREWS]) for name, flow in FLOWS.items()}
    starts, ends, grams = here.coverage
    _say(
        capsys,
        f"{level}, {BREWS} brews, {here.true} pours; errors: median / 95 %; flow: RMSE of {FLOW_BREWS} brews",
        "method      ms/brew  exact    F1   start s       end s         grams         flow g/s",
        *(_line(name, result, flows[name]) for name, result in {"evencup": here, **scores}.items()),
        f"evencup's 90 % ranges hold {starts:.0%} of starts, {ends:.0%} of ends, {grams:.0%} of grams",
    )
    assert all(here.f1 >= other.f1 for other in scores.values())
    assert all(here.exact_share >= other.exact_share for other in scores.values())


@pytest.mark.benchmark(group="a day at 1 Hz")
def test_a_day_costs_what_its_hours_do(benchmark, capsys: pytest.CaptureFixture[str]) -> None:
    """Once an hour a brew of three pours, for the rest of it nothing; the pan is cleared for the next."""
    hour, day = _hours(1), _hours(24)
    analyse(*hour)
    hour_s = min(_took_s(hour) for _ in range(5))
    found = benchmark.pedantic(analyse, day, rounds=3)
    assert len(found.pours) == 24 * len(analyse(*hour).pours) == 72
    day_s = benchmark.stats.stats.min
    _say(
        capsys,
        f"24 h at 1 Hz, {day[0].size} readings: {day_s:.2f} s; 1 h: {hour_s:.3f} s; "
        f"ratio {day_s / hour_s:.1f} (24 would be linear)",
    )
    assert day_s < 1.5 * 24 * hour_s


def _hours(count: int) -> tuple[Floats, Floats]:
    conditions = replace(EASY, rate_hz=(1.0,), vessel_chance=0.0, lift_chance=0.0)
    time_s, weight_g = weights(simulate(THREE_POURS, 2, conditions))
    rest_s = np.arange(time_s[-1] + 1.0, HOUR_S, 1.0)
    noise_g = np.random.default_rng(0).normal(0.0, 0.03, rest_s.size)
    rest_g = np.round(np.median(weight_g[-5:]) + noise_g, 2)
    one_s, one_g = np.concatenate((time_s, rest_s)), np.concatenate((weight_g, rest_g))
    return np.concatenate([one_s + HOUR_S * number for number in range(count)]), np.tile(one_g, count)


def _took_s(readings: tuple[Floats, Floats]) -> float:
    began_s = perf_counter()
    analyse(*readings)
    return perf_counter() - began_s


def _say(capsys: pytest.CaptureFixture[str], *lines: str) -> None:
    with capsys.disabled():
        sys.stdout.write("\n".join(("", *lines)) + "\n")


def _line(name: str, result: Score, flow_g_s: float) -> str:
    errors = (result.start_errors_s, result.end_errors_s, result.gram_errors)
    columns = ["{:.2f} / {:.2f}".format(*spread(each)) for each in errors]
    took_ms = 1e3 * float(np.median(result.took_s))
    shares = f"{took_ms:7.1f}  {result.exact_share:5.3f} {result.f1:5.3f}"
    return f"{name:10} {shares}   " + "   ".join(columns) + f"   {flow_g_s:.3f}"
