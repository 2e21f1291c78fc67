"""Several messages of a stream that always come one behind the other, taken for one frame: which is which.

They begin alike, and each has its own check. A sum over all of them holds as well, and their frame leaves out
what comes between them now and then.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.checks.check import Check
from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.number import Number
from drivers.learn.outside.headers import places_of
from drivers.learn.packets.arrays import Frames
from drivers.learn.packets.kinds import beginning, fixed_bytes, is_header_like

_OFTEN, _AS_OFTEN, _TRIED = 0.45, 0.97, 4
"""Other frames for each of those that were chosen, at least, and where nothing else speaks for them; and how
many of those ways are tried.
"""

_LONGEST_HEADER, _LONGEST_END = 5, 2
"""Bytes that a check does not cover before what it does, and behind itself."""

_RUN = 3
"""Bytes with which two messages begin alike hardly by chance."""

_SHORTEST, _USUAL = 5, 0.6
"""Bytes of a message with a check; share of frames in which what begins one is at the same place."""


def own_message(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit | None:
    """Give the same number in the one of several messages that holds it; None where it is one.

    A message ends where the byte comes again that it begins with. It has a check, or begins with a run of
    bytes that the next one begins with as well.
    """
    kind = one.kind
    if not kind.is_cut or kind.terminator or kind.selectors or kind.begins is None:
        return None
    found = [
        (_likelihood(check, frames), first, end)
        for first, end in _parts(fixed_bytes(kind.frames, _USUAL), places_of(one))
        if (check := _check_of(one, frames := kind.frames[:, first:end], first)) is not None
    ]
    if found:
        _, first, end = max(found)
    elif (run := from_run_to_run(fixed_bytes(kind.frames), places_of(one))) is not None:
        first, end = run
    else:
        return None
    part = replace(
        kind, frames=kind.frames[:, first:end], begins=kind.begins + first, part_of=None
    ).seen_with(loads)  # fmt: skip
    return fit(part, _moved(one.number, first), loads, quantity) if part is not None else None


def closed_messages(best: Fit, copies: Sequence[Fit]) -> list[Fit]:
    """Give the same number in other frames that come as often and end in a check of their own, if any.

    What was taken for a frame, and does not, is a part of that message, or it and others that follow.
    """
    kind = best.kind
    if not kind.is_cut or kind.terminator or _closing(best) is not None:
        return []
    others = [
        one for one in copies
        if one.kind.is_cut and not one.kind.terminator and one.kind.stream == kind.stream
        and one.kind.length != kind.length and len(one.kind.frames) > _OFTEN * len(kind.frames)
        and (one.number.encoding, one.scale) == (best.number.encoding, best.scale)
    ]  # fmt: skip
    others.sort(key=lambda one: (-beginning(one.kind.frames), one.kind.length))
    enough = _AS_OFTEN * len(kind.frames)
    # An exclusive or of several messages is right as well, each of which has its own.
    return [
        one for one in others[:_TRIED]
        if (check := _closing(one)) is not None
        and (check.poly or one.kind.length < kind.length or len(one.kind.frames) > enough)
    ]  # fmt: skip


def _closing(one: Fit) -> Check | None:
    """Give the check that frames end in, over all behind their first bytes; None where there is none."""
    check = find_check(one.kind.frames[rows_in_place(one)], places_of(one), 0)
    return check if check is not None and _closes(check, one.kind.length) else None


def _closes(check: Check, length: int) -> bool:
    if not check.is_plain or check.stop != check.at or check.start > _LONGEST_HEADER:
        return False
    return check.at + check.width >= length - _LONGEST_END


def from_run_to_run(fixed: list[int | None], taken: frozenset[int]) -> tuple[int, int] | None:
    """Give where a message begins, and the next one behind the number, by the first bytes that both have.

    A frame that begins there with those bytes is one message by itself.

    :param taken: places of the number
    """
    before = [at for at in range(1, min(taken) - _RUN + 1) if _begins(fixed[at : at + _RUN])]
    for first in reversed(before):
        behind = range(max(taken) + 1, len(fixed) - _RUN + 1)
        end = next((at for at in behind if fixed[at : at + _RUN] == fixed[first : first + _RUN]), None)
        if end is not None:
            return first, end
    return None


def _begins(run: list[int | None]) -> bool:
    """Say whether bytes that stay are several, and the first one looks like that of a message."""
    return None not in run and len({*run}) > 1 and is_header_like(run[0] or 0)


def _check_of(one: Fit, frames: Frames, first: int) -> Check | None:
    return find_check(frames, _moved(one.number, first).covers, 0)


def _moved(number: Number, first: int) -> Number:
    """Give a number's place in frames that begin later; what its sign is, is looked for anew."""
    return replace(number, offset=number.offset - first, sign=None, decimals_at=-1)


def _likelihood(check: Check, frames: Frames) -> tuple[bool, bool, float]:
    """Say how much a message begins as one does: its check begins there, or it looks like a beginning."""
    return _closes(check, frames.shape[1]), check.is_plain and check.start == 0, beginning(frames)


def _parts(fixed: list[int | None], taken: frozenset[int]) -> list[tuple[int, int]]:
    """Give the parts around a number, each from a byte that headers begin with to where it comes again.

    :param taken: places of the number
    """
    counts = Counter(byte for byte in fixed if byte is not None)
    parts = list[tuple[int, int]]()
    for byte, count in counts.items():
        if count < 2 or byte in (0xFF, 0x00) or not is_header_like(byte):
            continue
        places = [at for at, each in enumerate(fixed) if each == byte]
        first = max((at for at in places if at < min(taken)), default=-1)
        end = min((at for at in places if at > max(taken)), default=len(fixed))
        # What is left out are messages as well, which are not always the same.
        before, behind = fixed[: max(first, 0)], fixed[end:]
        is_end = before == fixed[end - len(before) : end]  # of the message before: this one ends so as well
        is_part = None in before or (is_end and None in behind)
        if first >= 0 and end - first >= _SHORTEST and is_part:
            parts.append((first, end))
    return sorted(parts)
