"""The course of the flow over a pour: its edges as they were fitted, its middle as it was measured.

A window that is wide enough against the noise blurs what happens within it, and at an edge that is most of
the flow. There the mean course of all edges that are possible is taken (``posterior``); in between, the slope
of the curve with the scale's lag taken out of it.
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats, Pour
from logger.curve.certainty import Sure
from logger.curve.choice import SHARE_STEP_S, Known

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
    for number, (pour, sure) in enumerate(zip(pours, edges, strict=True)):
        # What drips on after a pour is its own until the next one begins.
        until_s = pours[number + 1].start_s if number + 1 < len(pours) else np.inf
        from_s = min(sure.start.share_from_s, pour.start_s) if sure.start.share is not None else pour.start_s
        to_s = min(max(_share_ends_s(sure.end), pour.end_s), until_s)
        first, last = np.searchsorted(grid_s, [from_s, to_s])
        if last - first < 2:
            continue
        within = slice(int(first), int(last))
        course = _course(grid_s[within], measured_g_s[within], half_s, pour, sure)
        unsure = pour.peak_flow_g_s * np.hypot(
            _spread(grid_s[within], sure.start), _spread(grid_s[within], sure.end)
        )
        flow_g_s[within] = np.maximum(flow_g_s[within], course)
        off = np.sqrt(noise_g_s**2 + unsure**2 + (BLURRED * course) ** 2)
        sd_g_s[within] = np.maximum(sd_g_s[within], off)
    return flow_g_s, sd_g_s


def _course(time: Floats, measured: Floats, half_s: float, pour: Pour, sure: Sure) -> Floats:
    begun, going = _begun(time, pour, sure.start), _going(time, pour, sure.end)
    share = begun * going
    full = np.flatnonzero(np.minimum(begun, going) > NEARLY_FULL)
    step_s = float(time[1] - time[0])
    inner = full[int(half_s / step_s) : full.size - int(half_s / step_s)]
    if inner.size < 3:
        level = np.full(time.size, pour.poured_g / max(float(share.sum()) * step_s, 1e-9))
        return np.asarray(level * share)
    level = measured.copy()
    lean = max(round(LEANS_ON_S / step_s), 2)
    level[: inner[0]] = level[inner[:lean]].mean()
    level[inner[-1] + 1 :] = level[inner[-lean:]].mean()
    course = np.maximum(level, 0.0) * share
    arrived_g = float(course.sum()) * step_s
    scale = np.clip(pour.poured_g / max(arrived_g, 1e-9), 1.0 - MOST_OFF, 1.0 + MOST_OFF)
    return np.asarray(course * scale)


def _begun(time: Floats, pour: Pour, known: Known) -> Floats:
    """How much of the flow has begun, 0 to 1."""
    if known.share is None:
        return np.asarray((time >= pour.start_s).astype(np.float64))
    return _laid(time, known, known.share, (0.0, 1.0))


def _going(time: Floats, pour: Pour, known: Known) -> Floats:
    """How much of the flow still goes on, 1 to 0."""
    if known.share is None:
        return np.asarray((time <= pour.end_s).astype(np.float64))
    return _laid(time, known, known.share, (1.0, 0.0))


def _spread(time: Floats, known: Known) -> Floats:
    """How unsure the share of the flow is that has begun, or still goes on."""
    if known.share_sd is None:
        return np.zeros(time.size)
    return _laid(time, known, known.share_sd, (0.0, 0.0))


def _laid(time: Floats, known: Known, values: Floats, beyond: tuple[float, float]) -> Floats:
    """Lay an edge's values on the grid, with what holds before and after them."""
    at = known.share_from_s + SHARE_STEP_S * np.arange(values.size)
    return np.interp(time, at, values, left=beyond[0], right=beyond[1])


def _share_ends_s(known: Known) -> float:
    return known.share_from_s + SHARE_STEP_S * known.share.size if known.share is not None else -np.inf
