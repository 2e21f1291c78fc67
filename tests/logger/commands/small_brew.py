"""A brew of twenty seconds as a scale at ten readings a second shows it, and the truth about it.

Water arrives in trapezoids of flow; the load cell follows with a first-order lag; the display shows 0.1 g.
"""

from __future__ import annotations

from dataclasses import dataclass

RATE_HZ = 10.0
RAMP_S = 0.4
LAG_S = 0.2
STEP_G = 0.1
VESSEL_G = 380.0


@dataclass(frozen=True)
class Poured:
    """One pour as it was poured; times from the first reading."""

    start_s: float
    lasts_s: float
    grams: float

    @property
    def end_s(self) -> float:
        return self.start_s + self.lasts_s

    def flow_g_s(self, time_s: float) -> float:
        """Flow: up within the ramp, even, down within the ramp."""
        since_s, left_s = time_s - self.start_s, self.end_s - time_s
        even_g_s = self.grams / (self.lasts_s - RAMP_S)
        return even_g_s * min(max(min(since_s, left_s) / RAMP_S, 0.0), 1.0)


POURS = (Poured(2.5, 4.0, 20.0), Poured(9.5, 5.4, 40.0))
LIFTED_S = 17.0

TARGET = """\
title  = "Two small pours"
method = "pour-over"
dose_g = 4.0
water_c = 93.0
[[stage]]
name     = "bloom"
start    = "0:00"
to_g     = 20.0
flow_g_s = 5.0
[[stage]]
name  = "pour 1"
start = "0:06"
to_g  = 60.0
"""


def shown_g(until_s: float, lifted_s: float | None = LIFTED_S) -> list[float]:
    """What the scale shows, a reading each tenth of a second."""
    step_s, on_pan_g, display_g, shown = 0.001, 0.0, 0.0, []
    for tick in range(round(until_s / step_s)):
        time_s = tick * step_s
        if tick % round(1 / RATE_HZ / step_s) == 0:
            shown.append(round(round(display_g / STEP_G) * STEP_G, 1))
        on_pan_g += sum(pour.flow_g_s(time_s) for pour in POURS) * step_s
        load_g = on_pan_g if lifted_s is None or time_s < lifted_s else -VESSEL_G
        display_g += (load_g - display_g) * step_s / LAG_S
    return shown
