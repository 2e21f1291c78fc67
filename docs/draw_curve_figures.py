"""Draws the figures of the three pages on curves from simulated brews, with evencup's own code.

    python docs/draw_curve_figures.py

The same code draws the same bytes: every brew has its seed, and nothing of the day gets into a file.
Needs matplotlib: pip install ".[test]".
"""

from __future__ import annotations

import argparse
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray
from onset_bound import AFTER_S, BEFORE_S, NO_LAG, onset_bound_s, straight_pour_g

from drivers.reading import GRAM
from drivers.simulated import EASY, MEDIUM, Conditions, Plan, Step, Truth, simulate
from logger.curve import Analysis, analyse
from logger.curve.edges.edge import fit_edge
from logger.curve.pours.flow import flow_half_for, slope_g_s
from logger.curve.readings.timebase import grid_of, samples_from

Floats = NDArray[np.float64]

# Okabe and Ito's colours, which the colour-blind tell apart; they differ in lightness as well.
BLACK, BLUE, ORANGE, GREEN, GREY = "#000000", "#0072B2", "#D55E00", "#009E73", "#767676"

STYLE = {
    "svg.hashsalt": "evencup",
    "svg.fonttype": "path",
    "font.family": "DejaVu Sans",
    "font.size": 10.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.titlesize": 10.0,
    "axes.titlelocation": "left",
    "legend.frameon": False,
    "legend.fontsize": 9.0,
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
    "path.simplify_threshold": 0.5,
}

OVER_A_LINE: Mapping[str, Any] = {
    "loc": "upper left",
    "frameon": True,
    "framealpha": 1.0,
    "edgecolor": "white",
}
"""Of a legend: no line shall run through its words."""

ONE_POUR = Plan("One pour", "immersion", 15.0, steps=(Step("pour", 0.0, 0.0, 60.0, 6.0),), end_s=25.0)
THREE_POURS = Plan(
    "Three pours",
    "pour-over",
    15.0,
    steps=(
        Step("bloom", 0.0, 0.0, 45.0, 6.0),
        Step("second", 45.0, 45.0, 150.0, 6.0),
        Step("third", 75.0, 150.0, 250.0, 5.0),
    ),
    end_s=150.0,
)
STEADY_SCALE = replace(EASY, vessel_chance=1.0, lift_chance=0.0, rate_hz=(10.0,), noise_g=(0.04, 0.04))
BUSY_BENCH = replace(
    MEDIUM,
    knocks=(1, 1),
    knock_anywhere=True,
    stir_chance=1.0,
    lift_chance=1.0,
    lid_chance=0.0,
    dollops=(2, 2),
    rate_hz=(10.0,),
    step_g=(0.1,),
    burst=(1,),
)


@dataclass(frozen=True, slots=True)
class Brew:
    """What a scale sent, how it was, and what was read of it."""

    time_s: Floats
    weight_g: Floats
    truth: Truth
    analysis: Analysis


def brew(plan: Plan, conditions: Conditions, seed: int) -> Brew:
    """Simulate a brew and read it."""
    simulated = simulate(plan, seed, conditions)
    sent = [(reading.time_s, reading.value) for reading in simulated.readings if reading.unit == GRAM]
    time_s, weight_g = (np.array(values) for values in zip(*sent, strict=True))
    return Brew(time_s, weight_g, simulated.truth, analyse(time_s, weight_g))


def one_pour() -> Figure:
    """One pour: readings, start and end with their ranges, and when they truly were."""
    shown = brew(ONE_POUR, replace(STEADY_SCALE, lag_s=(0.35, 0.35), dribble_g_s=(0.3, 0.3)), 4)
    (pour,), (true,) = shown.analysis.pours, shown.truth.pours
    tared_g = float(np.median(shown.weight_g[shown.time_s < pour.start_s][-20:]))
    figure, (first, last) = _panels(2, 3.4)
    for axes, at_s, true_s, between_s, name in (
        (first, pour.start_s, true.start_s, pour.start_between_s, "start"),
        (last, pour.end_s, true.end_s, pour.end_between_s, "end"),
    ):
        near = np.abs(shown.time_s - at_s) < 2.0
        time_s, weight_g = shown.time_s[near] - pour.start_s, shown.weight_g[near] - tared_g
        axes.plot(time_s, weight_g, "o", color=GREY, markersize=3.5, label="readings")
        low_s, high_s = np.array(between_s) - pour.start_s
        axes.axvspan(low_s, high_s, color=BLUE, alpha=0.2, linewidth=0, label="90 % range")
        axes.axvline(at_s - pour.start_s, color=BLUE, label=f"{name} as read")
        axes.axvline(true_s - pour.start_s, color=ORANGE, linestyle="--", label=f"true {name}")
        axes.set(title=f"The {name}: {_signed(at_s - true_s)} s off", xlabel="s from the first water as read")
        axes.legend(loc="upper left" if name == "start" else "lower right")
    first.set_ylabel("weight, g")
    return figure


