"""How far the samples around an edge are believed.

Before the first water there is nothing on the pan: the samples before each start that is tried are believed
to what a resting scale shows. After it no hand's ramp is a straight line, and no model of it is the truth:
beside the noise of the readings they are believed only to ``SHAPE_S`` of the flow, and to less of that while
less of the ramp can be seen. Once a kettle's stream is over there is no hand any more, and they are believed
to what single drops hide.

Nothing tips an espresso: it drips, gathers and runs as it comes, and the ramp that fits all of it need not
fit its first second. The samples after its first drop are believed less and less.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.around import Around, Seen
from logger.curve.edges.edge import Edge
from logger.curve.edges.shapes import Response
from logger.curve.readings.median import median

SHAPE_S, THIN_END_SHAPE_S = 0.03, 0.02
"""By how much a real ramp leaves the straight one, as the time in which the flow brings as much water."""
FITS_WELL = 4.0
TIPS_S = 0.5
"""A hand has tipped its kettle within about that; the scale's lag later all of it can be seen."""

DROPS_HIDE_G = 0.065
"""To what weight readings are believed while single drops may fall: one of them weighs 0.03 to 0.1 g."""
FOOT_S, SOONEST_S = 0.3, 0.3
"""A soft ramp lasts that much longer than the straight one that fits it; from there on what it hid fades with
the scale's lag, within that at the soonest."""


SAME_G = 1e-6
"""No two steps of a display lie that close; sums of the same readings do."""

STRAYS = 0.06
"""By how much of its full flow a thin stream may stray from any ramp, all along: so much times the time since
its first drop may be on the scale, or not."""
RESTS_G = 0.04
"""A resting scale creeps, dries and follows its zero by that within seconds."""
FEWEST_TELL = 6


def believed_at_start(seen: Seen, response: Response) -> Seen:
    """Take neighbours together; say how far they may stray once it has begun, and from nothing until then."""
    kept = seen.thinned()
    if seen.all_thin:
        noise_g = max(_resting_g(kept), RESTS_G, kept.noise_g)
        strays_g_s = STRAYS * seen.edge.flow_g_s
        return replace(kept, noise_g=noise_g, running_g=_running_g(kept), strays_g_s=strays_g_s)
    hidden_g = _hidden_g(seen.edge, SHAPE_S)
    rests_g = min(max(_resting_g(kept), RESTS_G), hidden_g)
    noise_g = float(np.hypot(kept.noise_g, rests_g))
    strays_g_s = hidden_g / (TIPS_S + response.delay_s)
    return replace(kept, noise_g=noise_g, strays_g_s=strays_g_s, strays_g=hidden_g)


def believed_at_end(seen: Seen, response: Response) -> Seen:
    """Do the same for an end, less and less where the stream is over."""
    kept = seen.thinned()
    hidden_g = _hidden_g(seen.edge, THIN_END_SHAPE_S if seen.is_thin else SHAPE_S)
    noise_g = float(np.hypot(kept.noise_g, hidden_g))
    if seen.is_thin:
        if seen.is_fresh or not seen.from_bed:
            return replace(kept, noise_g=noise_g)
        unsure_g = np.sqrt(noise_g**2 + _repeated_g2(kept, seen.noise_g))
    else:
        over_s = np.maximum(kept.time_s - seen.edge.time_s - FOOT_S, 0.0)
        fades_s = max(response.delay_s, SOONEST_S)
        left_g = np.maximum(hidden_g * np.exp(over_s / -fades_s), min(DROPS_HIDE_G, hidden_g))
        unsure_g = np.sqrt(kept.noise_g**2 + left_g**2 + _repeated_g2(kept, seen.noise_g))
    return replace(kept, noise_g=noise_g, believed=noise_g / unsure_g)


def once_begun(around: Around, since_s: Floats) -> Around:
    """Believe the samples after each start that is tried only as far as its stream may stray from any ramp.

    :param since_s: time since each of them, shape (e, c, n)
    """
    noise_g, running_g, strays_g_s, strays_g = (
        of_edge[:, None, None]
        for of_edge in (around.noise_g, around.running_g, around.strays_g_s, around.strays_g)
    )
    rough_g2 = np.maximum(running_g**2 - noise_g**2, 0.0)
    after_g = np.minimum(np.maximum(strays_g_s * since_s, 0.0), strays_g)
    more_g2 = np.where(since_s > 0.0, rough_g2, 0.0) + after_g**2
    return replace(around, believed=around.believed / np.sqrt(1.0 + more_g2 / noise_g**2))


def _resting_g(seen: Seen) -> float:
    """By how much the scale errs before the start: a pump shakes it, a hand leans, it settles, it creeps."""
    before = seen.weight_g[seen.time_s < seen.edge.time_s]
    return 1.4826 * median(np.abs(before - median(before))) if before.size >= FEWEST_TELL else 0.0


def _running_g(seen: Seen) -> float:
    """By how much it errs after it, where drops strike the pan: second differences tell (see ``noise``)."""
    after = seen.weight_g[seen.time_s > seen.edge.time_s]
    rough_g = float(np.sqrt(np.mean(np.diff(after, n=2) ** 2) / 6.0)) if after.size >= FEWEST_TELL else 0.0
    return max(rough_g, seen.noise_g)


def _repeated_g2(kept: Seen, noise_g: float) -> Floats:
    """What the readings of a display that stands still at the end have in common, squared.

    A quiet one repeats one rounded value, and that many times it says no more than once (GUM, JCGM 100:2008,
    F.2.2.1): an espresso may fade away within one step of a coarse one, and so may what a slow scale still
    owes of a kettle's stream.

    :param noise_g: of one reading, its rounding included
    """
    same = np.abs(kept.weight_g - kept.weight_g[-1]) < SAME_G
    first = 0 if same.all() else same.size - int(same[::-1].argmin())
    common_g2 = np.zeros(same.size)
    common_g2[first:] = (same.size - first - 1) * noise_g**2
    return common_g2


def _hidden_g(edge: Edge, shape_s: float) -> float:
    """By how much the true edge may leave the straight one; hardly where the straight one fits so well."""
    return min(shape_s * edge.flow_g_s, FITS_WELL * float(np.sqrt(edge.misfit_g2)))
