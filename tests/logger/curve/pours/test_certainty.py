"""Whether the ranges hold the truth as often as they say: nine times in ten."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drivers.simulated import ShotPlan, simulate
from drivers.simulated.truth import TruePour
from logger.curve import Pour, analyse
from tests.benchmarks.curve_suite import LEVELS, RISTRETTO, THREE_POURS, weights
from tests.logger.curve.pours.test_pulled import late
from tests.logger.curve.read_levels import matched, read_brews


def width(between: tuple[float, float] | None) -> float:
    assert between is not None
    return between[1] - between[0]


def held(between: tuple[float, float] | None, value: float, or_until: float | None = None) -> bool:
    """Whether a range holds a value, or any of those up to another one."""
    assert between is not None
    return between[0] <= (value if or_until is None else or_until) and value <= between[1]


def pairs(level: str) -> list[tuple[Pour, TruePour, bool]]:
    """Every pour that was read with the true one, and whether it is an espresso's."""
    return [
        (pour, true, brew.truth.method == "espresso")
        for brew, found in read_brews(level)
        for pour, true in matched(brew, found)
    ]


@pytest.mark.parametrize(("level", "least"), [("easy", 0.88), ("medium", 0.82)])
def test_the_ranges_hold_the_truth_about_nine_times_in_ten(level: str, least: float) -> None:
    """Of 54 pours a level; measured 1.0, 0.98 and 1.0 (easy), 0.94, 1.0 and 0.89 (medium). Between the
    first drop and the first half gram any start of an espresso is right: no display shows less.
    """
    some = pairs(level)
    assert len(some) > 45
    starts = [
        held(pour.start_between_s, true.start_s, true.t_half_g_s if is_shot else None)
        for pour, true, is_shot in some
    ]
    ends = [held(pour.end_between_s, true.end_s) for pour, true, _ in some]
    grams = [held(pour.poured_between_g, true.poured_g) for pour, true, _ in some]
    for holds in (starts, ends, grams):
        assert np.mean(holds) >= least


@pytest.mark.parametrize(
    ("level", "start_s", "end_s", "grams"), [("easy", 0.5, 1.0, 0.3), ("medium", 0.6, 1.2, 0.4)]
)
def test_the_ranges_are_no_wider_than_they_need_be(
    level: str, start_s: float, end_s: float, grams: float
) -> None:
    """A range that holds everything says nothing. Median widths, measured: 0.30 s, 0.78 s and 0.14 g (easy),
    0.41 s, 1.00 s and 0.24 g (medium).
    """
    some = pairs(level)
    assert np.median([width(pour.start_between_s) for pour, _, _ in some]) <= start_s
    assert np.median([width(pour.end_between_s) for pour, _, _ in some]) <= end_s
    assert np.median([width(pour.poured_between_g) for pour, _, _ in some]) <= grams


def test_what_was_read_lies_within_its_own_range() -> None:
    for pour, _, _ in pairs("easy") + pairs("medium"):
        assert held(pour.start_between_s, pour.start_s)
        assert held(pour.end_between_s, pour.end_s)
        assert held(pour.poured_between_g, pour.poured_g)


def test_a_display_in_whole_grams_says_less() -> None:
    """The same brews, rounded to 1 g: the grams are known to half a gram at best, and still known so."""
    holds = []
    for seed in range(4):
        brew = simulate(THREE_POURS, seed, LEVELS["easy"])
        time_s, weight_g = weights(brew)
        fine, coarse = analyse(time_s, weight_g), analyse(time_s, np.round(weight_g))
        assert coarse.step_g == 1.0
        for one, other, true in zip(fine.pours, coarse.pours, brew.truth.pours, strict=True):
            assert width(other.poured_between_g) > 2.0 * width(one.poured_between_g)
            holds.append(held(other.poured_between_g, true.poured_g))
    assert np.mean(holds) >= 0.75


@pytest.mark.parametrize("seed", [0, 2])
def test_a_recording_that_was_cut_off_in_a_pour_says_less_of_that_pour_alone(seed: int) -> None:
    """Its end was not seen; the pours before it, and its own start, are known as ever."""
    brew = simulate(THREE_POURS, seed, LEVELS["easy"])
    time_s, weight_g = weights(brew)
    last = brew.truth.pours[-1]
    seen = time_s < last.start_s + 0.6 * (last.end_s - last.start_s)
    whole, cut = analyse(time_s, weight_g), analyse(time_s[seen], weight_g[seen])
    for one, other in zip(whole.pours[:-1], cut.pours[:-1], strict=True):
        # The lag is read off two steps, or off one.
        assert width(other.end_between_s) == pytest.approx(width(one.end_between_s), abs=0.2)
        # What dries and wanders is measured in all rests, or in those before the cut.
        assert width(other.poured_between_g) == pytest.approx(width(one.poured_between_g), abs=0.09)
    one, other = whole.pours[-1], cut.pours[-1]
    assert width(other.start_between_s) == pytest.approx(width(one.start_between_s), abs=0.1)
    assert other.end_between_s is None or width(other.end_between_s) > 2.0 * width(one.end_between_s)
    assert other.poured_between_g is None or width(other.poured_between_g) > 2.0 * width(one.poured_between_g)


def test_a_shot_that_runs_fast_ends_as_an_espresso_does() -> None:
    """At 3 to 3.6 g/s it fades all the same; weighed like a kettle's its end was read 0.4 s early.

    Its cup is lifted before single drops or a film can be told, and neither is weighed: 0.18 s late.
    """
    shot = ShotPlan(44.0, (21.0, 21.5), (6.0, 7.0))
    errors_s, holds = [], []
    for seed in range(12):
        brew = simulate(replace(RISTRETTO, shot=shot), seed, LEVELS["medium"])
        for pour, true in matched(brew, analyse(*weights(brew))):
            errors_s.append(pour.end_s - true.end_s)
            holds.append(held(pour.end_between_s, true.end_s))
    assert len(holds) >= 11
    assert abs(np.median(errors_s)) < 0.22
    assert np.mean(holds) >= 0.8


@pytest.mark.parametrize(("seed", "creeps_g"), [(3, 0.1), (5, 0.05), (6, 0.05)])
def test_a_thin_stream_that_grows_begins_where_it_fits_not_where_the_level_creeps(
    seed: int, creeps_g: float
) -> None:
    """From 2.2 to 3.6 g/s within five seconds, after a pour that was faster: a hand's, and no espresso's."""
    time_s = np.arange(0.0, 75.0, 0.1)
    flow_g_s = np.interp(time_s, [20.0, 20.4, 28.0, 28.3], [0.0, 6.0, 6.0, 0.0])
    flow_g_s += np.interp(time_s, [40.0, 40.2, 45.2, 55.0, 55.3], [0.0, 2.2, 3.6, 3.6, 0.0])
    on_pan_g = np.cumsum(flow_g_s) * 0.1 + 300.0 * (time_s > 2.0)
    on_pan_g += creeps_g * np.sin(0.9 * (time_s - 37.0)) * (time_s > 30.0)
    noise_g = np.convolve(np.random.default_rng(seed).normal(0.0, 0.08, time_s.size), np.ones(3) / 3, "same")
    shown_g = late(time_s, on_pan_g, 0.3) - 300.0 * (time_s > 8.0) + noise_g
    pour = analyse(time_s, np.round(shown_g, 1)).pours[1]
    assert pour.start_s == pytest.approx(40.0, abs=0.3)
