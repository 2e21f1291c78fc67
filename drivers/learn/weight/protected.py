"""Of one weight on several characteristics, the one whose packets have a check: what matters is protected."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.outside.headers import places_of
from drivers.learn.packets.kinds import Kind, on_way, usual_gap_s
from drivers.learn.packets.line_makes import has_known_check
from drivers.learn.weight.copies import agree, are_metric_and_not
from drivers.learn.weight.ranked import put_first

_AS_OFTEN = 0.6
"""Share of the time between two packets of another one that is about as long."""

_FEWEST_ON_WAY = 12
"""Packets in a row while no load is at rest, by which it is seen how often they come then."""

_AS_LOUD, _HIDDEN, _ALIKE, _NEARLY = 0.8, 0.25, 0.05, 1.5
"""Noise that is no less, of another one's; what steps hide of that; steps by which two are alike; and a step
in another unit that is about as fine."""


def protected_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put the best number first whose packets have a check, before copies on other characteristics with none.

    What is meant comes about as often as any of them, be it protected or not.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    firsts = {one.kind.stream: one for one in reversed(prompt) if one is best or agree(best, one)}
    if len(firsts) < 2 or _has_check(best):
        return list(prompt)
    others = [
        one for one in prompt
        if one is firsts.get(one.kind.stream) and one is not best and comes_as_often(one, best)
        and not _is_coarser_in_ounces(one, best)
    ]  # fmt: skip
    protected = next((one for one in others if _has_check(one)), best)
    return put_first(protected, prompt)


def _is_coarser_in_ounces(one: Fit, best: Fit) -> bool:
    """Say whether a number is in another unit than grams that are finer: those are what it is made of."""
    return are_metric_and_not(best, one) and one.step > best.step


def oftenest_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put the copy of the best number first that another characteristic sends far more often, as finely.

    Nothing is lost by that, and every second reading else; a quieter one has been filtered.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    others = [
        one for one in prompt
        if one.kind.stream != best.kind.stream and not comes_as_often(best, one) and _is_as_fine(one, best)
        and agree(best, one) and (_has_check(one) or not _has_check(best))
    ]  # fmt: skip
    first = min(others, key=lambda one: _gap_s(one.kind), default=best)
    return put_first(first, prompt)


def _is_as_fine(one: Fit, best: Fit) -> bool:
    """Say whether a number is in the same steps as another one, or of about the size in another unit, with as
    much noise.
    """
    if one.scale is None or best.scale is None:
        return False
    is_as_loud = one.noise_units > _AS_LOUD * best.noise_units - _HIDDEN * best.step
    is_as_straight = one.worst < best.worst + _HIDDEN * best.step
    is_as_fine = abs(one.step - best.step) < _ALIKE * best.step
    if one.scale.unit != best.scale.unit:
        is_as_fine = one.step < _NEARLY * best.step
    return is_as_fine and is_as_loud and is_as_straight


def is_unprotected_elsewhere(each: Fit, one: Fit) -> bool:
    """Say whether a number comes in packets without a check, on another characteristic than a checked one."""
    return each.kind.stream != one.kind.stream and not _has_check(each)


def is_protected_alone(one: Fit, each: Fit) -> bool:
    """Say whether a number comes in packets with a check, and another one elsewhere in packets without."""
    return is_unprotected_elsewhere(each, one) and _has_check(one)


def comes_as_often(one: Fit, best: Fit) -> bool:
    """Say whether a number is sent about as often as another one, while there is something to send."""
    return _AS_OFTEN * _gap_s(one.kind) < _gap_s(best.kind)


def _gap_s(kind: Kind) -> float:
    """Give the usual time between two packets while the load moves; between any where few come then, s."""
    moves = on_way(kind)
    gaps = np.diff(kind.time_s)[moves[1:] & moves[:-1]]
    return float(np.median(gaps)) if gaps.size >= _FEWEST_ON_WAY else usual_gap_s(kind.time_s)


def _has_check(one: Fit) -> bool:
    if one.kind.checked or has_known_check(one.kind.make):
        return True
    return find_check(one.kind.frames[rows_in_place(one)], places_of(one), 0) is not None
