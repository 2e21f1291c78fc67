"""Numbers that are the check of their packets: a sum of bytes of which few change but those of the weight."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, rows_in_place


def without_sums(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out numbers without a round scale that are the sum over packets which hold a round one.

    Where light loads change the weight's lowest byte alone, a sum follows them as well.
    """
    round_ones = [one for one in fits if one.scale is not None and one.number.encoding == "integer"]
    odd = [one for one in fits if one.scale is None and one.number.encoding == "integer"]

    def is_sum(one: Fit) -> bool:
        beside = next(
            (
                each for each in round_ones
                if each.kind is one.kind and not each.number.covers & one.number.covers
            ),
            None,
        )  # fmt: skip
        if beside is None:
            return False
        check = find_check(beside.kind.frames[rows_in_place(beside)], beside.number.covers, 0)
        return check is not None and one.number.covers <= check.places

    sums = [one for one in odd if is_sum(one)]
    return [one for one in fits if one not in sums]
