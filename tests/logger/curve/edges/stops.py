"""Espressos that stop as somebody says, seen through a scale by scipy."""

from __future__ import annotations

import numpy as np
from scipy import signal

from logger.curve.edges.around import Seen
from logger.curve.edges.edge import fit_edge
from logger.curve.edges.shapes import FALL_S, Response
from tests.benchmarks.curve_suite import Floats

FINE_S, TIME_S = np.arange(0.0, 20.0, 0.002), np.arange(4.0, 18.0, 0.1)
STOPS_S, FLOW_G_S, NOISE_G = 10.03, 2.0, 0.03
AFTER_S = np.maximum(FINE_S - STOPS_S, 0.0)


def fades(fade_s: float) -> Floats:
    """From all that it was."""
    return np.asarray(FLOW_G_S * np.exp(AFTER_S / -fade_s))


def relieved(share: float, falls_s: float, fade_s: float) -> Floats:
    """Fall evenly to a share of what it was, and fade from there."""
    falls = 1.0 - (1.0 - share) * np.minimum(AFTER_S / falls_s, 1.0)
    return np.asarray(FLOW_G_S * falls * np.exp(np.maximum(AFTER_S - falls_s, 0.0) / -fade_s))


def seen_through(
    flow_g_s: Floats, response: Response, seed: int, drips_g_s: float = 0.0, noise_g: float = NOISE_G
) -> Seen:
    """Send a flow through a scale's lag (by scipy) and its noise, and fit its end."""
    pan_g = np.cumsum(flow_g_s) * 0.002 + drips_g_s * AFTER_S + FALL_S * flow_g_s
    below = np.polynomial.polynomial.polypow([1.0, response.stage_s], response.order)[::-1]
    shown_g = signal.lsim(signal.TransferFunction([1.0], below), pan_g, FINE_S)[1]
    weight_g = np.interp(TIME_S, FINE_S, shown_g)
    weight_g += np.random.default_rng(seed).normal(0.0, noise_g, TIME_S.size)
    candidates_s = np.arange(STOPS_S - 2.0, STOPS_S + 3.0, 0.1)
    edge = fit_edge(TIME_S, weight_g, candidates_s, response, is_start=False)
    return Seen(TIME_S, weight_g, edge, noise_g, from_bed=True)
