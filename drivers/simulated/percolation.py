"""Water through a bed of coffee: what the grounds soak up, what stands above them, what drips below.

The free water drains after Darcy's law with a falling head. In a bed of steady section the flow is in
proportion to the head, so ``dm/dt = inflow - soaking - m / tau``, with m the free water and
``tau = depth of the bed / hydraulic conductivity``. Dry grounds soak first, and let nothing through until
they are wet. Fines are carried down while water is poured, so tau rises with the water that has been poured
and stays as it is from one pour to the next.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.simulated.conditions import Range
from drivers.simulated.hand import landed

Floats = NDArray[np.float64]

_GRID_HZ = 50.0  # a bed changes slowly
_FIRST_DRIP_G = 0.02
_DRY_BELOW = 0.5  # of what the grounds can hold: until then nothing comes through; first drips as in practice
_CONDUCTS = 3  # a half-wet bed lets far less than half through, from memory (Brooks and Corey's power law)


@dataclass(frozen=True, slots=True)
class Percolation:
    """A bed of coffee; a pair is a range from which one value is drawn for each brew.

    :param tau_s: in which the head falls to 37 % when the first pour has settled
    :param clog: by how much tau has risen when all water is in, relative
    :param absorbs: water that the grounds hold, g for each g of dose (common practice: about 2)
    :param soak_s: how fast dry grounds take up the water around them
    :param drop_g: mass of one drop below the bed; a thin stream lands drop by drop
    """

    tau_s: Range = (12.0, 24.0)
    clog: Range = (0.0, 0.5)
    absorbs: Range = (1.8, 2.2)
    soak_s: Range = (0.8, 2.0)
    drop_g: float = 0.08


@dataclass(frozen=True, slots=True)
class TrueBed:
    """The bed as it was.

    :param time_s: even grid, that of the truth; shape (n,)
    :param free_g: water above what the grounds hold; shape (n,)
    :param absorbed_g: water in the grounds; shape (n,)
    :param beverage_g: what has landed in the server; shape (n,)
    :param taus_s: of the stretch after each pour, in order
    :param absorbs_g: all that the grounds can hold
    :param first_drip_s: when the first drop landed, None where none did
    :param stops_s: when the dripper was taken away, or None
    """

    time_s: Floats
    free_g: Floats
    absorbed_g: Floats
    beverage_g: Floats
    taus_s: tuple[float, ...]
    absorbs_g: float
    first_drip_s: float | None
    stops_s: float | None

    @property
    def held_g(self) -> Floats:
        """Water in the bed and above it; shape (n,)."""
        return self.free_g + self.absorbed_g


def percolate(
    time_s: Floats,
    poured_g: Floats,
    ends_s: tuple[float, ...],
    dose_g: float,
    percolation: Percolation,
    stops_s: float | None,
    rng: np.random.Generator,
) -> TrueBed:
    """Let water through a bed.

    :param time_s: even grid; shape (n,)
    :param poured_g: water poured, cumulative; shape (n,)
    :param ends_s: of each pour
    :param stops_s: when the dripper is taken away, or None
    """
    first_tau_s, clog = rng.uniform(*percolation.tau_s), rng.uniform(*percolation.clog)
    absorbs_g, soak_s = dose_g * rng.uniform(*percolation.absorbs), rng.uniform(*percolation.soak_s)
    coarse_s: Floats = np.arange(time_s[0], time_s[-1] + 1.0 / _GRID_HZ, 1.0 / _GRID_HZ)
    coarse_g = np.interp(coarse_s, time_s, poured_g)
    first_g, all_g = float(np.interp(ends_s[0], time_s, poured_g)), float(poured_g[-1])

    def tau_at(water_g: Floats) -> Floats:
        share = np.clip((water_g - first_g) / max(all_g - first_g, 1e-9), 0.0, 1.0)
        return np.asarray(first_tau_s * (1.0 + clog * share))

    taus_s = np.where(coarse_s < (np.inf if stops_s is None else stops_s), tau_at(coarse_g), np.inf)
    free_g, absorbed_g, through_g = _drained(coarse_g, taus_s, absorbs_g, soak_s)
    smooth_g = np.interp(time_s, coarse_s, through_g)
    flow_g_s = np.gradient(smooth_g, time_s)
    begins = [max(int(np.searchsorted(smooth_g, 1e-6)), 1)]
    beverage_g = landed(flow_g_s, smooth_g, percolation.drop_g, begins)
    dripped = np.flatnonzero(beverage_g > _FIRST_DRIP_G)
    return TrueBed(
        time_s,
        np.interp(time_s, coarse_s, free_g) + smooth_g - beverage_g,
        np.interp(time_s, coarse_s, absorbed_g),
        beverage_g,
        tuple(tau_at(np.interp(np.array(ends_s) + 1.0, time_s, poured_g)).tolist()),
        float(absorbs_g),
        float(time_s[dripped[0]]) if dripped.size else None,
        stops_s,
    )


def _drained(
    poured_g: Floats, taus_s: Floats, absorbs_g: float, soak_s: float
) -> tuple[Floats, Floats, Floats]:
    """Free water, water in the grounds and water that came through, on an even grid.

    Each interval drains exactly, with what holds at its beginning.
    """
    step_s = 1.0 / _GRID_HZ
    inflows = np.diff(poured_g, prepend=poured_g[0]).tolist()
    drains = (-np.expm1(-step_s / taus_s)).tolist()
    free, soaked, through = np.zeros_like(poured_g), np.zeros_like(poured_g), np.zeros_like(poured_g)
    free_g = soaked_g = through_g = 0.0
    for index, (inflow_g, drains_share) in enumerate(zip(inflows, drains, strict=True)):
        free_g += inflow_g
        wet = soaked_g / absorbs_g
        soaks_g = free_g * (1.0 - wet) * -math.expm1(-step_s / soak_s)
        open_share = max((wet - _DRY_BELOW) / (1.0 - _DRY_BELOW), 0.0) ** _CONDUCTS
        drips_g = (free_g - soaks_g) * drains_share * open_share
        free_g, soaked_g, through_g = free_g - soaks_g - drips_g, soaked_g + soaks_g, through_g + drips_g
        free[index], soaked[index], through[index] = free_g, soaked_g, through_g
    return free, soaked, through
