"""A plausible pour-over, made by hand: what the other rooms find in a recording, without the recording."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from logger.compare import Brew, Comparison, Deviation, Spread, StageResult, compare, spread
from logger.curve import Analysis, Event, Pour
from logger.recording import Meta, Recording
from logger.target import Shot, Stage, Target, Tolerance

START_S = 12.0
PERIOD_S = 0.05


MORNING = Meta(
    title="Morning practice, brew 4",
    started=datetime(2026, 11, 25, 6, 47, 8, tzinfo=UTC),
    coffee="Example Farm, washed",
    dose_g=18.0,
    grind="24 clicks",
    notes="Kettle refilled between bloom and pour 1.",
    devices=({"channel": "scale", "address": "simulated:four-pours.toml?seed=3"},),
    software="evencup 0.1.0",
    complete=True,
)


def recording_of(meta: Meta = MORNING, problems: tuple[str, ...] = ()) -> Recording:
    """A recording whose readings are not looked at again: screens and pages show what was made of them."""
    return Recording(Path("2026-11-25-064708-four-pours"), meta, problems, pd.DataFrame())


def four_pours_target() -> Target:
    tolerance = Tolerance()
    stages = (
        Stage("bloom", 0.0, 54.0, 0.0, flow_g_s=6.0, tolerance=tolerance),
        Stage("pour 1", 45.0, 140.0, 54.0, flow_g_s=6.0, tolerance=tolerance),
        Stage("pour 2", 80.0, 220.0, 140.0, flow_g_s=6.0, tolerance=tolerance),
        Stage("pour 3", 115.0, 300.0, 220.0, flow_g_s=6.0, water_c=90.0, tolerance=tolerance),
    )
    return Target("Four pours", "pour-over", 18.0, 93.0, stages, end_s=180.0, tolerance=tolerance)


# start (from the brew's start), end, weight before and after
POURS = (
    (0.0, 9.4, 0.0, 53.6),
    (46.3, 60.5, 53.6, 144.2),
    (79.6, 95.0, 144.2, 221.0),
    (121.4, 134.0, 221.0, 298.8),
)
_WANTED_FLOW_G_S = 6.0


def hand_made_analysis(pours: tuple[tuple[float, float, float, float], ...] = POURS) -> Analysis:
    """The curve of such pours as a scale would have shown it, and what is to be found in it."""
    time_s = np.arange(0.0, 205.0, PERIOD_S)
    flow_g_s = np.zeros_like(time_s)
    for pour in pours:
        within = _within(time_s, pour)
        shape = np.sin(np.linspace(0.12, np.pi - 0.12, int(within.sum()))) ** 0.35
        shape *= 1 + 0.12 * np.sin(np.linspace(0.0, 19.0, int(within.sum())))
        flow_g_s[within] = shape * (pour[3] - pour[2]) / (shape.sum() * PERIOD_S)
    events = (
        Event("vessel-on", 1.0, 1.6, 412.0),
        Event("dose", 3.0, 5.2, 18.0),
        Event("tare", 8.0, 8.2, -430.0),
        Event("stir", START_S + 15.0, START_S + 19.0, 0.0),
        Event("gap", START_S + 98.0, START_S + 103.5, 0.0),
        Event("knock", START_S + 150.2, START_S + 150.6, 0.0),
    )
    return Analysis(
        method="pour-over",
        start_s=START_S,
        end_s=START_S + 184.0,
        total_g=pours[-1][3],
        pours=tuple(_pour(time_s, flow_g_s, pour) for pour in pours),
        events=events,
        time_s=time_s,
        weight_g=np.cumsum(flow_g_s) * PERIOD_S,
        flow_g_s=flow_g_s,
        response_s=0.3,
        noise_g=0.06,
        step_g=0.1,
    )


def _within(time_s: np.ndarray, pour: tuple[float, float, float, float]) -> np.ndarray:
    return (time_s >= START_S + pour[0]) & (time_s < START_S + pour[1])


def _pour(time_s: np.ndarray, flow_g_s: np.ndarray, pour: tuple[float, float, float, float]) -> Pour:
    start_s, end_s, from_g, to_g = pour
    peak_g_s = float(flow_g_s[_within(time_s, pour)].max())
    mean_g_s = (to_g - from_g) / (end_s - start_s)
    return Pour(START_S + start_s, START_S + end_s, from_g, to_g, to_g - from_g, mean_g_s, peak_g_s)


def ranged(brew: Brew) -> Brew:
    """The same brew, its starts known to 0.2 s, its ends to 0.4 s and its grams to 0.3 g."""
    pours = tuple(
        replace(
            pour,
            start_between_s=(pour.start_s - 0.2, pour.start_s + 0.1),
            end_between_s=(pour.end_s - 0.3, pour.end_s + 0.4),
            poured_between_g=(pour.poured_g - 0.3, pour.poured_g + 0.3),
        )
        for pour in brew.analysis.pours
    )
    return replace(brew, analysis=replace(brew.analysis, pours=pours, drift_g=-0.6))


def _judged(quantity: Any, wanted: float, actual: float, tolerance: float) -> Deviation:
    return Deviation(quantity, wanted, actual, tolerance, abs(actual - wanted) <= tolerance)


def hand_made_comparison(analysis: Analysis) -> Comparison:
    target = four_pours_target()
    results = []
    waters_c = (93.4, 92.1, 91.2, np.nan)
    for stage, pour, water_c in zip(target.stages, analysis.pours, waters_c, strict=True):
        tolerance = stage.tolerance
        water = (
            Deviation("water_c", 90.0, water_c, tolerance.water_c, None, "no temperature during this pour")
            if np.isnan(water_c)
            else _judged("water_c", 93.0, water_c, tolerance.water_c)
        )
        deviations = (
            _judged("start_s", stage.start_s, pour.start_s - START_S, tolerance.start_s),
            _judged("to_g", stage.to_g, pour.to_g, tolerance.weight_g),
            _judged("flow_g_s", _WANTED_FLOW_G_S, pour.mean_flow_g_s, tolerance.flow_g_s),
            water,
        )
        results.append(StageResult(stage, "matched", (pour,), deviations))
    whole = (_judged("total_g", 300.0, 298.8, 3.0), _judged("end_s", 180.0, 184.0, 10.0))
    return Comparison(
        target,
        tuple(results),
        (),
        whole,
        "Two of four stages were off: pour 1 ended 4.2 g heavy, pour 3 began 6.4 s late.",
        "Stop pour 1 about 4 g sooner; the next pour then starts from the right weight.",
        ("No temperature was recorded during pour 3.",),
    )


def hand_made_temperatures() -> dict[str, tuple[np.ndarray, np.ndarray]]:
    kettle_s = np.arange(0.0, 118.0, 1.0)
    slurry_s = np.arange(14.0, 200.0, 2.0)
    return {
        "kettle": (kettle_s, 94.0 - 0.028 * kettle_s),
        "slurry": (slurry_s, 88.0 + 3.0 * np.sin(slurry_s / 21.0)),
    }


def brew_of(
    analysis: Analysis, comparison: Comparison | None, recording: Recording | None = None, **temperatures: Any
) -> Brew:
    return Brew(recording or recording_of(), analysis, comparison, temperatures)


def practice_brews(count: int, seed: int = 5) -> list[Brew]:
    """The same four pours by a hand that scatters: starts by 1.5 s, finishing weights by 1.5 g."""
    rng = np.random.default_rng(seed)
    brews = []
    for number in range(1, count + 1):
        late_s = [0.0, *rng.normal(0.5, 1.5, 3).tolist()]
        heavy_g = [0.0, *rng.normal(0.6, 1.5, 4).tolist()]
        pours = tuple(
            (start_s + late_s[n], end_s + late_s[n], from_g + heavy_g[n], to_g + heavy_g[n + 1])
            for n, (start_s, end_s, from_g, to_g) in enumerate(POURS)
        )
        analysis = hand_made_analysis(pours)
        recording = Recording(Path(f"2026-11-{number:02d}-four-pours"), MORNING, (), pd.DataFrame())
        brews.append(Brew(recording, analysis, compare(analysis, four_pours_target(), {}), {}))
    return brews


@pytest.fixture
def brew() -> Brew:
    """Four pours against a target: one ended heavy, one began late, one water not measured."""
    analysis = hand_made_analysis()
    return brew_of(analysis, hand_made_comparison(analysis), **hand_made_temperatures())


@pytest.fixture
def untargeted_brew() -> Brew:
    """The same brew, recorded without a target or a thermometer."""
    return brew_of(hand_made_analysis(), None)


@pytest.fixture
def no_brew() -> Brew:
    """A recording in which nothing was poured."""
    time_s = np.arange(0.0, 30.0, PERIOD_S)
    nothing = np.zeros_like(time_s)
    analysis = Analysis(None, None, None, 0.0, (), (), time_s, nothing, nothing, 0.0, 0.05, 0.1)
    return brew_of(analysis, None)


@pytest.fixture
def shot() -> Brew:
    """An espresso: 36 g wanted within 25 to 30 s, one pour of 37.2 g in 28.4 s."""
    time_s = np.arange(0.0, 45.0, PERIOD_S)
    flow_g_s = np.where((time_s >= 6.0) & (time_s < 34.4), 37.2 / 28.4, 0.0)
    pour = Pour(6.0, 34.4, 0.0, 37.2, 37.2, 37.2 / 28.4, 37.2 / 28.4)
    analysis = Analysis(
        "espresso",
        6.0,
        34.4,
        37.2,
        (pour,),
        (),
        time_s,
        np.cumsum(flow_g_s) * PERIOD_S,
        flow_g_s,
        0.0,
        0.05,
        0.1,
    )
    target = Target("House espresso", "espresso", 18.0, 93.0, shot=Shot(36.0, (25.0, 30.0), (5.0, 8.0)))
    whole = (
        Deviation("total_g", 36.0, 37.2, 3.0, True),
        Deviation("end_s", 28.4, 28.4, 0.0, True),
        Deviation("first_drip_s", 6.5, float("nan"), 1.5, None, "the pump's start was not recorded"),
    )
    comparison = Comparison(target, (), (), whole, "The shot was inside.", "", ())
    return brew_of(analysis, comparison, recording_of(Meta(title="Shot 2", complete=True)))


@pytest.fixture
def practice_set() -> Callable[[int], tuple[list[Brew], Spread, Target]]:
    """Make so many brews of the four pours, with their spread and the target."""

    def make(count: int) -> tuple[list[Brew], Spread, Target]:
        brews, target = practice_brews(count), four_pours_target()
        return brews, spread(brews, target), target

    return make
