"""A spoon or a lid that is laid down a second or two after a pour: its step runs on from the stream's rise.

On a slow scale nothing stands still between the two, and no three levels of flow fit them. But what is laid
down moves the display faster than the stream did before it, after a lull, and comes to rest at once: seen
through the scale's lag it arrives within a moment, which no stream does.
"""

from __future__ import annotations

import numpy as np

from logger.curve.edges.edge import Edge
from logger.curve.pours.flow import half_for, slope_g_s
from logger.curve.pours.water_curve import Curve

FASTER, LULL = 1.6, 0.72
"""So many times the stream's flow at the least, and after it had fallen to that share of it."""
SURELY_G = 4.0
"""So many noises more it rises than the stretch does on the whole."""
LIES_S, LOOKED_BACK_S = 4.0, 3.0
"""What is laid down has come to rest within that and two delays; for so long the stream before is seen."""
AT_ONCE_S, PER_DELAY = 1.2, 0.6
"""Nobody pours for so short a time, which is known to a part of the scale's delay."""
LEAST_G, LEAST_G_S = 8.0, 8.0
"""A spoon weighs as much, and comes as fast; what is less may be the last of an espresso that was knocked."""
STREAMS, SURELY = 1.5, 4.0
"""So many times the stream's mean flow it comes with; with as many as the other, it need not be fitted to
begin after the stream's end."""


def cut_where_laid_down(curve: Curve, first: int, last: int) -> int | None:
    """Say where a stretch of flow may be cut, in the lull before what may be a step; None for nowhere.

    :param first: its first grid index, with ``last`` its last
    """
    step_s, grid_g = curve.step_s, curve.grid_g
    back, lies = round(LOOKED_BACK_S / step_s), round((LIES_S + 2.0 * curve.response.delay_s) / step_s)
    near = max(round(AT_ONCE_S / 4.0 / step_s), 1)
    if min(back, lies) <= near or last - first < back:
        return None  # or nothing is seen of a moment
    since = max(last - lies, first)
    usual_g = (grid_g.item(last) - grid_g.item(first)) * near / (last - first)
    least_g = FASTER * usual_g + SURELY_G * curve.grid_noise_g
    if (grid_g[since + near : last + 1] - grid_g[since : last + 1 - near]).max() < least_g:
        return None
    half = half_for(curve.grid_noise_g, step_s, 0.5, 0.3, 0.8)
    slope = slope_g_s(grid_g[max(since - back, first) : last + 1], half, step_s)
    late = min(lies, last - first)
    peak = slope.size - 1 - late + int(np.argmax(slope[-1 - late :]))
    low = max(peak - back, 0)
    lull = low + int(np.argmin(slope[low : peak + 1]))
    stream_g_s = float(slope[:lull].max(initial=0.0))
    if lull - half <= 0 or slope[peak] < FASTER * stream_g_s or slope[lull] > LULL * stream_g_s:
        return None
    cut = last + 1 - slope.size + lull
    if grid_g.item(last) - grid_g.item(cut) < LEAST_G:
        return None
    seen = curve.all_measured(
        float(curve.grid_s[cut]) - AT_ONCE_S, float(curve.grid_s[cut]) + 2.0 * AT_ONCE_S
    )
    return cut if first < cut < last and seen else None


def came_at_once(curve: Curve, stream: tuple[Edge, Edge], step: tuple[Edge, Edge]) -> bool:
    """Whether what came after a stream had ended, as fitted, arrived within a moment, and much faster."""
    (starts, ends), (begins, rests) = stream, step
    lasts_s, weighs_g = rests.time_s - begins.time_s, rests.level_g - begins.level_g
    longest_s = AT_ONCE_S + PER_DELAY * curve.response.delay_s
    if lasts_s > longest_s or weighs_g < max(LEAST_G, LEAST_G_S * lasts_s):
        return False
    came_g_s = (ends.level_g - starts.level_g) / max(ends.time_s - starts.time_s, curve.step_s)
    times = STREAMS if ends.time_s < begins.time_s else SURELY
    return weighs_g > times * came_g_s * lasts_s
