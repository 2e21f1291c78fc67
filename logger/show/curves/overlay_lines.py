"""Every brew's line in little room: what a page carries to draw one when it is asked for."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from logger.curve import Floats

if TYPE_CHECKING:
    from logger.show.curves.overlay_curves import Curves

MOST_POINTS_IN_ALL = 150_000
LEAST_POINTS, MOST_POINTS = 300, 1_200
_TOP = 32_000
_NOTHING = -32_768  # stands for no reading


def packed(curves: Curves) -> dict[str, Any]:
    """Write all brews of one view as whole numbers of 16 bits, little end first, in base64.

    Brew ``i``'s value at ``j`` is ``offset + unit * number[i * points + j]``, at ``start_s + j * step_s``;
    -32768 stands for no reading. A step of the numbers is a 64,000th of what the view spans.
    """
    time_s, values = thinned_alike(curves)
    low, high = _span(values)
    unit = max((high - low) / (2 * _TOP), 1e-9)
    offset = (low + high) / 2
    numbers = np.where(np.isfinite(values), np.round((values - offset) / unit), _NOTHING)
    return {
        "start_s": float(time_s[0]),
        "step_s": float(time_s[1] - time_s[0]) if len(time_s) > 1 else 1.0,
        "points": len(time_s),
        "offset": offset,
        "unit": unit,
        "numbers": base64.b64encode(numbers.astype("<i2").tobytes()).decode("ascii"),
    }


def thinned_alike(curves: Curves) -> tuple[Floats, Floats]:
    """Keep as many points of each brew as all together leave room for.

    A flow's points are means, so that none of it is lost.
    """
    most = int(np.clip(MOST_POINTS_IN_ALL // max(len(curves.values), 1), LEAST_POINTS, MOST_POINTS))
    stride = max(1, round(len(curves.time_s) / most))
    if stride == 1:
        return curves.time_s, curves.values
    if curves.kind != "flow":
        return curves.time_s[::stride], curves.values[:, ::stride]
    whole = len(curves.time_s) // stride * stride
    groups = curves.values[:, :whole].reshape(len(curves.values), -1, stride)
    return curves.time_s[:whole].reshape(-1, stride).mean(axis=1), groups.mean(axis=2)


def unpacked(lines: dict[str, Any], brews: int) -> tuple[Floats, Floats]:
    """Read what :func:`packed` wrote: times, shape (t,), and values, shape (brews, t)."""
    raw = np.frombuffer(base64.b64decode(lines["numbers"]), dtype="<i2").reshape(brews, lines["points"])
    values = np.where(raw == _NOTHING, np.nan, lines["offset"] + lines["unit"] * raw.astype(np.float64))
    return lines["start_s"] + lines["step_s"] * np.arange(lines["points"]), values


def without_ends(time_s: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Leave out what lies before the first and after the last reading."""
    known = np.flatnonzero(np.isfinite(values))
    if not len(known):
        return time_s[:0], values[:0]
    return time_s[known[0] : known[-1] + 1], values[known[0] : known[-1] + 1]


def _span(values: Floats) -> tuple[float, float]:
    known = values[np.isfinite(values)]
    return (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
