"""How fast and how well a curve is read, beside two other methods in the same run.

``pytest tests/benchmarks/test_curve.py --benchmark-only`` prints the table; it takes about half a minute.
"""

import sys
from dataclasses import replace

import pytest

from drivers.simulated import EASY, simulate
from logger.curve import LiveAnalysis
from tests.benchmarks.curve_suite import (
    LEVELS,
    READERS,
    THREE_POURS,
    Score,
    brews,
    score,
    spread,
    weights,
)

BREWS = 48
THREE_MINUTES = weights(simulate(THREE_POURS, 2, replace(EASY, rate_hz=(10.0,), vessel_chance=1.0)))


@pytest.mark.benchmark(group="one brew of three minutes, 10 Hz")
@pytest.mark.parametrize("name", READERS)
def test_time_for_one_brew(benchmark, name: str) -> None:
    assert len(benchmark(READERS[name], *THREE_MINUTES)) == 3


@pytest.mark.benchmark(group="one brew of three minutes, 10 Hz")
def test_time_for_one_brew_live(benchmark) -> None:
    def follow() -> LiveAnalysis:
        live = LiveAnalysis()
        for time_s, weight_g in zip(*THREE_MINUTES, strict=True):
            live.push(time_s, weight_g)
        return live

    assert len(benchmark(follow).pours) == 3


@pytest.mark.benchmark(group=f"{BREWS} brews a level")
@pytest.mark.parametrize("level", LEVELS)
def test_how_well_brews_are_read(benchmark, level: str, capsys: pytest.CaptureFixture[str]) -> None:
    some = brews(LEVELS[level], BREWS)
    scores = {name: score(read, some) for name, read in READERS.items() if name != "evencup"}
    here = benchmark.pedantic(score, (READERS["evencup"], some), rounds=1)
    lines = [
        f"\n{level}, {BREWS} brews; errors: median / 95 %",
        "method      exact    F1   start s       end s         grams",
        *(_line(name, result) for name, result in {"evencup": here, **scores}.items()),
    ]
    with capsys.disabled():
        sys.stdout.write("\n".join(lines) + "\n")
    assert all(here.f1 >= other.f1 for other in scores.values())
    assert all(here.exact_share >= other.exact_share for other in scores.values())


def _line(name: str, result: Score) -> str:
    errors = (result.start_errors_s, result.end_errors_s, result.gram_errors)
    columns = ["{:.2f} / {:.2f}".format(*spread(each)) for each in errors]
    return f"{name:10} {result.exact_share:6.3f} {result.f1:5.3f}   " + "   ".join(columns)
