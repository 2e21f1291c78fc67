"""A number whose values are the steps of a coarser one, put in another unit and rounded: it is made of that.

Such a copy jumps over most of its own steps, wherever the load goes. A weight that is rounded by itself takes
all of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.weight.copies import agree, are_metric_and_not
from drivers.learn.weight.protected import comes_as_often
from drivers.learn.weight.ranked import put_first

_ABOVE = 2.0
"""Steps above nought from which on no sign is needed."""

_ROUNDED = 1e-3
"""Share of a step by which what is rounded may be off more than half of one: floats are, and divisors."""

_DAMAGED = 0.1
"""Share of the values that are damaged ones: each of those is another one, and the others come again."""

_SURELY = 10.0
"""How much likelier a number is made of another one than that it hits the other's steps by chance, a natural
logarithm."""


def originals_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put the number first that the best one is made of, where it comes about as often.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    original = next(
        (
            one for one in prompt
            if one is not best and comes_as_often(one, best) and is_made_of(best, one) and agree(best, one)
        ),
        best,
    )  # fmt: skip
    return put_first(original, prompt)


def is_made_of(each: Fit, one: Fit) -> bool:
    """Say whether a number takes no values but those that the coarser steps of another one make of it.

    :param each: in whatever packets, also of another characteristic
    """
    if not (are_metric_and_not(each, one) or are_metric_and_not(one, each)) or not 0.0 < each.step < one.step:
        return False
    values = each.loads_of(each.number.values(each.kind.frames[rows_in_place(each)]))
    said = np.unique(np.round(values[values > _ABOVE * one.step] / each.step, 3)) * each.step
    off = said - one.step * np.round(said / one.step)
    half = 0.5 * each.step
    # Rounded, or cut off, or taken up to the next step.
    apart = min(
        int((np.abs(off - middle) > (1.0 + _ROUNDED) * half + _ROUNDED * one.step).sum())
        for middle in (0.0, half, -half)
    )
    by_chance = each.step / one.step
    hit = (said.size - apart) * math.log((1.0 - _DAMAGED) / by_chance)
    missed = apart * math.log(_DAMAGED / (1.0 - by_chance))
    return hit + missed > _SURELY
