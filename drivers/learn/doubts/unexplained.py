"""What a description leaves unexplained: bytes that look like a check, lines of another length."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import numpy as np

from drivers.learn.captures.capture import Capture
from drivers.learn.checks.check import Check
from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import places_of
from drivers.learn.outside.picking import is_between
from drivers.learn.packets.arrays import Floats, Frames
from drivers.learn.packets.framing import ByteStream, apart
from drivers.learn.packets.kinds import Kind, fixed_bytes, has_loose_digits, is_line
from drivers.learn.packets.landmarks import LONGEST
from drivers.learn.weight.costs import has_own_loose_digits

_FEWEST_ALIKE, _AS_BEFORE = 24, 0.95
"""Packets that repeat earlier ones, and the share in which a check must be the same again."""

_FEWEST_LONGER, _OF_LONGER, _ON_WAY = 4, 0.018, 0.7
"""Longer messages with the load in them: how many, their share of those read, how many go with it."""

_NOW_AND_THEN, _FEWEST_ON_WAY, _NOT_LEFT_OUT = 0.3, 3, 1.5
"""What comes besides: how many of those that are read, and at least while the weight moves; and how far
apart those before and behind it are, in usual times between two."""

_PADDED = 0.01
"""Share of the lines with a nought in front, where numbers are padded."""

_FEWEST_KINDS = 4
_AS_A_RULE = 0.6
"""Share of the frames after which the same number of bytes is left out: other messages come now and then."""
_LETTER, _NOUGHT = ord("A"), ord("0")
_LINES_LEFT_OUT, _MOST_LONGER = 0.02, 8
_DECIMAL = re.compile(rb"(?:^|[^\s\d.+-]|\t)\d+\.\d", re.MULTILINE)
_SOME_LINES, _IN_MOST = 50, 0.9
"""Lines that are looked at; and share of them in which something stands, but for damage."""

_OF_NUMBERS = frozenset(b"0123456789ABCDEFabcdef+-. ")


def may_end_in_check(one: Fit, copies: Sequence[Fit]) -> bool:
    """Say whether the last bytes are another for every other packet, and the same again for the same.

    :param copies: other numbers that follow the load; their bytes are explained
    """
    frames = one.kind.frames[rows_in_place(one)]
    moving = [place for place, byte in enumerate(fixed_bytes(frames)) if byte is None]
    if len(moving) < 2:
        return False
    last, taken = moving[-1], set(places_of(one))
    known = [each for each in copies if each.scale is not None and each.kind.is_like(one.kind)]
    taken |= {place for each in known for place in each.number.covers}
    for places in ([last], [last - 1, last]):
        if taken & set(places):
            return False
        if _follows_from_rest(frames, places):
            return not _is_check_of_others(frames, last)
    return False


def _is_check_of_others(frames: Frames, last: int) -> bool:
    """Say whether the last byte is one of a check that leaves the number out: it says nothing of that."""
    check = find_check(frames, frozenset(), 0)
    return check is not None and last in check.places


def _follows_from_rest(frames: Frames, places: list[int]) -> bool:
    rest = np.delete(frames, places, axis=1)
    _, which, counts = np.unique(rest, axis=0, return_inverse=True, return_counts=True)
    which = which.reshape(-1)
    ends = frames[:, places].astype(np.int64) @ (256 ** np.arange(len(places)))
    again = np.flatnonzero(counts >= 3)
    alike, found = 0, set[int]()
    for each in again:
        kinds, often = np.unique(ends[which == each], return_counts=True)
        alike += int(often.max())
        found.add(int(kinds[often.argmax()]))
    repeated = int(counts[again].sum())
    if repeated < _FEWEST_ALIKE or alike < _AS_BEFORE * repeated:
        return False
    return len(found) >= max(_FEWEST_KINDS, 0.7 * again.size)


def may_be_longer(one: Fit, kinds: Sequence[Kind]) -> bool:
    """Say whether lines of one length are not all: others are made alike, or may come to be.

    :param kinds: all that came by the same way
    """
    return is_loose(one) or lines_left_out(one, kinds) > 0


def is_loose(one: Fit, check: Check | None = None) -> bool:
    """Say whether a line has a number that may come to have more digits, and is longer then."""
    taken = one.number.covers | (check.places if check is not None else frozenset())
    return has_loose_digits(one.kind, taken) or has_own_loose_digits(one) or _has_no_nought_in_front(one)


def has_no_room_for_sign(one: Fit) -> bool:
    """Say whether a line has a number with a point that always begins with a digit, right behind a separator.

    Below nought it is longer by a minus, if it ever is.
    """
    if not is_line(one.kind) or one.kind.make is not None or one.number.encoding != "ascii":
        return False
    lines = one.kind.frames[:: max(1, len(one.kind.frames) // _SOME_LINES)]
    return sum(_DECIMAL.search(line.tobytes()) is not None for line in lines) >= _IN_MOST * len(lines)


def _has_no_nought_in_front(one: Fit) -> bool:
    """Say whether nothing shows that digits 0 to F in a line are always as many: a nought in front does."""
    if one.number.encoding != "hex" or not is_line(one.kind):
        return False
    return bool((one.kind.frames[:, one.number.offset] == _NOUGHT).mean() < _PADDED)


def lines_left_out(one: Fit, kinds: Sequence[Kind]) -> int:
    """Count lines of other lengths that are made like those that are read, but for a sign more or less.

    :param kinds: all that came by the same way
    """
    if not is_line(one.kind) or one.kind.make is not None:
        return 0
    shape = _separators(one.kind)
    others = sum(
        len(kind.frames) for kind in kinds
        if is_line(kind) and kind.make is None and not kind.selectors and kind.length != one.kind.length
        and _are_alike(_separators(kind), shape)
    )  # fmt: skip
    return others if others > _LINES_LEFT_OUT * len(one.kind.frames) else 0


def _are_alike(one: bytes, other: bytes) -> bool:
    """Say whether two are the same, or one of them has one more, which tells a state."""
    shorter, longer = sorted((one, other), key=len)
    return shorter == longer or any(longer[:at] + longer[at + 1 :] == shorter for at in range(len(longer)))


def _separators(kind: Kind) -> bytes:
    """Give what stands between the numbers of most lines; a letter may be a state, and stands for any."""
    line = kind.frames[len(kind.frames) // 2].tobytes()
    return bytes(_LETTER if chr(byte).isalpha() else byte for byte in line if byte not in _OF_NUMBERS)


def longer_left_out(one: Fit, outside: Outside, capture: Capture, joined: ByteStream | None) -> int:
    """Count messages that hold the load at the same place as those that are read, and are longer.

    In packets, their length tells them; in a stream, how much stands between two frames that are read.

    :param joined: the stream, for frames that were cut out of one
    """
    if one.kind.terminator or one.kind.make is not None:
        return 0
    least = max(_FEWEST_LONGER, _OF_LONGER * len(one.kind.frames))
    groups = _longer_packets(one, capture) if joined is None else _longer_frames(one, outside, joined)
    counts = [
        (len(frames), _on_way(one, times, frames)) for times, frames in groups
        if len(frames) >= least and not _come_besides(one, times)
    ]  # fmt: skip
    return sum(count for of, count in counts if count >= max(least, _ON_WAY * of))


def is_read_in_part(one: Fit) -> bool:
    """Say whether frames that were cut out of a stream come again after more bytes than are read."""
    begins, length = one.kind.begins, one.kind.length
    if not one.kind.is_cut or begins is None or one.kind.terminator or one.kind.selectors:
        return False
    tally = np.bincount(np.clip(np.diff(begins), 0, 4 * LONGEST))
    return bool(tally.argmax() > length and tally.max() > _AS_A_RULE * len(begins))


def _longer_packets(one: Fit, capture: Capture) -> Iterator[tuple[Floats, Frames]]:
    """Give packets of each greater length that begin like those that are read, cut to their length."""
    length = one.kind.length
    first = fixed_bytes(one.kind.frames)[0]
    packets = [each for each in capture.of_stream(one.kind.stream) if len(each.data) > length]
    for size in {len(each.data) for each in packets}:
        some = [
            each for each in packets if len(each.data) == size and (first is None or each.data[0] == first)
        ]
        data = np.frombuffer(b"".join(each.data[:length] for each in some), dtype=np.uint8)
        yield np.array([each.time_s for each in some]), data.reshape(len(some), length)


def _longer_frames(one: Fit, outside: Outside, joined: ByteStream) -> Iterator[tuple[Floats, Frames]]:
    """Give what stands between two frames that are read and is one to some bytes longer than they are."""
    data, length = joined.data, one.kind.length
    solid = {place: byte for place, byte in enumerate(outside.header) if byte is not None}
    solid |= {length - len(outside.terminator) + at: byte for at, byte in enumerate(outside.terminator)}
    if not solid:
        return
    begins = np.ones(max(len(data) - length + 1, 0), dtype=bool)
    for place, byte in solid.items():
        begins &= data[place : place + len(begins)] == byte
    at = np.flatnonzero(begins)
    if outside.check is not None and at.size:
        at = at[outside.check.holds(np.asarray(data[at[:, None] + np.arange(length)]))]
    ends = apart(at, length) + length
    left_out = np.diff(ends) - length
    if not left_out.size:
        return
    usual = int(np.bincount(np.clip(left_out, 0, 4 * LONGEST)).argmax())  # never read, before and behind
    for size in range(length + 1, length + _MOST_LONGER + 1):
        those = ends[:-1][left_out == size + 2 * usual] + usual
        yield joined.time_s[those + length - 1], np.asarray(data[those[:, None] + np.arange(length)])


def _come_besides(one: Fit, times: Floats) -> bool:
    """Say whether messages repeat the weight now and then: none that is read is left out where one comes.

    Where the weight moves; at rest, what is sent only as it changes comes seldom anyhow.

    :param times: when they came, s
    """
    rows = rows_in_place(one)
    when, says = one.kind.time_s[rows], one.loads_of(one.number.values(one.kind.frames[rows]))
    after = np.clip(np.searchsorted(when, times), 1, len(when) - 1)
    moves = np.abs(np.diff(says)) > 3.0 * one.step + 8.0 * one.noise_units
    around = (after - 1)[moves[after - 1]]
    if len(times) > _NOW_AND_THEN * len(when) or around.size < _FEWEST_ON_WAY:
        return False
    gaps_s = np.diff(when)
    return bool(np.median(gaps_s[around]) < _NOT_LEFT_OUT * np.median(gaps_s[moves]))


def _on_way(one: Fit, times: Floats, frames: Frames) -> int:
    """Count frames whose number lies between those just before and after; none where all of it is nought."""
    rows = rows_in_place(one)
    when, says = one.kind.time_s[rows], one.loads_of(one.number.values(one.kind.frames[rows]))
    after = np.clip(np.searchsorted(when, times), 1, len(when) - 1)
    here, before, behind = one.loads_of(one.number.values(frames)), says[after - 1], says[after]
    reach = 3.0 * one.step + 8.0 * one.noise_units
    near = is_between(here, before, behind, reach)
    with np.errstate(invalid="ignore"):
        tells = np.abs(before) >= reach
    return int(near.sum()) if (near & tells).sum() > 0.5 * tells.sum() > 0 else 0
