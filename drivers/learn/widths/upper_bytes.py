"""Whether the highest byte of a number, which no load has needed, is its own."""

from __future__ import annotations

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.packets.arrays import changes_of

_TOPS = {"integer": (0x00, 0x80, 0xFF), "hex": (0x30, 0x38, 0x46)}
"""The highest place of a number: nought, the half of its range, and filled with ones."""

_FEWEST_ODD, _DAMAGED = 1, 0.001
"""Packets, and the share of them, in which damage makes a byte the same wrong one."""

_OF_FILLED = 0.2
"""The same as a share of the packets below nought in which it is filled with ones: those show more."""

_SLOWLY, _NEARLY_ALL, _BEGINS_AGAIN = 2.0, 0.9, 30.0
"""By how much a byte changes that changes slowly, and the share of its changes; and by how much one that has
come to its end and begins again, as the seconds of a clock do."""

_FEW, _OF_ODD = 0.01, 0.34
"""Share of packets in which damage makes a byte another one; and how many of those it makes alike."""

_SOME = 3.0
"""Packets that damage may well make so in a short capture, where it makes one or two of them as a rule."""

_FEWEST_FILLED = 8
"""Packets below nought that show upper bytes filled with ones, though nought is anywhere."""


def is_lost_by_damage(narrow: Fit, wide: Fit) -> bool:
    """Say whether a number with more upper bytes is out of place only where damage has made those other ones.

    Damage shows in more bytes, and differs; what is of something else comes again.

    :param narrow: the same number without them
    """
    added = sorted(wide.number.covers - narrow.number.covers)
    lost = rows_in_place(narrow) & ~rows_in_place(wide)
    _, often = np.unique(wide.kind.frames[lost][:, added], axis=0, return_counts=True)
    few = lost.sum() <= max(_SOME, _FEW * len(added) * lost.size)
    return bool(few and often.max(initial=0) <= max(2.0, _OF_ODD * lost.sum()))


def is_own_top(one: Fit) -> bool:
    """Say whether the highest byte of an integer is its own, though no load has needed it so far.

    It is nought, and filled with ones below nought, or shows that nought is the middle of the range. A byte
    of something else would have been another one now and then, and would not be filled. Counts that begin
    anywhere are seldom below nought to show it, and nothing is taken for shown where they never are.
    """
    number, frames = one.number, one.kind.frames
    if one.zero_kind == "half" or number.encoding not in _TOPS:
        return one.zero_kind == "half"
    nought, half, filled = _TOPS[number.encoding]
    big = number.order == "big"
    top, below = (number.offset, number.offset + 1) if big else (number.end - 1, number.end - 2)
    is_filled = frames[:, top] == filled
    is_odd = (frames[:, top] != nought) & ~(is_filled & (frames[:, below] >= half))
    if one.zero_kind != "none" and (is_filled & ~is_odd).sum() < _FEWEST_FILLED:
        return False
    odd = np.bincount(frames[is_odd, top], minlength=1)
    is_below = frames[:, below] == filled  # just below nought, or not needed either
    often = max(_FEWEST_ODD, _DAMAGED * len(frames), _OF_FILLED * (is_filled & ~is_odd).sum())
    if is_odd.sum() < _FEW * len(frames):
        often = max(often, _OF_ODD * is_odd.sum())
    return bool(2 * is_filled[is_below].sum() >= is_below.sum() and odd.max() <= often)


def is_ever_signed(one: Fit) -> bool:
    """Say whether the highest byte of a number ever shows a sign, or that nought is the middle of the range.

    Else nothing tells that it is its own, and without it the number says the same. A sign that is set once,
    with nothing set below it, is a bit that damage has turned.
    """
    number, frames = one.number, one.kind.frames
    if one.zero_kind == "half" or number.encoding not in _TOPS:
        return True
    _, half, filled = _TOPS[number.encoding]
    top, below = number.highest_first[:2]
    goes_on = (frames[:, top] == filled) & (frames[:, below] >= half)
    return bool(goes_on.any() or np.isin(frames[:, top], (half, filled)).sum() > _FEWEST_ODD)


def goes_on_behind(one: Fit) -> bool:
    """Say whether what stands behind the highest byte of a number changes slowly, as a temperature does.

    The highest byte may be that one's upper byte then, in the other order of bytes. But what has come to its
    end and begun again has not taken it along.
    """
    number, frames = one.number, one.kind.frames
    at = number.offset - 1 if number.order == "big" else number.end
    if not 0 <= at < one.kind.length:
        return False
    steps = np.abs(changes_of(frames[:, at].astype(np.float64)))
    if not steps.size or (steps > _BEGINS_AGAIN).any():
        return False
    return bool((steps <= _SLOWLY).mean() > _NEARLY_ALL)
