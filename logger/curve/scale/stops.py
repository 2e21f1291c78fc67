"""The scale's lag where nothing was moved and no kettle poured: told by how the pump of an espresso stops.

What fades after the stop may be the stream or the scale: through one stage the two change places and are
shown alike. But nothing that is shown fades faster than the lag lets it. So the readings say how long the lag
is at the most, and how scales differ says the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from logger.curve.edges.around import Seen
from logger.curve.edges.believed import believed_at_end
from logger.curve.edges.pump_stops import Stops, evidence_of_lags
from logger.curve.edges.shapes import Response
from logger.curve.scale.lag import Lags, ToldLag

LAGS = Lags.about(0.12, 1.0, tuple(Response(stage_s) for stage_s in np.geomspace(0.03, 1.0, 8).tolist()))
"""From a quick filter to a slow one, 0.2 s in the mean, before anything is seen of them. Two stages, tried
beside them, left four generators' ends no nearer, by 0.003 s in the mean at the most."""
_STOPS = Stops(
    step_s=0.2,
    back=14,
    ahead=0,
    falls_s=tuple(np.geomspace(0.15, 1.7, 6).tolist()),
    closes_s=(0.4,),
    drains_s=(1.0,),
    drips_g_s=(0.0,),
)
_COARSE_S = 0.03
"""Stops that lie so far apart leave that much of the flow besides, whatever the lag."""


def lag_by_stops(seen: Sequence[Seen]) -> ToldLag | None:
    """Weigh lags by how well an espresso's ends fit with each, however they fade.

    :param seen: the ends
    :returns: None where there is none
    """
    if not seen:
        return None
    return LAGS.told(sum(evidence_of_lags(_believed(each), _STOPS, LAGS.responses) for each in seen))


def _believed(seen: Seen) -> Seen:
    noise_g = float(np.hypot(seen.noise_g, _COARSE_S * seen.edge.flow_g_s))
    return believed_at_end(replace(seen, noise_g=noise_g), LAGS.responses[0])
