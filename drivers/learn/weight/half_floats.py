"""Floats that have their lower word from elsewhere: one upper word makes two, of either order of words.

Where whole grams rest, a lower word is nought, and that of a copy is as good as any. While the load moves,
another one's puts the number off its steps, or lets it jump.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.packets.arrays import Marks

_FLOAT, _ON_STEP = 4, 0.01
"""Bytes of a float of two words; steps by which it is off its steps at most."""

_SIGMAS, _SIGMAS_ON_WAY = 4.0, 3.0
"""Standard deviations by which two are told apart: of how many packets are damaged; of the way they go."""

_DAMAGED, _FEWEST, _FAR, _NOISY = 8, 8, 10.0, 5.0
"""Packets that damage alone explains; those that tell which goes more evenly; times the ordinary bend beyond
which one is damage; standard deviations of one packet up to which it is noise."""


def without_half_floats(fits: Sequence[Fit]) -> list[Fit]:
    """Leave out floats for which another of the same upper word has the lower one that belongs to it."""
    floats = [
        one for one in fits
        if one.number.encoding == "float" and one.number.width == _FLOAT and one.scale is not None
    ]  # fmt: skip
    halves = [
        one for one in floats if any(_is_half(one, other) for other in floats if _share_upper(one, other))
    ]
    return [one for one in fits if one not in halves]


def _share_upper(one: Fit, other: Fit) -> bool:
    """Say whether two floats of the same packets have the same upper word, and mean the same by it."""
    uppers = [each.number.highest_first[: _FLOAT // 2] for each in (one, other)]
    is_other = one.number != other.number and one.kind is other.kind
    means_same = (one.scale, one.grid) == (other.scale, other.grid)
    return is_other and uppers[0] == uppers[1] and means_same


def _is_half(one: Fit, other: Fit) -> bool:
    """Say whether the lower word of another float belongs to the upper one that both have.

    A word that is never anything is none, where another one makes a number in steps.
    """
    more_off = _beyond_damage(_off_steps(one), _off_steps(other))
    if abs(more_off) > _SIGMAS:
        return more_off > 0.0
    rougher = _rougher(one, other)
    if abs(rougher) > _SIGMAS_ON_WAY:
        return rougher > 0.0
    tells = _told(one)
    return tells <= _DAMAGED and _beyond_damage(_told(other), tells) > _SIGMAS


def _beyond_damage(more: int, fewer: int) -> float:
    """Give by how many standard deviations of damage one count of packets is above another, or below."""
    return (more - fewer) / math.sqrt(min(more, fewer) + 1)


def _rougher(one: Fit, other: Fit) -> float:
    """Give by how many standard deviations one number goes on less evenly than another while they move.

    At rest a lower word of a copy is as good as any: what that leaves is noise.
    """
    good = rows_in_place(one) & rows_in_place(other)
    bends = np.abs([np.diff(each.number.values(each.kind.frames)[good], 2) for each in (one, other)])
    moves = bends.max(axis=0) > _NOISY * max(one.noise, other.noise) + one.grid
    more = (bends[0] - bends[1])[moves & (bends[0] != bends[1])]
    if more.size < _FEWEST:
        return 0.0
    most = _FAR * float(np.median(np.abs(more)))  # what is damaged goes any way
    more = np.clip(more, -most, most)
    return float(more.sum() / np.sqrt((more**2).sum()))


def _off_steps(one: Fit) -> int:
    """Count the packets that a lower word puts off the steps of a float."""
    return int((_lower_word(one) & ~_is_on_step(one)).sum())


def _told(one: Fit) -> int:
    """Count the packets in which a lower word tells something, on the steps of the number."""
    return int((_lower_word(one) & _is_on_step(one)).sum())


def _lower_word(one: Fit) -> Marks:
    """Say in which packets the lower word of a float is not nought."""
    return np.asarray((one.kind.frames[:, list(one.number.highest_first[2:])] != 0).any(axis=1))


def _is_on_step(one: Fit) -> Marks:
    """Say which packets are near the loads, and a whole number of steps from nought, where it has steps."""
    values = one.number.values(one.kind.frames)
    steps = values / one.grid if one.grid > 0.0 else np.zeros(values.size)
    with np.errstate(invalid="ignore"):
        return np.asarray(rows_in_place(one) & (np.abs(steps - np.round(steps)) < _ON_STEP))