def taken_out() -> Figure:
    """What the display showed, and the water in it."""
    shown = brew(THREE_POURS, BUSY_BENCH, 28)
    read = shown.analysis
    figure, (raw, water) = _panels(2, 5.2, stacked=True)
    raw.plot(shown.time_s, shown.weight_g, color=BLACK, linewidth=1.0)
    raw.set(title="What the scale showed, and the events found in it", ylabel="display, g")
    raw.set_ylim(-130.0, 720.0)
    for number, event in enumerate(read.events):
        end_s = max(event.end_s, event.start_s + 0.4)
        raw.axvspan(event.start_s, end_s, color=ORANGE, alpha=0.35, linewidth=0)
        late = event.start_s > 165.0
        at = (event.start_s - 1.0, "right") if late else (end_s + 1.0, "left")
        raw.text(at[0], 640.0 - 80.0 * (number % 4), event.kind, ha=at[1])
    water.plot(read.time_s, read.weight_g, color=BLUE, linewidth=1.6)
    water.set(title="Water alone, and its pours", xlabel="s", ylabel="water, g")
    water.set_ylim(-15.0, 300.0)
    for number, pour in enumerate(read.pours, 1):
        water.axvspan(pour.start_s, pour.end_s, color=GREY, alpha=0.25, linewidth=0)
        middle_s = 0.5 * (pour.start_s + pour.end_s)
        water.text(middle_s, 272.0, f"{number}: {pour.poured_g:.1f} g", ha="center", color=BLACK)
    return figure


def lag() -> Figure:
    """The same pour on three scales, and the flow with the slowest one's lag taken out."""
    figure, (edge, flow) = _panels(2, 3.4)
    shown = {
        lag_s: brew(ONE_POUR, replace(STEADY_SCALE, lag_s=(lag_s, lag_s), fall_m=(0.03, 0.03)), 4)
        for lag_s in (0.1, 0.4, 0.8)
    }
    for (lag_s, each), colour in zip(shown.items(), (BLACK, BLUE, ORANGE), strict=True):
        true_s, found = each.truth.pours[0].start_s, each.analysis.pours[0]
        near = (each.time_s > true_s - 1.2) & (each.time_s < true_s + 2.2)
        level_g = float(np.median(each.weight_g[near][:8]))
        since_s = each.time_s[near] - true_s
        edge.plot(since_s, each.weight_g[near] - level_g, color=colour, linewidth=1.2)
        read_s = found.start_s - true_s
        label = f"{lag_s} s late: {_signed(read_s)} s"
        edge.plot([read_s], [-0.7], "^", color=colour, markersize=8, label=label)
    edge.axvline(0.0, color=GREEN, linestyle="--", label="first water")
    edge.legend(title="scale, start as read", title_fontsize=9.0, alignment="left", **OVER_A_LINE)
    edge.set(title="One start, seen by three scales", ylabel="weight, g")
    edge.set_xlabel("s from the true first water")
    slow = shown[0.8]
    true_s = slow.truth.pours[0].start_s
    # Fifty points a second are enough to draw.
    truth_s, truth_g_s = slow.truth.time_s[::10] - true_s, slow.truth.flow_g_s[::10]
    grid_s, shown_g_s = _slope_of_display(slow)
    for at_s, values_g_s, style in (
        (truth_s, truth_g_s, {"color": GREEN, "linestyle": "--", "label": "truth"}),
        (grid_s - true_s, shown_g_s, {"color": ORANGE, "linewidth": 1.0, "label": "slope of the display"}),
        (slow.analysis.time_s - true_s, slow.analysis.flow_g_s, {"color": BLUE, "label": "flow as read"}),
    ):
        seen = (at_s > -1.5) & (at_s < 14.5)
        flow.plot(at_s[seen], values_g_s[seen], **style)
    flow.set(title="Flow, by the slowest of them", xlabel="s from the true first water", ylabel="g/s")
    flow.set(xlim=(-1.5, 14.5), ylim=(-0.3, 10.5))
    flow.legend(loc="upper right")
    return figure


