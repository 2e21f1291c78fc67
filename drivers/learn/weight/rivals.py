"""Numbers that say something else than the best one, and are nearly as likely."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from drivers.learn.numbers.fitting import Fit
from drivers.learn.packets.line_makes import LineMake
from drivers.learn.weight.copies import agree

_RIVAL = 3.0
"""How much likelier the best must be than another that says something else, a natural logarithm."""

_NO_RIVAL = 0.03
"""Share of their span by which loads are off no line at all."""

_TIMES_AS_FAR, _TYPED, _OF_LOAD = 5.0, 0.05, 4e-4
"""How many times as far loads are off the line of another number that is none; and how far they are off what
was typed, g or °C, and as a share.
"""


def rivals_of(best: Fit, others: Iterable[Fit], cost: Callable[[Fit], float]) -> tuple[Fit, ...]:
    """Give the numbers that stand against the best one.

    :param cost: how unlikely each is, a natural logarithm
    """
    return tuple(
        one
        for one in others
        if cost(one) < cost(best) + _RIVAL
        and not agree(best, one)
        and not (_is_its_size(one, best) and agree(best, one, in_size=True))
        and one.worst < min(_NO_RIVAL * one.span, _far_off(best)) + one.step
    )


def _is_its_size(one: Fit, best: Fit) -> bool:
    """Say whether a number of text is the best one without its sign, which stands elsewhere in the line."""
    make = best.kind.make
    return one.number.encoding == "ascii" and isinstance(make, LineMake) and make.sign is not None


def _far_off(best: Fit) -> float:
    """Give how far off its line the loads are of a number that is none beside one that holds them, g or °C.

    What was typed a little wrong is off both.
    """
    return _TIMES_AS_FAR * (best.worst + _TYPED + _OF_LOAD * best.span + 0.5 * best.step)
