"""Which bytes are flags of a few states, and which are more things than that: a number, or a part of one."""

from __future__ import annotations

import numpy as np

_MOST_STATES = 3
"""Things that a flag by itself is, at most."""

FEW_CODES, FLAGS, MORE_FLAGS = 4, 3, 5
"""Things that a byte of any kind of state is, at most; bits of one that tell rest, nought and sign; and of
one that tells more besides."""

_TURNS = 0.8
"""Share of packets with which a bit turns that only tells that the device is alive; and of its turns to
nought with which a counter's next one does."""

_OF_TWO_STATES, _OF_THREE_FLAGS = 2, 8
"""Things that a byte is by them, at most."""

_REST, _OF_DAMAGE = 0.6, 0.004
"""Shares of packets in which what is beside a sign is as usual, and that damage makes something else."""

_FEWEST_IN_ROW = 5
"""Numbers that follow on each other, of which fewer may be flags."""

_FEWEST_COUNTED = 8
"""Times that a byte has gone up by one, more than it has states."""

_LEAST_STEP = 1e-9
"""What stands for the step of a float that goes in none, counts, g or °C."""


def in_steps(sizes: np.ndarray, step: float) -> np.ndarray:
    """Give numbers in steps of their display; those of a float that goes in none are as small as can be.

    :param step: in the unit of the numbers; 0 where there is none
    """
    return np.asarray(sizes / max(step, _LEAST_STEP))


def is_busy(column: np.ndarray, most_flags: int = FLAGS) -> bool:
    """Say whether a byte is too many things to be flags: of more than a few, few bits are ever others."""
    tally = np.bincount(without_beat(column))
    often = _often(tally)
    is_more = often.size > FEW_CODES and _varied(often) > most_flags
    return bool(is_more or tally[often].sum() < 0.9 * column.size)


def goes_far(column: np.ndarray, most_states: int = _MOST_STATES) -> bool:
    """Say whether a byte is more things than a flag or a sign, or than so many."""
    return is_busy(column) or _often(np.bincount(without_beat(column))).size > most_states


def without_beat(column: np.ndarray) -> np.ndarray:
    """Give a byte without the bit that turns with each packet, to tell that the device is alive.

    The lowest bit of a counter turns so as well, and the others follow.
    """
    turned = column[1:] ^ column[:-1]
    for mask in (np.uint8(1 << bit) for bit in range(8)):
        if (turned & mask > 0).mean() > _TURNS and not _is_carried_over(column, turned, int(mask)):
            return np.asarray(column & ~mask)
    return column


def _is_carried_over(column: np.ndarray, turned: np.ndarray, mask: int) -> bool:
    """Say whether the next higher bit turns whenever a bit goes from one to nought."""
    falls = (column[:-1] & np.uint8(mask) > 0) & (turned & np.uint8(mask) > 0)
    return mask < 0x80 and bool((turned[falls] & np.uint8(mask << 1) > 0).mean() > _TURNS)


def only_counts(column: np.ndarray) -> bool:
    """Say whether a byte has only ever gone up by one, and often: a slow counter or a clock, and no state.

    A bit of a sign in it would have gone down again.
    """
    goes = np.mod(np.diff(column.astype(np.int16)), 256)
    return bool((goes <= 1).all() and goes.sum() >= _FEWEST_COUNTED)


def is_bit_of_number(column: np.ndarray, mask: int, *, is_close: bool) -> bool:
    """Say whether a bit is one of a number: of what is beside it in its byte, flags are no more than a few.

    What flows is nought at rest, and many things on the way. Of another weight's bytes, each load makes
    something else; beside a number, bits of a counter may stand with its sign.

    :param mask: the bit; all of the byte where it is no bit
    :param is_close: whether the byte stands beside the number whose sign it may be
    """
    if mask == 0xFF:
        return False
    if goes_by_one(column):
        return True
    rest = column & ~np.uint8(mask)
    tally = np.bincount(rest)
    if not is_close and (often := _often(tally)).size > _OF_TWO_STATES and _varied(often) > FLAGS:
        return True
    many = _OF_THREE_FLAGS + _OF_DAMAGE * column.size
    return bool(tally.max() > _REST * column.size and (tally > 0).sum() > many)


def goes_by_one(column: np.ndarray) -> bool:
    """Say whether a byte is all of some numbers that follow on each other, as a voltage that flickers is.

    Flags as well are all of some, but with none of them set among those, or with all.
    """
    codes = _often(np.bincount(column))
    if codes.size < _FEWEST_IN_ROW or np.ptp(codes) != codes.size - 1:
        return False
    bits = int(np.bitwise_or.reduce(codes ^ codes[0]))
    return bool(codes[0] & bits and codes[-1] & bits != bits)


def _varied(codes: np.ndarray) -> int:
    """Give how many bits differ among some codes."""
    return int(np.bitwise_or.reduce(codes ^ codes[0])).bit_count() if codes.size else 0


def _often(tally: np.ndarray) -> np.ndarray:
    """Give what a byte is more often than damage makes it, of how often it is each; shape (m,)."""
    return np.flatnonzero(tally >= max(3, 0.01 * tally.sum()))