def bound() -> Figure:
    """Scatter of the start over noise by flow, beside what any method could reach."""
    flow_g_s, ramp_s = 6.0, 0.4
    noises_g = flow_g_s * np.geomspace(0.001, 0.06, 7)
    time_s = np.arange(0.0, 26.0, 0.1)
    onsets_s = 5.0 + np.random.default_rng(1).uniform(0.0, 0.5, 40)
    near = [slice(*np.searchsorted(time_s, [at_s - BEFORE_S, at_s + AFTER_S])) for at_s in onsets_s]
    known, unknown, allowed, fitted, read = [], [], [], [], []
    for noise_g in noises_g:
        for bounds, how in (
            (known, {}),
            (unknown, {"ramp_known": False}),
            (allowed, {"ramp_known": False, "as_believed": True}),
        ):
            each = [
                onset_bound_s(time_s[part], at_s, flow_g_s, ramp_s, noise_g, **how)
                for part, at_s in zip(near[:8], onsets_s, strict=False)
            ]
            bounds.append(float(np.sqrt(np.mean(np.square(each)))))
        off_s = np.array([_off_s(time_s, at_s, flow_g_s, ramp_s, noise_g) for at_s in onsets_s])
        fitted.append(off_s[:, 0].std())
        read.append(off_s[:, 1].std())
    figure, (axes,) = _panels(1, 4.2)
    across = noises_g / flow_g_s * 1e3
    axes.loglog(across, 1e3 * np.array(known), color=BLACK, label="bound, ramp known")
    axes.loglog(across, 1e3 * np.array(fitted), "o", color=BLACK, label="one edge fitted, ramp known")
    axes.loglog(across, 1e3 * np.array(unknown), color=ORANGE, linestyle="--", label="bound, ramp unknown")
    axes.loglog(
        across, 1e3 * np.array(allowed), color=BLUE, linestyle=":", label="the same, no ramp quite straight"
    )
    axes.loglog(across, 1e3 * np.array(read), "^", color=BLUE, label="start of the whole analysis")
    axes.set(xlabel="noise of a reading by flow, ms", ylabel="standard deviation of the start, ms")
    axes.set_title("10 readings a second, a ramp of 0.4 s")
    axes.legend(loc="upper left")
    axes.set_ylim(0.3, 3000.0)
    for axis, ticks in ((axes.xaxis, (1, 2, 5, 10, 20, 50)), (axes.yaxis, (1, 10, 100, 1000))):
        axis.set_ticks(ticks, labels=[str(tick) for tick in ticks])
        axis.set_ticks([], minor=True)
    return figure


_FINE_NUMBER = re.compile(r"(?<![\w#])-?\d+\.\d{3,}")

FIGURES: Mapping[str, Callable[[], Figure]] = {
    "curve-one-pour": one_pour,
    "curve-taken-out": taken_out,
    "curve-lag": lag,
    "curve-bound": bound,
}


def draw(into: Path) -> None:
    """Draw all figures into a folder."""
    into.mkdir(parents=True, exist_ok=True)
    with mpl.rc_context(STYLE):
        for name, figure in FIGURES.items():
            drawn = io.StringIO()
            figure().savefig(drawn, format="svg", metadata={"Date": None, "Creator": "evencup"})
            text = _FINE_NUMBER.sub(_rounded, drawn.getvalue())
            text = "".join(f"{line.strip()}\n" for line in text.splitlines())
            (into / f"{name}.svg").write_text(text, encoding="utf-8", newline="\n")


def _rounded(number: re.Match[str]) -> str:
    """Round to a hundredth of a point; what is small is the scale of a letter."""
    value = float(number[0])
    return f"{value:.2f}" if abs(value) >= 0.1 else number[0]


def _panels(count: int, height_in: float, *, stacked: bool = False) -> tuple[Figure, list[Axes]]:
    figure = Figure(figsize=(8.0, height_in), layout="constrained")
    grid = figure.subplots(count if stacked else 1, 1 if stacked else count, squeeze=False, sharex=stacked)
    return figure, list(grid.ravel())


def _slope_of_display(shown: Brew) -> tuple[Floats, Floats]:
    grid = grid_of(samples_from(shown.time_s, shown.weight_g))
    half = flow_half_for(shown.analysis.noise_g, grid.step_s, 0.0)
    return grid.time_s, slope_g_s(grid.weight_g, half, grid.step_s)


def _signed(value: float) -> str:
    return f"{value:+.2f}".replace("-", "\N{MINUS SIGN}")


def _off_s(
    time_s: Floats, at_s: float, flow_g_s: float, ramp_s: float, noise_g: float
) -> tuple[float, float]:
    """How far off one fitted edge is, and the start of the whole analysis."""
    noise = np.random.default_rng(round(at_s * 1e6)).normal(0.0, noise_g, time_s.size)
    weight_g = straight_pour_g(time_s, at_s, 14.0, flow_g_s, ramp_s) + noise
    part = slice(*np.searchsorted(time_s, [at_s - BEFORE_S, at_s + AFTER_S]))
    candidates_s = np.arange(at_s - 1.5, at_s + 1.5, 0.05)
    edge = fit_edge(
        time_s[part], weight_g[part], candidates_s, NO_LAG, is_start=True, ramps_s=np.array([ramp_s])
    )
    read = analyse(time_s, weight_g, response_s=0.0)
    return edge.time_s - at_s, read.pours[0].start_s - at_s


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Draw the figures of the pages on curves.")
    parser.add_argument("--into", type=Path, default=Path(__file__).parent / "figures", help="a folder")
    draw(parser.parse_args().into)
