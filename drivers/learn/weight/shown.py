"""Bare counts and what is shown: a number in round steps, nought on an empty pan, is worked out from them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit
from drivers.learn.weight.copies import METRIC, agree
from drivers.learn.weight.laggards import SOON_S

COARSEST_SHOWN = 1.0
"""The coarsest step of a display that follows a converter, g or °C."""

_FINELY = 0.6
"""The coarsest step of one that is read rather than what it is worked out from, g or °C."""

_MOSTLY = 0.93
"""Share of the packets in which such a number is in place."""

_NOISES, _SELDOM = 2.0, 0.05
"""Standard deviations of one packet by which a display may differ; share of packets that differ more."""


def shown_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put what is shown first, before bare counts that it follows: those know nothing of a tare.

    What only rounds them says the same, and either may be read.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    first = [
        one for one in prompt
        if best.is_bare and is_round_copy(one, best) and _is_usual(one)
        and not is_rounded_only(one, best) and agree(best, one)
    ][:1]  # fmt: skip
    return [*first, *(one for one in prompt if one not in first)]


def _is_usual(one: Fit) -> bool:
    """Say whether a display shows such steps as a rule; where ounces stand beside counts, either may be."""
    return one.scale is not None and one.scale.unit in METRIC and one.step <= _FINELY


def is_round_copy(each: Fit, one: Fit) -> bool:
    """Say whether a number in round steps, nought at nought, follows bare counts as a display does.

    What is shown on another characteristic than the counts of a converter may lag far behind those.
    """
    if each.scale is None or each.inside < _MOSTLY:
        return False
    is_elsewhere = each.kind.stream != one.kind.stream
    if each.zero_kind not in KNOWN_ZEROS or not (is_elsewhere or is_soon_behind(each, one)):
        return False
    return each.step <= COARSEST_SHOWN and each.worst < one.worst + 0.8 * each.step + each.noise_units


def is_soon_behind(each: Fit, one: Fit) -> bool:
    """Say whether a number follows another as soon as a display does; a filtered copy takes longer."""
    apart = each.switch_s - one.switch_s
    return bool(np.isfinite(apart).any() and np.nanmedian(apart) < SOON_S)


def is_rounded_only(each: Fit, one: Fit) -> bool:
    """Say whether a number in round steps is as a rule what bare counts are, rounded: either may be read."""
    if each.kind.time_s.size != one.kind.time_s.size:
        return False
    apart = each.loads_of(each.number.values(each.kind.frames)) - one.loads_of(
        one.number.values(one.kind.frames)
    )
    near = 0.5 * (each.step + one.step) + _NOISES * one.noise_units
    known = np.isfinite(apart)
    return bool((np.abs(apart[known]) > near).mean() < _SELDOM)
