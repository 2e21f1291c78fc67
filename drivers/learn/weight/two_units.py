"""A weight in grams beside the same in ounces, neither worked out from the other: which is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence

from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit
from drivers.learn.weight.copies import ENOUGH_INSIDE, METRIC, agree, are_metric_and_not
from drivers.learn.weight.protected import comes_as_often, is_protected_alone
from drivers.learn.weight.ranked import put_first
from drivers.learn.weight.same_packets import are_rounded_apart
from drivers.learn.weight.shown import COARSEST_SHOWN

COARSER_THAN_TENTHS = 0.12
"""Steps, g, from which on one is a division that a display was given: a half, a whole gram."""

_FINEST_OUNCES = 0.01
"""A step, g, between thousandths of an ounce and ten thousandths: in those, ounces are no other unit."""

_ROUNDED = 1e-3
"""By how much a leading digit that a computer has worked out may be off."""


def grams_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put grams of a display first, where ounces are the best and neither is worked out from the other.

    Twos and fives are a division that a display has been given, and so are steps of several counts: ounces
    come in hundredths whatever that is. Beside whole grams in single counts they are read, and are right to a
    gram. Thousandths tell far more, and may be what is shown, as may grams in tenths; what sends both ounces
    and pounds may show either of those, and finer ounces than thousandths are no other unit of what is shown.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    if any(_is_in_another_unit(one, best) and agree(best, one) for one in prompt):
        return list(prompt)
    divided = [one for one in prompt if are_divided_beside_grams(one, best) and agree(best, one)]
    if divided:
        return put_first(divided[0], prompt)
    grams = [
        one for one in prompt
        if one.kind.stream == best.kind.stream and are_grams_beside_ounces(one, best) and agree(best, one)
    ]  # fmt: skip
    first = min(grams, key=lambda one: one.step, default=best)
    if first is best or best.step < _FINEST_OUNCES or not are_ounces_beside_division(best, first):
        return list(prompt)
    return put_first(first, prompt)


def _is_in_another_unit(each: Fit, one: Fit) -> bool:
    """Say whether one of two numbers is in ounces and the other in pounds."""
    if each.scale is None or one.scale is None:
        return False
    return not {each.scale.unit, one.scale.unit} & {*METRIC} and each.scale.unit != one.scale.unit


def are_ounces_beside_division(each: Fit, one: Fit) -> bool:
    """Say whether a number in ounces stands beside grams whose step is the division of a display.

    Grams in twos and fives are, and coarser ones in several counts; in single counts they are rounded.
    """
    is_division = _is_in_twos_or_fives(one) or (one.grid > 1.0 and one.step > each.step > COARSER_THAN_TENTHS)
    return is_division and are_metric_and_not(one, each) and not are_divided_beside_grams(each, one)


def are_divided_beside_grams(each: Fit, one: Fit) -> bool:
    """Say whether a number is in ounces of a division, and another one of its packets in coarser plain grams.

    A display is given one division, and is rounded to that; what is sent besides goes in plain steps.
    """
    if not _are_divided(each, one) or not 0.0 < each.step < one.step or each.inside < ENOUGH_INSIDE:
        return False
    return each.zero_kind in KNOWN_ZEROS and are_rounded_apart(each, one)


def _are_divided(ounces: Fit, grams: Fit) -> bool:
    """Say whether ounces go in twos or fives where grams do not."""
    are_both = are_metric_and_not(grams, ounces)
    return are_both and _is_in_twos_or_fives(ounces) and not _is_in_twos_or_fives(grams)


def _is_in_twos_or_fives(one: Fit) -> bool:
    """Say whether a number goes in steps of 2 or 5, 0.2, 0.5 ... of its unit."""
    step = one.grid * float(one.scale.scale) if one.scale is not None else one.step
    leading = step / 10.0 ** math.floor(math.log10(step) + _ROUNDED) if step > 0.0 else 1.0
    return any(abs(leading - some) < _ROUNDED for some in (2.0, 5.0))


def are_grams_beside_ounces(each: Fit, one: Fit) -> bool:
    """Say whether a device sends grams where ounces have been chosen, and works neither out from the other.

    Finer ounces tell more of the load, but where grams are sent, those are what is shown more often than not;
    on another characteristic, where they come about as often.
    """
    if not are_metric_and_not(each, one):
        return False
    if (
        each.zero_kind not in KNOWN_ZEROS
        or not 0.0 < each.step <= COARSEST_SHOWN
        or each.inside < ENOUGH_INSIDE
    ):
        return False
    if each.kind.stream != one.kind.stream:
        return comes_as_often(each, one) and not is_protected_alone(one, each)
    return are_rounded_apart(each, one)


def may_be_shown_in_grams(each: Fit, one: Fit) -> bool:
    """Say whether a display in grams would show something else than what is read in ounces.

    Ounces in finer steps are right to a step of that as well.
    """
    if not are_grams_beside_ounces(each, one) or are_divided_beside_grams(one, each):
        return False
    return not 0.0 < one.step < each.step
