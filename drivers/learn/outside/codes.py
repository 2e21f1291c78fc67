"""A byte that is one of several codes in the messages that hold the load: one at rest, another in motion.

Messages picked out by the code of rest read well, and leave out all that move. Those with another code there
are of the same kind where their numbers run on from them; of another kind where they contradict the load.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from drivers.learn.captures.capture import Load
from drivers.learn.numbers.fitting import Fit
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import has_mark, places_of
from drivers.learn.outside.picking import frames_at, goes_on, places_found
from drivers.learn.packets.arrays import Marks
from drivers.learn.packets.framing import ByteStream
from drivers.learn.packets.kinds import Kind, on_way

_LAST_TELLING, _MOST_CODES, _MOST_OTHERS = 10, 4, 12
"""The last place of a code; how many name messages that hold the load, and how many there are in all."""

_FEWEST, _FEWEST_CHECKED, _FEW, _FEWEST_AT_REST = 8, 4, 3, 3
"""Messages with a code that are no damage, where no check tells and where one does; what those say that are
of a state; and messages at rest that show that they are of another kind."""

_AS_A_RULE = 0.8
"""Share of the frames before which stands the same byte."""

_RUNS_ON, _CONTRADICTS = 0.8, 0.5
"""Share of the messages with a code that run on from the others, at least and at most."""


def with_codes(
    one: Fit, outside: Outside, joined: ByteStream | None, loads: Sequence[Load]
) -> Iterator[tuple[Kind, Outside]]:
    """Give the messages that hold the load by all codes that a byte has in them, where it is one of several.

    :param joined: the stream, for frames that were cut out of one
    :returns: those, and what they begin with; once for each byte that may be such a code
    """
    kind = one.kind
    if kind.terminator or kind.make is not None:
        return
    taken = places_of(one) | (outside.check.places if outside.check else frozenset())
    last = min(_LAST_TELLING, outside.length - len(outside.terminator))
    for place in sorted(set(range(last)) - taken):
        is_told = place < len(outside.header) and outside.header[place] is not None
        header = [*outside.header, *[None] * (place + 1 - len(outside.header))]
        usual, header[place] = header[place], None
        begin = replace(outside, header=tuple(header))
        if joined is not None and outside.check is None and not has_mark(header):
            continue  # nothing else tells where a frame begins
        if (every := _begun(one, begin, joined, loads)) is None:
            continue
        usual = _usual(every, one, place) if usual is None else usual
        codes = _sorted_out(every, one, place, usual, outside, loads)
        if codes is not None and place == 0 and _ends_frame_before(codes.same, outside, joined):
            continue
        if codes is None or not (codes.same if is_told else codes.others and not codes.unclear):
            continue
        rows = np.isin(every.frames[:, place], (usual, *codes.same))
        header[place] = usual
        told = replace(outside, header=tuple(header), codes=tuple((place, code) for code in codes.same))
        if len(codes.same) < _MOST_CODES and (seen := _some(every, rows, loads)) is not None:
            yield seen, told


def _ends_frame_before(codes: Sequence[int], outside: Outside, joined: ByteStream | None) -> bool:
    """Say whether what some frames seem to begin with is what ends those before: their first byte is lost."""
    if joined is None or not codes:
        return False
    begins = places_found(outside, joined)
    tally = np.bincount(joined.data[begins[begins > 0] - 1], minlength=256)
    return bool(tally.max() > _AS_A_RULE * tally.sum() and int(tally.argmax()) in codes)


class _Codes(NamedTuple):
    """What a byte is in messages that hold the load, in those that do not, and where that is not clear."""

    same: list[int]
    others: list[int]
    unclear: list[int]


def _begun(one: Fit, outside: Outside, joined: ByteStream | None, loads: Sequence[Load]) -> Kind | None:
    """Give all messages that begin in a way, and are in order."""
    if joined is not None:
        begins = places_found(outside, joined)
        every = frames_at(begins, outside.length, one.kind, joined, loads)
        return replace(every, selectors=(), part_of=None) if every is not one.kind else None
    whole = one.kind.whole
    if not isinstance(whole, Kind):
        return None
    rows = outside.begins(whole.frames)
    if outside.check is not None:
        rows &= outside.check.holds(whole.frames)
    return _some(replace(whole, selectors=(), part_of=None), rows, loads)


def _some(kind: Kind, rows: Marks, loads: Sequence[Load]) -> Kind | None:
    some = replace(kind, frames=kind.frames[rows], time_s=kind.time_s[rows], begins=None, part_of=None)
    return some.seen_with(loads)


def _usual(every: Kind, one: Fit, place: int) -> int:
    """Give the code of most messages that hold the load at rest."""
    rest = np.concatenate(every.settled)
    rest = rest[goes_on(every, one)[rest]]
    return int(np.bincount(every.frames[rest, place], minlength=256).argmax())


def _sorted_out(
    every: Kind, one: Fit, place: int, usual: int, outside: Outside, loads: Sequence[Load]
) -> _Codes | None:
    """Sort the other codes of a byte by what their messages hold; None where there are too many, or none.

    :param usual: the code of messages that hold the load
    """
    column = every.frames[:, place]
    fewest = _FEWEST if outside.check is None else _FEWEST_CHECKED
    often = np.flatnonzero(np.bincount(column, minlength=256) >= fewest)
    if not 1 < often.size <= _MOST_OTHERS:
        return None
    codes = _Codes([], [], [])
    for code in often[often != usual].tolist():
        both = _some(every, np.isin(column, (usual, code)), loads)
        if both is None:
            return None
        these, runs_on = both.frames[:, place] == code, goes_on(both, one)
        if runs_on[these].mean() > _RUNS_ON and np.unique(one.number.values(both.frames[these])).size > _FEW:
            codes.same.append(code)
        elif _contradict(both, these, runs_on):
            codes.others.append(code)
        else:
            codes.unclear.append(code)
    return codes


def _contradict(kind: Kind, these: Marks, runs_on: Marks) -> bool:
    """Say whether some messages come while loads are at rest, at several of them, and seldom hold any.

    Those that run on wherever the load moves are of a pan that was touched at rest.
    """
    at_rest = [rows[these[rows]] for rows in kind.settled]
    rows = np.concatenate(at_rest)
    moves = these & on_way(kind)
    if moves.sum() >= _FEW and runs_on[moves].mean() > _RUNS_ON:
        return False
    is_denied = sum(bool((~runs_on[some]).any()) for some in at_rest) > 1
    return bool(is_denied and rows.size >= _FEWEST_AT_REST and runs_on[rows].mean() <= _CONTRADICTS)
