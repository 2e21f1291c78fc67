"""What was measured of a pour besides what the target asks of it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from logger.compare.comparison import Brew, Quantity, StageResult
from logger.compare.measuring import CUT_OFF_S
from logger.curve import Analysis

END_FLOW_S = 1.0
"""So much of a pour, before it stops, tells the flow at its end."""


def besides(result: StageResult, analysis: Analysis) -> Iterator[tuple[Quantity, float]]:
    """Name and value of each figure of a stage whose pours are known; none where the readings end in them."""
    pours = result.pours
    if not analysis.time_s.size or analysis.time_s[-1] < pours[-1].end_s + CUT_OFF_S:
        return
    poured_g = sum(pour.poured_g for pour in pours)
    running_s = sum(pour.end_s - pour.start_s for pour in pours)
    yield "poured_g", poured_g
    yield "end_s", pours[-1].end_s - analysis.pours[0].start_s
    if running_s > 0:
        yield "flow_g_s", poured_g / running_s


def end_flow_g_s(brew: Brew, stage: int) -> float:
    """The flow in the last second of a stage: what turns grams too many into seconds too long.

    :param stage: its place in the target
    :return: NaN where the stage is not one of its own, or nothing was running
    """
    comparison = brew.comparison
    if comparison is None or comparison.stages[stage].finding not in ("matched", "split"):
        return math.nan
    pour, analysis = comparison.stages[stage].pours[-1], brew.analysis
    since_s = max(pour.start_s, pour.end_s - END_FLOW_S)
    last = (analysis.time_s >= since_s) & (analysis.time_s <= pour.end_s)
    flow_g_s = float(analysis.flow_g_s[last].mean()) if last.any() else pour.mean_flow_g_s
    if not flow_g_s > 0:
        flow_g_s = pour.mean_flow_g_s
    return flow_g_s if flow_g_s > 0 else math.nan
