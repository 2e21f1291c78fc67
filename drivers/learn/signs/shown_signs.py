"""What the loads and the number itself say of a byte that may be its sign: where it is set, where never."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.neighbours import beside
from drivers.learn.numbers.number import Number, SignPlace
from drivers.learn.signs.crossings import jumps_over_nought, turns_on_way
from drivers.learn.signs.dips import Reflections
from drivers.learn.signs.flags import FLAGS, MORE_FLAGS, in_steps, is_busy, only_counts
from drivers.learn.signs.rare_signs import is_in_order
from drivers.learn.signs.sign_places import (
    EXACTLY,
    how_well,
    is_alike_at_nought,
    is_set_at,
    may_be_rounded,
    tells_nought,
)

_FEWEST, _MOVING_SHARE = 2, 0.4
_ELSEWHERE, _FAR, _FAR_OF_EXACT, _LESS = 1.0, 5.0, 2.0, 0.6
"""What a sign costs that does not stand beside the number: where a load below nought has shown both; where
none has; that is set exactly below nought, in packets in order; and what of its score then counts."""

_SEEN_CLEARLY, _SEEN_OFTEN = 6, 30
"""Packets below nought, and none at nought or far above, that show a sign wherever it stands: of those in
order, and of all, as damage does not come so often and there alone.
"""


@dataclass(frozen=True, eq=False)
class Shown:
    """A number without its sign, and what is known of where it is below nought.

    :param values: what it says in each packet, shape (n,)
    :param plus: packets at rest that are above nought, rows
    :param minus: packets at rest that are below it
    :param between: packets on the way from one load above nought to the next
    :param through_nought: how often one load was above nought and the next below, or the other way
    :param near: places that stand beside it
    :param fewest: packets that show a sign; 1 where none is damaged
    """

    one: Fit
    plain: Number
    values: np.ndarray
    reflections: Reflections
    plus: np.ndarray
    minus: np.ndarray
    between: np.ndarray
    through_nought: int
    near: frozenset[int]
    fewest: int
    taken: frozenset[int]

    @staticmethod
    def of(one: Fit, plain: Number, loads: Sequence[Load], fewest: int, taken: frozenset[int]) -> Shown:
        """Gather what is known.

        :param plain: the number of the fit, without a sign
        :param taken: places of its check
        """
        kind = one.kind
        values = plain.values(kind.frames)
        least = 5.0 * (one.step + one.noise_units)
        return Shown(
            one=one,
            plain=plain,
            values=values,
            reflections=Reflections(np.abs(values / one.per_unit), one),
            plus=_rows_of(one, [load.value > least for load in loads]),
            minus=_rows_of(one, [load.value < 0 for load in loads]),
            between=_between_plus(one, values, loads, least),
            through_nought=sum((before.value < 0) != (after.value < 0) for before, after in pairwise(loads)),
            near=frozenset(beside(plain, kind.frames)),
            fewest=fewest,
            taken=taken,
        )

    @property
    def steps(self) -> np.ndarray:
        """What the number says, in steps of its own."""
        return in_steps(self.values, self.one.grid)

    def places(self) -> list[int]:
        """Give where a sign may stand: among more flags where a load below nought shows which it is."""
        frames, plain = self.one.kind.frames, self.plain
        most_flags = MORE_FLAGS if self.minus.size else FLAGS
        return [
            place
            for place in range(self.one.kind.length)
            if place not in self.taken
            and not only_counts(frames[:, place])
            and (place not in plain.covers or plain.mask)
            and (self.is_close(place) or not is_busy(frames[:, place], most_flags))
        ]

    def is_close(self, place: int) -> bool:
        """Say whether a byte is of the number, or stands beside it."""
        return place in self.near or place in self.plain.covers

    def are_clear(self, minus: np.ndarray) -> bool:
        """Say whether a sign shows clearly what lies below nought, where no load has been there."""
        if self.minus.size or is_set_at(minus, self.plus, self.fewest):
            return False
        return self.reflections.are_clear(minus, self.fewest)

    def is_none(self, place: int, sign: SignPlace, minus: np.ndarray) -> bool:
        """Say whether what may be a sign tells something else: that the load moves, or that there is none.

        :param minus: packets in which it is set, shape (n,)
        """
        one, sizes, steps = self.one, np.abs(self.values), np.abs(self.steps)
        if may_be_rounded(one.kind.frames, place, sign) and is_alike_at_nought(steps, minus):
            return True
        if not self.minus.size and tells_nought(steps, minus):
            return True
        if self.between.size >= _FEWEST and minus[self.between].mean() > _MOVING_SHARE:
            return True  # it tells that the load moves
        count = int(minus.sum())
        if not self.is_close(place) and count < _FEWEST:
            return True  # one packet in 256 that are damaged passes a check of one byte
        if count == 1 and not is_in_order(one, int(np.flatnonzero(minus)[0]), place, self.taken):
            return True
        if turns_on_way(sizes, minus, one):
            return True
        # From a load to one below nought, it goes as fast as a hand does.
        is_often = np.diff(minus).sum() > self.through_nought
        return bool(is_often and jumps_over_nought(self.values, minus, one))

    def score(self, place: int, minus: np.ndarray) -> float:
        """Say how well a sign explains the number, less what its place costs; 0 or less where it does not."""
        span = float(np.ptp(self.one.levels)) or 1.0
        score = how_well(self.values, minus, self.plus, self.minus, span, self.one, self.fewest)
        if self.minus.size and score > 0:
            return score if place in self.near else score - _ELSEWHERE
        if self.is_close(place):
            return score
        is_exact, in_order = score > EXACTLY, self.fewest == 1
        far = _FAR
        if is_exact and minus.sum() >= (_SEEN_CLEARLY if in_order else _SEEN_OFTEN):
            far = 0.0
        elif is_exact and in_order:
            far = _FAR_OF_EXACT
        return _LESS * (score - EXACTLY * is_exact) - far


def _rows_of(one: Fit, are_meant: Sequence[bool]) -> np.ndarray:
    """Give the packets of some loads at rest, rows."""
    rows = [some for some, is_meant in zip(one.kind.settled, are_meant, strict=True) if is_meant]
    return np.concatenate(rows) if rows else np.array([], dtype=np.int64)


def _between_plus(one: Fit, values: np.ndarray, loads: Sequence[Load], least: float) -> np.ndarray:
    """Give the packets on the way from one load above nought to the next, none of them near nought."""
    time_s, sizes = one.kind.time_s, np.abs(one.loads_of(values))
    found = np.zeros(len(time_s), dtype=bool)
    for before, after in pairwise(loads):
        low, high = sorted((before.value, after.value))
        if low > least:
            on_way = (time_s >= before.end_s) & (time_s <= after.end_s)
            with np.errstate(invalid="ignore"):
                found |= on_way & (sizes > low + 0.1 * (high - low)) & (sizes < high - 0.1 * (high - low))
    return np.flatnonzero(found)
