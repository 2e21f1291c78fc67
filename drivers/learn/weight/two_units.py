"""A weight in grams beside the same in ounces, neither worked out from the other: which is shown."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit
from drivers.learn.weight.copies import METRIC, agree
from drivers.learn.weight.same_packets import are_rounded_apart
from drivers.learn.weight.shown import COARSEST_SHOWN

COARSER_THAN_TENTHS = 0.12
"""Steps, g, from which on one is a division that a display was given: a half, a whole gram."""

_HALF = 0.5
"""Share of the packets of one kind that another must have to be as good."""

_OR_BELOW = 0.85
"""Share of the packets in which a number is in place whose sign has not been looked for."""


def grams_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put grams first that are coarser than ounces, where neither is worked out from the other.

    Ounces come in hundredths or thousandths whatever the division of the display is, and tell more of the
    load than that does; half or whole grams are that division. Of tenths, either may be shown.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    grams = [one for one in prompt if are_grams_beside_ounces(one, best) and agree(best, one)]
    first = min(grams, key=lambda one: one.step, default=best)
    if not first.step > max(best.step, COARSER_THAN_TENTHS):
        return list(prompt)
    return [first, *(one for one in prompt if one is not first)]


def are_ounces_beside_division(each: Fit, one: Fit) -> bool:
    """Say whether a number in ounces stands beside one in grams whose step is a division of a display."""
    if each.scale is None or one.scale is None or one.step <= COARSER_THAN_TENTHS:
        return False
    return one.scale.unit in METRIC and each.scale.unit not in METRIC


def are_grams_beside_ounces(each: Fit, one: Fit) -> bool:
    """Say whether a device sends grams where ounces have been chosen, and works neither out from the other.

    Finer ounces tell more of the load, but where grams are sent, those are what is shown more often than not.
    """
    if each.scale is None or one.scale is None or one.scale.unit in METRIC or each.scale.unit not in METRIC:
        return False
    if each.zero_kind not in KNOWN_ZEROS or not 0.0 < each.step <= COARSEST_SHOWN or each.inside < _OR_BELOW:
        return False
    if each.kind.stream != one.kind.stream:
        return len(each.kind.frames) > _HALF * len(one.kind.frames)
    return are_rounded_apart(each, one)
