"""Of one weight on several characteristics, the one whose packets have a check: what matters is protected."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.outside.headers import places_of
from drivers.learn.packets.line_makes import has_known_check
from drivers.learn.weight.copies import agree

_AS_OFTEN, _ABOUT = 0.6, 1.01
"""Share of another one's packets that are about as many; steps, of another one's, that are about as fine."""

_FINE_ENOUGH = 0.12
"""The step of a display in tenths, g or °C, and a little more."""


def protected_first(prompt: Sequence[Fit]) -> list[Fit]:
    """Put the best number first whose packets have a check, before copies on other characteristics with none.

    What comes far seldomer than another one, or tells less, is not what is meant, be it protected or not.

    :param prompt: numbers that follow the loads, the best one first; none of them lags
    """
    best = prompt[0]
    firsts = {one.kind.stream: one for one in reversed(prompt) if one is best or agree(best, one)}
    if len(firsts) < 2 or _has_check(best):
        return list(prompt)
    others = [
        one for one in prompt
        if one is firsts.get(one.kind.stream) and one is not best and _tells_as_much(one, best)
    ]  # fmt: skip
    protected = next((one for one in others if _has_check(one)), best)
    return [protected, *(one for one in prompt if one is not protected)]


def is_unprotected_elsewhere(each: Fit, one: Fit) -> bool:
    """Say whether a number comes in packets without a check, on another characteristic than a checked one."""
    return each.kind.stream != one.kind.stream and not _has_check(each)


def _tells_as_much(one: Fit, best: Fit) -> bool:
    """Say whether a number comes about as often as another one, in steps as fine, or in a display's."""
    is_as_often = len(one.kind.frames) > _AS_OFTEN * len(best.kind.frames)
    return is_as_often and one.step < max(_FINE_ENOUGH, _ABOUT * best.step)


def _has_check(one: Fit) -> bool:
    if one.kind.checked or has_known_check(one.kind.make):
        return True
    return find_check(one.kind.frames[rows_in_place(one)], places_of(one), 0) is not None
