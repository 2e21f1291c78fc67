"""What a vessel shows that was tared and is lifted off: the number falls to nought, and rises again below it.

Read without its sign, it is reflected at nought. What is set from one reflection to the next, and at no other
time, is the sign, however far below nought that is: a flag of motion or a byte of another number changes
elsewhere as well. Or the pan is tared while the vessel is off: the number is nought at once then, and stays
there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from drivers.learn.numbers.fitting import Fit

_DEEP_STEPS, _DEEP_NOISE = 4.5, 6.0
"""Steps, and standard deviations, below nought that are no flicker."""

_HEAVIEST, _AS_HEAVY, _WRAPS = 1.5, 1.05, 4.0
"""By how much a vessel may be heavier than the heaviest load; and than what has stood on the pan, as long as
that is no number that has begun again at the end of its bytes."""

_AS_FAST, _STEPS, _NOISE, _SLOWS_BY, _MISSING, _MOST_MISSING = 1.8, 3.0, 4.0, 5.0, 1.6, 4
"""How much further it goes through nought than just before or after; steps and standard deviations besides;
by how much it slows down from one packet to the next at most; times between two by which one is missing, and
how many at most."""

_FEWEST, _LEAST = 2, 1e-9
"""What stands for the noise of a float that has none, and goes in no steps, g or °C."""

_NOUGHT = 0.5
"""Steps from nought that are shown as nought."""

_NEARLY_THERE, _SOON = 0.12, 3
"""Share of where it was that is left where a number has nearly come to nought; packets on which it has."""

_AROUND = 3
"""Packets on each side that tell how fast it goes: some displays go on with every second or third only."""

_MISSED = 0.34
"""Dips of which one end may not have been seen, for each that has been seen whole."""

_ENOUGH, _ENOUGH_IN_ORDER, _ELSEWHERE = 5, 3, 0.05
"""Packets in dips that show a sign, of all and of those in order, and the share of them that damage may have
put elsewhere."""


class Reflections:
    """Where a number without a sign may be reflected at nought, and where it is far from it."""

    def __init__(self, sizes: NDArray[np.float64], one: Fit) -> None:
        """Look at a number.

        :param sizes: what it says in each packet, without a sign, g or °C; shape (n,)
        :param one: the same, held against the loads
        """
        besides = _STEPS * one.step + _NOISE * one.noise_units
        self._heaviest = float(np.abs(one.loads_of(one.levels)).max())
        with np.errstate(invalid="ignore"):
            self._deep = sizes > _DEEP_STEPS * one.step + _DEEP_NOISE * one.noise_units
            self._deep &= sizes < _WRAPS * self._heaviest
            apart = np.abs(np.diff(sizes, prepend=np.nan, append=np.nan)) <= besides
            self._stands = np.where(self._deep & apart[1:] & apart[:-1], sizes, 0.0)
            self._sizes = sizes
            through = _goes_through_nought(sizes, one.kind.time_s, besides)
            self._begins = through | _begins_at_nought(sizes, besides, _NOUGHT * one.step)
            self._ends = through | _lands_on_nought(sizes, besides)

    def shown_by(self, minus: NDArray[np.bool_]) -> tuple[int, int]:
        """Count the packets that a sign shows far below nought, from one reflection to the next.

        :param minus: packets in which what may be a sign is set, shape (n,)
        :returns: those, and how many others it is set in
        """
        flag = minus.copy()  # a single packet that differs from both beside it may be damaged
        flag[1:-1] = minus[:-2].astype(np.int8) + minus[1:-1] + minus[2:] >= 2
        edges = np.flatnonzero(np.diff(flag, prepend=False, append=False))
        starts, stops = edges[::2], edges[1::2]
        begin, end = self._begins[starts], self._ends[stops]
        are_dips = begin & end
        if (begin ^ end).sum() <= _MISSED * are_dips.sum():
            are_dips = begin | end  # packets may be missing at one end of a few
        deep = np.append(0, np.cumsum(self._deep & (self._sizes < self._most(minus))))
        return int((deep[stops] - deep[starts])[are_dips].sum()), int((stops - starts)[~are_dips].sum())

    def _most(self, minus: NDArray[np.bool_]) -> float:
        """Give what a vessel that is lifted off weighs at most: what is lifted off has stood there before."""
        stood = float(self._stands[~minus].max(initial=0.0))
        return max(_HEAVIEST * self._heaviest, _AS_HEAVY * stood)

    def are_clear(self, minus: NDArray[np.bool_], fewest: int = _FEWEST) -> bool:
        """Say whether a sign shows clearly what lies below nought, and nothing else.

        :param fewest: packets that show a sign; 1 where none is damaged
        """
        in_dips, elsewhere = self.shown_by(minus)
        enough = _ENOUGH_IN_ORDER if fewest == 1 else _ENOUGH
        return in_dips >= enough and elsewhere <= _ELSEWHERE * in_dips


def _goes_through_nought(
    sizes: NDArray[np.float64], time_s: NDArray[np.float64], besides: float
) -> NDArray[np.bool_]:
    """Say where a number goes through nought from one packet to the next, as fast as just before or after.

    It settles exponentially: what it went before is as much further again as that is than what it goes next.
    Where packets are missing while it moves, it has gone the further for each of them.

    :returns: for each packet and the one before it, shape (n + 1,); at both ends it may have done so
    """
    speed = np.nan_to_num(np.abs(np.diff(sizes)))
    around = np.concatenate((np.zeros(_AROUND), speed, np.zeros(_AROUND)))
    near = [around[at : at + speed.size] for at in range(2 * _AROUND + 1) if at != _AROUND]
    after, later = near[_AROUND : _AROUND + 2]
    slows_by = np.clip(after / np.maximum(later, max(besides / _NOISE, _LEAST)), 1.0, _SLOWS_BY)
    apart_s = np.diff(time_s)
    usual_s = float(np.median(apart_s)) if apart_s.size else 0.0
    packets = apart_s / usual_s if usual_s > 0.0 else np.ones(apart_s.size)  # of blocks, none tells how many
    # What is missing has gone as much further yet, for each packet; none does so for many.
    missing = np.where(packets > _MISSING, np.minimum(np.round(packets), _MOST_MISSING), 1.0)
    settling = after * sum((missing >= count) * slows_by**count for count in range(1, _MOST_MISSING + 1))
    fastest = np.max((missing * np.max(near, axis=0), settling), axis=0)
    with np.errstate(invalid="ignore"):
        through = sizes[:-1] + sizes[1:] <= _AS_FAST * fastest + besides
    return np.concatenate(([True], through, [True]))


def _lands_on_nought(sizes: NDArray[np.float64], near: float) -> NDArray[np.bool_]:
    """Say where a number comes to nought and stays there, however far it jumps: the pan is tared.

    Where packets are few for a filter, or each is sent twice, it is nearly there first, and then at rest.

    :returns: for each packet and the one before it, shape (n + 1,)
    """
    with np.errstate(invalid="ignore"):
        quiet = np.concatenate((sizes <= near, [False] * (_SOON + 2)))
        falls = np.append(False, sizes[1:] <= _NEARLY_THERE * sizes[:-1])
    stays = quiet[:-2] & (quiet[1:-1] | quiet[2:])  # one of the packets may be damaged
    soon = np.any([stays[at : at + sizes.size] for at in range(1, _SOON + 1)], axis=0)
    return np.append(stays[: sizes.size] | (falls & soon), False)


def _begins_at_nought(sizes: NDArray[np.float64], near: float, nought: float) -> NDArray[np.bool_]:
    """Say where a number leaves nought, at which it has been for a while, or lands beside it.

    What tells that the pan was tared begins at nought itself.

    :returns: for each packet and the one before it, shape (n + 1,)
    """
    leaves = _lands_on_nought(sizes[::-1], near)[::-1]
    with np.errstate(invalid="ignore"):
        is_off = np.append(sizes >= nought, False)
    return is_off & (leaves | _lands_on_nought(sizes, near))
