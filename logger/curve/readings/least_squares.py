"""Many small linear fits at once: what a search over times and time constants needs."""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats

_TINY = 1e-10
"""Keeps columns that are alike from making a fit impossible; relative to their size."""


def least_squares(columns: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Fit many models to the same values.

    By the normal equations of columns scaled to the same size: a few columns each, thousands of times.

    :param columns: shape (..., n, k)
    :param values: shape (n,)
    :returns: squared misfits, shape (...), and the columns' coefficients, shape (..., k)
    """
    sizes = np.sqrt(np.einsum("...nk,...nk->...k", columns, columns)) + 1e-30
    scaled = columns / sizes[..., None, :]
    turned = np.swapaxes(scaled, -1, -2)
    normal = turned @ scaled + _TINY * np.eye(columns.shape[-1])
    solved = np.linalg.solve(normal, (turned @ values)[..., None])
    rest = values - (scaled @ solved)[..., 0]
    return np.vecdot(rest, rest), solved[..., 0] / sizes


def bottom(at: Floats, misfit: Floats, variance: float) -> tuple[float, float]:
    """Find where a misfit is lowest, and how sure that is.

    A parabola through the lowest and its neighbours gives the place; the standard uncertainty is half the
    width within which the misfit rises by no more than one variance (textbook: the profile of a squared
    misfit rises by one variance at one standard deviation).

    :param at: rising, shape (n,)
    :param misfit: shape (n,)
    :param variance: of one value
    """
    place = int(np.argmin(misfit))
    within = np.flatnonzero(misfit <= misfit[place] + variance)
    first, last = max(int(within[0]) - 1, 0), min(int(within[-1]) + 1, at.size - 1)
    half = 0.5 * float(at[within[-1]] - at[within[0]]) + 0.125 * float(at[last] - at[first])
    if not 0 < place < at.size - 1:
        return float(at[place]), half
    before, lowest, after = misfit[place - 1 : place + 2]
    bend = before - 2.0 * lowest + after
    shift = float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend > 0 else 0.0
    return float(at[place] + shift * 0.5 * (at[place + 1] - at[place - 1])), half
