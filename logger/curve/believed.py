"""How far the samples around an edge are believed.

No hand's ramp is a straight line, and no model of it is the truth: beside the noise of the readings the
samples are believed only to ``START_SHAPE_S`` or ``END_SHAPE_S`` of the flow. Once a kettle's stream is over
there is no hand any more, and they are believed to what single drops hide.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from logger.curve.around import Seen
from logger.curve.edges import Edge
from logger.curve.shapes import Response

START_SHAPE_S = 0.016
END_SHAPE_S, THIN_END_SHAPE_S = 0.03, 0.02
"""By how much a real ramp leaves the straight one, as the time in which the flow brings as much water."""
FITS_WELL = 4.0

DROPS_HIDE_G = 0.05
"""To what weight readings are believed while single drops may fall: one of them weighs that."""
FOOT_S, SOONEST_S = 0.3, 0.3
"""A soft ramp lasts that much longer than the straight one that fits it; from there on what it hid fades with
the scale's lag, within that at the soonest."""


def believed_at_start(seen: Seen) -> Seen:
    """Take neighbours together, and count what the ramp of a start hides to the noise."""
    kept = seen.thinned()
    return replace(kept, noise_g=float(np.hypot(kept.noise_g, _hidden_g(seen.edge, START_SHAPE_S))))


def believed_at_end(seen: Seen, response: Response) -> Seen:
    """Do the same for an end, less and less where the stream is over."""
    kept = seen.thinned()
    hidden_g = _hidden_g(seen.edge, THIN_END_SHAPE_S if seen.is_thin else END_SHAPE_S)
    noise_g = float(np.hypot(kept.noise_g, hidden_g))
    if seen.is_thin:
        return replace(kept, noise_g=noise_g)
    over_s = np.maximum(kept.time_s - seen.edge.time_s - FOOT_S, 0.0)
    fades_s = max(response.delay_s, SOONEST_S)
    left_g = np.maximum(hidden_g * np.exp(over_s / -fades_s), min(DROPS_HIDE_G, hidden_g))
    return replace(kept, noise_g=noise_g, believed=noise_g / np.hypot(kept.noise_g, left_g))


def _hidden_g(edge: Edge, shape_s: float) -> float:
    """By how much the true edge may leave the straight one; hardly where the straight one fits so well."""
    return min(shape_s * edge.flow_g_s, FITS_WELL * float(np.sqrt(edge.misfit_g2)))
