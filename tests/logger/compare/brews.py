"""Brews made by hand for the tests: an analysis from a few pours, a recording from a simulation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from drivers.simulated import Conditions, read_plan, simulate
from logger.compare import Brew, compare
from logger.curve import Analysis, Event, Method, Pour
from logger.recording import Meta, Recording
from logger.target import Target, parse_target

START_S = 12.3
"""Where the first water falls on the recordings' clock."""

FOUR_POURS = """\
title   = "Four pours"
method  = "pour-over"
dose_g  = 15.0
water_c = 94.0
end     = "2:45"
[[stage]]
name     = "bloom"
start    = "0:00"
to_g     = 45.0
flow_g_s = 6.0
[[stage]]
name     = "pour 1"
start    = "0:45"
to_g     = 100.0
flow_g_s = 6.0
[[stage]]
name     = "pour 2"
start    = "1:15"
to_g     = 150.0
flow_g_s = 6.0
[[stage]]
name     = "pour 3"
start    = "1:45"
to_g     = 250.0
flow_g_s = 6.0
"""

SHOT = """\
title   = "The shot of the set"
method  = "espresso"
dose_g  = 18.0
[shot]
yield_g    = 36.0
time       = ["0:25", "0:30"]
first_drip = ["0:05", "0:08"]
"""

AS_PLANNED = ((0.0, 45.0), (45.0, 55.0), (75.0, 50.0), (105.0, 100.0))


def four_pours() -> Target:
    return parse_target(FOUR_POURS, "four-pours.toml")


def the_shot() -> Target:
    return parse_target(SHOT, "shot.toml")


def poured(*pours: Sequence[float], flow_g_s: float = 6.0) -> tuple[Pour, ...]:
    """Pours from their starts (from the first water), amounts and, if another, flows."""
    made: list[Pour] = []
    for start_s, amount_g, *own in pours:
        flow = own[0] if own else flow_g_s
        from_g = made[-1].to_g if made else 0.0
        start = START_S + start_s
        made.append(Pour(start, start + amount_g / flow, from_g, from_g + amount_g, amount_g, flow, flow))
    return tuple(made)


def analysis(
    *pours: Sequence[float],
    method: Method = "pour-over",
    lifted_s: float | None = None,
    gaps: Sequence[tuple[float, float]] = (),
    step_g: float = 0.1,
    flow_g_s: float = 6.0,
) -> Analysis:
    """An analysis of pours; times count from the first water."""
    made = poured(*pours, flow_g_s=flow_g_s)
    events = [Event("gap", START_S + since, START_S + until, 0.0) for since, until in gaps]
    if lifted_s is not None:
        events.append(Event("vessel-off", START_S + lifted_s, START_S + lifted_s + 1.0, -300.0))
    end_s = made[-1].end_s if made else None
    time_s = np.arange(0.0, (end_s or 30.0) + 30.0, 0.1)
    corners = [corner for pour in made for corner in ((pour.start_s, pour.from_g), (pour.end_s, pour.to_g))]
    weight_g = np.interp(time_s, *zip(*(corners or [(0.0, 0.0)]), strict=True))
    return Analysis(
        method=method if made else None,
        start_s=made[0].start_s if made else None,
        end_s=end_s,
        total_g=made[-1].to_g if made else 0.0,
        pours=made,
        events=tuple(events),
        time_s=time_s,
        weight_g=weight_g,
        flow_g_s=np.gradient(weight_g, time_s),
        response_s=0.0,
        noise_g=0.05,
        step_g=step_g,
    )


def recording(readings: pd.DataFrame | None = None, **meta: object) -> Recording:
    """A recording in memory."""
    columns = ["time_s", "channel", "value", "unit", "status", "device_time_s"]
    frame = pd.DataFrame(columns=columns) if readings is None else readings
    return Recording(Path("evening"), replace(Meta(complete=True), **meta), (), frame)


def simulated(target_text: str, conditions: Conditions, seed: int) -> Recording:
    """A recording of a simulated brew, its target with it."""
    brew = simulate(read_plan(target_text), seed, conditions)
    rows = [
        (each.time_s, each.channel, each.value, each.unit, each.status.value, each.device_time_s)
        for each in brew.readings
    ]
    columns = ["time_s", "channel", "value", "unit", "status", "device_time_s"]
    pump = {} if brew.truth.pump_start_s is None else {"pump": brew.truth.pump_start_s}
    return recording(pd.DataFrame(rows, columns=columns), target_text=target_text, marks=pump)


def compared(found: Analysis, target: Target) -> Brew:
    return Brew(recording(), found, compare(found, target, {}), {})
