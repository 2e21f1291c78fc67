"""The course of the flow over a pour: its edges as they were fitted, its middle as it was measured.

A window that is wide enough against the noise blurs what happens within it, and at an edge that is most of
the flow. There the mean course of all edges that are possible is taken (``posterior``); in between, the slope
of the curve with the scale's lag taken out of it.
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats, Pour
from logger.curve.pours.certainty import Sure

NEARLY_FULL = 0.95
LEANS_ON_S = 1.0
MOST_OFF = 0.15
BLURRED = 0.03
"""Share of the flow by which a hand wavers faster than the window follows."""


def flow_courses(
    grid_s: Floats,
    measured_g_s: Floats,
    noise_g_s: float,
    half_s: float,
    pours: tuple[Pour, ...],
    edges: tuple[Sure, ...],
) -> tuple[Floats, Floats]:
    """Give the flow on the grid, g/s, and its standard deviation: none outside pours; shape (m,) each.

    In the middle of a pour the deviation is the readings' noise, at an edge that of when and how it was.

    :param grid_s: even times, shape (m,)
    :param measured_g_s: the slope of the curve there, shape (m,)
    :param noise_g_s: its standard deviation
    :param half_s: half the width of the window that it was taken over
    """
    flow_g_s, sd_g_s = np.zeros(grid_s.size), np.zeros(grid_s.size)
    step_s = float(grid_s[1] - grid_s[0]) if grid_s.size > 1 else 1.0
    for number, (pour, sure) in enumerate(zip(pours, edges, strict=True)):
        # What drips on after a pour is its own until the next one begins.
        until_s = pours[number + 1].start_s if number + 1 < len(pours) else np.inf
        start, end = sure.start.share, sure.end.share
        from_s = min(start.from_s, pour.start_s) if start else pour.start_s
        to_s = min(max(end.to_s, pour.end_s) if end else pour.end_s, until_s)
        first, last = grid_s.searchsorted([from_s, to_s]).tolist()
        if last - first < 2:
            continue
        within = slice(first, last)
        begun, going, share_sd = _shares(grid_s[within], pour, sure)
        course = _course(measured_g_s[within], step_s, half_s, pour.poured_g, begun, going)
        flow_g_s[within] = np.maximum(flow_g_s[within], course)
        unsure = pour.peak_flow_g_s * share_sd
        off = np.sqrt(noise_g_s**2 + unsure**2 + (BLURRED * course) ** 2)
        sd_g_s[within] = np.maximum(sd_g_s[within], off)
    return flow_g_s, sd_g_s


def _course(
    measured_g_s: Floats, step_s: float, half_s: float, poured_g: float, begun: Floats, going: Floats
) -> Floats:
    """The flow of one pour: measured where all of it runs, and what is beside that where it begins and ends.

    :param begun: how much of the flow has begun, shape (m,), with ``going`` how much still goes on
    """
    share = begun * going
    full = (np.minimum(begun, going) > NEARLY_FULL).nonzero()[0]
    half = int(half_s / step_s)
    inner = full[half : full.size - half]
    if inner.size < 3:
        return np.asarray(poured_g / max(float(share.sum()) * step_s, 1e-9) * share)
    level = measured_g_s.copy()
    lean = max(round(LEANS_ON_S / step_s), 2)
    lean = min(lean, inner.size)
    level[: inner[0]] = level[inner[:lean]].sum() / lean
    level[inner[-1] + 1 :] = level[inner[-lean:]].sum() / lean
    course = np.maximum(level, 0.0) * share
    arrived_g = float(course.sum()) * step_s
    return np.asarray(course * min(max(poured_g / max(arrived_g, 1e-9), 1.0 - MOST_OFF), 1.0 + MOST_OFF))


def _shares(time: Floats, pour: Pour, sure: Sure) -> tuple[Floats, Floats, Floats]:
    """How much of the flow has begun, how much of it still goes on, and how unsure both are."""
    known = np.zeros(time.size)
    start, end = sure.start.share, sure.end.share
    begun, begun_sd = start.on(time) if start else ((time >= pour.start_s).astype(np.float64), known)
    going, going_sd = end.on(time) if end else ((time <= pour.end_s).astype(np.float64), known)
    return begun, going, np.hypot(begun_sd, going_sd)
