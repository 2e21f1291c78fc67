"""Which bytes of a frame are a check over others: sums, exclusive or, and cyclic checks of any polynomial.

All frames of one kind have one length, so everything that does not depend on their bytes (what the register
begins with, what is combined with the result, what the fixed bytes add) is one number. It is looked for last,
and given the customary form where it has one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS
from drivers.learn.checks.check import SHARE, Check, busy_places, written_in
from drivers.learn.checks.cyclic_search import CyclicSearch
from drivers.learn.checks.shorter_ranges import holding_for_more, refuses_alike, to_ends_of_fields
from drivers.learn.checks.sum_search import sums_over
from drivers.learn.packets.arrays import HEX_OF, Frames, Marks

_SHARE_LESS = 0.005
"""By how much fewer frames a check may hold for than another one: damage spares neither."""

_SHARE_UNCOVERED, _FEW_UNCOVERED = 0.02, 3.5
"""The same for a customary one beside another that covers less, and so does not see all damage; and how many
frames that may be in any case."""

_UNDAMAGED = 0.94
"""Share of the frames that a check holds for beside which no other is looked for: the rest may be damaged."""

_SAME, _FEWEST_UNLIKE = 0.9, 4
"""Of the frames: two bytes that are the same in so many are copies of each other."""

_OF_UNLIKE = 0.5
"""Of the frames where copies are not the same, a check is right for so many, the rest is damaged."""

_FEW_SINGLE, _SINGLE_SHARE = 6, 0.4
"""Frames that came once, many of them damaged, and the share of them that a check must be right for."""

_SAMPLE, _FEWEST_CODES, _MANY_CODES = 300, 6, 24

_FEWEST_TERMS = 3
"""Terms of a polynomial, the highest one left out, that puts several bits of a byte together."""

_FEWEST_RIGHT = 8
"""Different things that a customary check written as digits is right for, where few of it come again: each is
one of 256 by chance."""

_FEWEST_OTHERS, _OF_OTHERS = 12, 0.3
"""Frames in which a check is not what it is as a rule, and the share of them for which it is right."""

_FEWEST_COVERED, _OF_COVERED = 12, 0.6
"""Different things that a check covers in some frames, and the share of them that it is right for: each
damaged frame is another one."""


def find_check(
    frames: Frames, weighed: frozenset[int], last: int, *, is_in_part: bool = False
) -> Check | None:
    """Find the check of a kind of frames.

    :param frames: shape (n, length)
    :param weighed: the places of the weight, which a check must cover
    :param last: how many bytes at the end belong to a terminator
    :param is_in_part: whether it may leave out some of them, but not all
    :returns: the one that covers most, or None
    """
    rows = np.unique(np.linspace(0, len(frames) - 1, _SAMPLE).astype(np.int64))
    sample = frames[rows]
    busy = busy_places(sample)
    _, firsts, counts = np.unique(frames, axis=0, return_index=True, return_counts=True)
    single = frames[firsts[counts == 1]][:_SAMPLE]
    covered = frozenset[int]() if is_in_part else weighed
    cyclic = CyclicSearch(sample, covered, busy)
    found: list[Check] = []
    for at, width, is_hex in _places(sample, busy, weighed, last):
        for order in BYTE_ORDERS[:width]:
            target = written_in(sample, at, width * (2 if is_hex else 1), order, is_hex)
            taken = width * (2 if is_hex else 1)
            found += sums_over(sample, target, at, taken, width, order, is_hex, covered, busy)
            # A byte that stays is none of a cyclic check; but the end of one and that byte look like another.
            # So does the end of one of 16 bits by itself, whose polynomial has one of 8 as a factor.
            if not any(one.is_plain or not one.poly for one in found) and busy[at : at + taken].all():
                found += cyclic.checks(target, at, taken, width, order, is_hex)
        found = [
            one for one in found
            if _holds_for_single(one, single) and _is_mixed(one, sample, busy) and _is_rich(one, sample)
            and _holds_for_others(one, sample)
        ]  # fmt: skip
        # What stands before it could only be its upper byte, and that has been tried; but where all bytes
        # together make nought, each seems to be the check of the rest, with a beginning of its own but one.
        if (
            any(one.is_plain and one.holds(sample).mean() > _UNDAMAGED for one in found)
            and at < found[0].at - 1
        ):
            break
    found = [one for one in found if not _is_never_carried(one, sample)]
    if is_in_part:
        found = [
            one for one in found
            if one.is_plain and _holds_for_many(one, sample)
            and _is_over_some(one, sample, [place for place in weighed if busy[place]])
        ]  # fmt: skip
    while found:
        likeliest = _best_of(found, sample, weighed, busy, sample.shape[1] - last)
        best = to_ends_of_fields(_without_upper(likeliest, sample, weighed), sample, busy)
        best = holding_for_more(best, frames, weighed)
        if not refuses_alike(best, frames):
            return best
        found.remove(likeliest)
    return None


def _best_of(found: list[Check], sample: Frames, weighed: frozenset[int], busy: Marks, end: int) -> Check:
    """Give the most natural check of those that hold for nearly as many frames as any, and cover most.

    :param end: where a terminator begins
    """
    shares = [float(one.holds(sample).mean()) for one in found]
    uncovered = max(_SHARE_UNCOVERED, _FEW_UNCOVERED / len(sample))
    most, best = max(zip(shares, found, strict=True), key=lambda pair: (pair[0], _natural(pair[1])))

    def less(one: Check) -> float:
        """Say for how many fewer frames one may hold, as a share: damage in what it covers besides."""
        covers_more = _natural(one) > _natural(best) or _covers(one, best, busy)
        return uncovered if covers_more else _SHARE_LESS

    def goodness(one: Check) -> tuple[int, ...]:
        return (
            one.is_plain,  # of those that are not, one in 256 seems to be, without some bytes that stay
            all(one.start <= place < one.stop for place in weighed),
            _natural(one),
            one.width,
            int(busy[one.start : one.stop].sum()),
            one.stop == (one.at if one.start <= one.at else end),
            -one.start,
            -one.stop,  # what stays there need not be covered, and may be the upper byte of a copy
        )

    likely = [one for one, share in zip(found, shares, strict=True) if share > most - less(one)]
    return max(likely, key=goodness)


def _without_upper(check: Check, sample: Frames, weighed: frozenset[int]) -> Check:
    """Leave a nought before a sum uncovered where none has come to 256: it may be its own upper byte."""
    at = check.at - 1
    if check.kind != "sum8" or check.init or check.xorout or check.stop != check.at or at in weighed:
        return check
    good = sample[check.holds(sample)]
    if at - 1 <= check.start or good[:, at].any():
        return check
    most = int(good[:, check.start : at].sum(axis=1, dtype=np.int64).max())
    return replace(check, stop=at) if most < 256 else check


def _holds_for_single(check: Check, single: Frames) -> bool:
    """Say whether a check holds for what has come once only: a few frames that repeat fit many checks."""
    return len(single) < _FEW_SINGLE or bool(check.holds(single).mean() > _SINGLE_SHARE)


def _is_mixed(check: Check, sample: Frames, busy: Marks) -> bool:
    """Say whether a check is one over several bytes that change: of two that are alike, an xor sees none.

    A byte that is the same as one of the check is a copy of it, and the check is none.
    """
    places = [place for place in range(check.start, check.stop) if busy[place]]
    written = [sample[:, place] for place in check.places if busy[place]]
    is_copied = any(_is_copy(sample[:, place] == each, check, sample) for place in places for each in written)
    if is_copied and (_natural(check) < 3 or len(places) > 1):
        return False
    if check.kind != "xor8":
        return len(places) >= 2 or _is_usual(check, sample.shape[1]) or _is_scrambled(check, sample)
    left: list[int] = []
    unlike = np.zeros(len(sample), dtype=bool)
    for place in places:
        same = [one for one in left if (sample[:, one] == sample[:, place]).mean() > _SAME]
        if same:
            left.remove(same[0])
            unlike |= sample[:, same[0]] != sample[:, place]
        else:
            left.append(place)
    if unlike.sum() >= _FEWEST_UNLIKE and check.holds(sample[unlike]).mean() < _OF_UNLIKE:
        return False
    return len(left) >= 2 or _is_usual(check, sample.shape[1])


def _is_scrambled(check: Check, sample: Frames) -> bool:
    """Say whether no byte becomes a check by chance: a cyclic one that does more than move bits."""
    return check.is_plain and check.poly.bit_count() >= _FEWEST_TERMS and _holds_for_many(check, sample)


def _holds_for_many(check: Check, sample: Frames, fewest: int = _FEWEST_COVERED) -> bool:
    """Say whether a check holds for many different things that it covers: a few fit many checks."""
    _, rows = np.unique(sample[:, check.start : check.stop], axis=0, return_index=True)
    return rows.size >= fewest and bool(check.holds(sample[rows]).mean() > _OF_COVERED)


def _is_over_some(check: Check, sample: Frames, weighed: Sequence[int]) -> bool:
    """Say whether a check is right where some of the weight that it covers is something else than usual."""
    covered = sample[:, [place for place in weighed if check.start <= place < check.stop]]
    usual = [int(np.bincount(column).argmax()) for column in covered.T]
    others = (covered != usual).any(axis=1)
    return bool(others.any() and check.holds(sample[others]).mean() > _OF_COVERED)


def _is_rich(check: Check, sample: Frames) -> bool:
    """Say whether a check is many things; an exclusive or need not be where two copies of a number cancel.

    Two digits of another number are few, damage apart.
    """
    codes, counts = np.unique(check.written(sample), return_counts=True)
    few_come_again = check.is_hex and codes.size < _MANY_CODES and (counts > 1).sum() < _FEWEST_CODES
    if few_come_again and codes.size >= _FEWEST_CODES and _natural(check) == 3:
        return _holds_for_many(check, sample, _FEWEST_RIGHT)
    if check.kind.endswith("16") or (codes.size >= _FEWEST_CODES and not few_come_again):
        return True
    return check.kind == "xor8" and check.init == check.xorout == 0 and _is_usual(check, sample.shape[1])


def _holds_for_others(check: Check, sample: Frames) -> bool:
    """Say whether a cyclic check is right where it is not what it is as a rule.

    Over two copies of a number some see nothing, and what is nought while a load rests is right then.
    """
    _, which, counts = np.unique(check.written(sample), return_inverse=True, return_counts=True)
    others = which != counts.argmax()
    is_enough = check.poly and others.sum() >= _FEWEST_OTHERS
    return not is_enough or bool(check.holds(sample[others]).mean() > _OF_OTHERS)


def _is_never_carried(check: Check, sample: Frames) -> bool:
    """Say whether a sum of 16 bits has an upper byte that is always the same: one of 8 bits holds too.

    One that is what a plain sum has carried, and not nought, is no chance.
    """
    if check.kind != "sum16" or check.is_hex:
        return False
    upper = sample[check.holds(sample), check.at if check.order == "big" else check.at + 1]
    is_carried = check.init == check.xorout == 0 and upper[:1].any()
    return bool((upper == upper[:1]).all()) and not is_carried


def _is_copy(same: Marks, check: Check, sample: Frames) -> bool:
    """Say whether a byte is a copy of another: the same as a rule, and where it is not, the check fails."""
    if same.mean() <= _SAME:
        return False
    return bool((~same).sum() < _FEWEST_UNLIKE or check.holds(sample[~same]).mean() < SHARE)


def _is_usual(check: Check, length: int) -> bool:
    """Say whether it is what checks mostly are: at the end, over all that stands before it.

    Over a single byte that ever changes, any copy of it would be one.
    """
    return (
        _natural(check) == 3 and check.start <= 2 and check.stop == check.at
        and check.at + check.width >= length - 2
    )  # fmt: skip


def _covers(check: Check, other: Check, busy: Marks) -> bool:
    """Say whether a check is the same as another one over more bytes, of which none changes but by damage.

    What those add to a sum is in what the other one begins with, or in what its result is combined with.
    """
    same = (check.kind, check.at, check.poly, check.order)
    if same != (other.kind, other.at, other.poly, other.order):
        return False
    if check.poly and (check.init, check.xorout) != (other.init, other.xorout):
        return False
    added = [*range(check.start, other.start), *range(other.stop, check.stop)]
    return check.start <= other.start and check.stop >= other.stop and not busy[added].any()


def _natural(check: Check) -> int:
    plain = check.init == 0 and check.xorout == 0
    return 2 * plain + check.is_plain


def _places(
    sample: Frames, busy: Marks, weighed: frozenset[int], last: int
) -> Iterator[tuple[int, int, bool]]:
    """Give the places where a check may stand: place, bytes of the check, whether written as digits."""
    length = sample.shape[1]
    rich = np.array([np.unique(column).size for column in sample.T]) >= _FEWEST_CODES
    for at in range(length - 1, -1, -1):
        if at in weighed:
            continue
        hexed = (HEX_OF[sample] < 16).mean(axis=0) > 0.95
        if at + 1 < length and at + 1 not in weighed and busy[at] and busy[at + 1]:
            if hexed[at] and hexed[at + 1]:
                yield at, 1, True
                if at + 3 < length and hexed[at + 2] and hexed[at + 3]:
                    yield at, 2, True
            if rich[at] or rich[at + 1]:
                yield at, 2, False
        elif at + 1 < length and at + 1 not in weighed and busy[at + 1] and hexed[at] and hexed[at + 1]:
            yield at, 1, True  # an exclusive or of digits has the same upper half throughout
        elif (
            at + 1 < length
            and at + 1 not in weighed
            and (busy[at] or busy[at + 1])
            and (rich[at] or rich[at + 1])
        ):
            yield at, 2, False  # a sum of 16 bits whose upper byte hardly changes
        if busy[at] and (rich[at] or at == length - 1 - last):
            yield at, 1, False
