"""A display that was switched to another unit in mid-brew: the same load, shown as another number.

Drivers convert what a scale says with its unit; where a line or a file gives numbers alone, a switch shows as
a jump by the ratio of two units, from one reading to the next and without the scale's lag. Ratios: the
avoirdupois ounce and pound are 28.349523125 g and 453.59237 g (NIST Special Publication 811, appendix B.8).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from logger.curve.brew import Event, Floats
from logger.curve.readings.timebase import Samples

GRAMS_IN = (1.0, 28.349523125, 453.59237, 1000.0)
"""Of a unit that a scale may be switched to."""

LEAST_LOAD_G = 20.0
"""With less on the pan the jump is one that anything makes."""
LEAST_JUMP_G = 15.0
FASTEST_G_S = 25.0
ALLOWED_G = 1.0
GOES_ON_S = 1.0
"""For so long the readings after a switch go on where those before left off. A number that a tare leaves near
zero is a load in some unit, too; what it does next, in that unit, is nothing that water does."""


def in_one_unit(samples: Samples) -> tuple[Samples, tuple[Event, ...]]:
    """Give all readings in the unit of the first, and an event for each switch.

    An event's ``change_g`` is by how much the number on the display jumped.
    """
    weight, time = samples.weight_g, samples.time_s
    changed_g = np.abs(weight[1:] - weight[:-1])
    jumps = (changed_g > LEAST_JUMP_G).nonzero()[0]
    if not jumps.size:
        return samples, ()
    factors, events, factor = np.ones(weight.size), [], 1.0
    for at in jumps[(jumps >= 1) & (jumps < weight.size - 3)].tolist():
        found = _switched(time, weight, at, factor)
        if found is not None:
            factor = found
            factors[at + 1 :] = factor
            events.append(
                Event("unit", float(time[at]), float(time[at + 1]), float(weight[at + 1] - weight[at]))
            )
    if not events:
        return samples, ()
    return replace(samples, weight_g=weight * factors), tuple(events)


def _switched(time: Floats, weight: Floats, at: int, factor: float) -> float | None:
    """By what the readings after a jump must be multiplied if it is a switch, else None."""
    (last_g, now_g), (last_s, now_s) = weight[at - 1 : at + 1].tolist(), time[at - 1 : at + 1].tolist()
    before_g = now_g * factor
    still = abs(now_g - last_g) * factor < ALLOWED_G + FASTEST_G_S * (now_s - last_s)
    if before_g < LEAST_LOAD_G or not still:
        return None
    after = list(zip(time[at + 1 : at + 4].tolist(), weight[at + 1 : at + 4].tolist(), strict=True))
    for other in GRAMS_IN:
        if other == factor or not _shows(after, now_s, before_g, other):
            continue
        if _goes_on(time, weight, at, before_g, other):
            return other
    return None


def _shows(after: Sequence[tuple[float, float]], now_s: float, before_g: float, other: float) -> bool:
    """Whether the readings right after a jump show the load before it in another unit."""
    for at_s, shown in after:
        unsure_g = min(_unsure_g(other) + FASTEST_G_S * (at_s - now_s), 0.1 * before_g)
        if abs(shown * other - before_g) >= unsure_g:
            return False
    return True


def _goes_on(time: Floats, weight: Floats, at: int, before_g: float, other: float) -> bool:
    """Whether in another unit the readings go on as a load does: none leaves, water at the most arrives.

    No scale shows whole ounces: a coarse one that a tare leaves at 1 g is not one that now shows 28 g.
    """
    later = slice(at + 1, int(time.searchsorted(time[at + 1] + GOES_ON_S, side="right")))
    if other > 1.0 and np.all(weight[later] % 1.0 == 0.0):
        return False
    gained_g, allowed_g = weight[later] * other - before_g, _unsure_g(other)
    most_g = allowed_g + FASTEST_G_S * (time[later] - time[at])
    return bool(np.all((gained_g > -allowed_g) & (gained_g < most_g)))


def _unsure_g(unit_g: float) -> float:
    """How well a load is known in a unit: displays show two decimals of it, or more."""
    return ALLOWED_G + 0.006 * unit_g
