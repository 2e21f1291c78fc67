"""A stream of bytes cut into frames: what repeats, at which distance, and where a frame may begin.

Nothing says beforehand how long a frame is or what it begins with. Bytes that are the same in every frame
come again and again at the frame's own length; each short run of them is tried as a landmark, and the one
after which the stream falls into pieces of the fewest lengths is the best.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from drivers.decoders.lines import split_lines
from drivers.learn.packets.arrays import Floats, Frames, Places
from drivers.learn.packets.kinds import (
    FEWEST,
    LINE_ENDS,
    MARKS,
    TEXT,
    Kind,
    before_end,
    beginning,
    fixed_bytes,
    is_header_like,
    with_parts,
)
from drivers.learn.packets.landmarks import (
    LONGEST,
    SHORTEST,
    Landmark,
    are_blocks,
    are_scattered,
    differ_by_one,
    is_alone_between,
    landmark_at,
    landmarks_of,
)
from drivers.learn.packets.pauses import arrival_starts, between_pauses, burst_starts, of_several_blocks

_MOST_WAYS, _MOST_IN_PARTS = 16, 8
_ALWAYS, _END_BYTES = 0.955, 2
_SEVERAL = 1.8
"""Shorter frames for every longer one that are no parts of it: it takes in several, and another message."""
_FIRST_MARKS, _LAST_MARKS = MARKS[:2], MARKS[2:]
_NEARLY_ALL = 0.9


@dataclass(frozen=True, eq=False)
class ByteStream:
    """Bytes in the order of their arrival.

    :param data: shape (n,)
    :param time_s: when each arrived, shape (n,)
    """

    stream: int
    data: Frames
    time_s: Floats


def stream_of(stream: int, arrivals: list[tuple[float, bytes]]) -> ByteStream:
    """Join what arrived in pieces."""
    data = np.frombuffer(b"".join(piece for _, piece in arrivals), dtype=np.uint8)
    sizes = np.array([len(piece) for _, piece in arrivals], dtype=np.int64)
    times = np.repeat(np.array([time_s for time_s, _ in arrivals], dtype=np.float64), sizes)
    return ByteStream(stream, data, times)


def is_text(data: Frames) -> bool:
    """Say whether a stream is lines of text, each with its end, or between marks, as STX and ETX."""
    if data.size < 40 or TEXT[data].mean() <= 0.97:
        return False
    return _have_ends(data) or _are_between_marks(data)


def _have_ends(data: Frames) -> bool:
    return int(np.isin(data, LINE_ENDS).sum()) * LONGEST >= data.size


def _are_between_marks(data: Frames) -> bool:
    """Say whether one text begins where another ends, with a mark or always alike; a check would not."""
    ends = np.flatnonzero(np.isin(data[:-1], _LAST_MARKS))
    if not ends.size or len(ends) * LONGEST < data.size:
        return False
    firsts = data[ends + 1]
    alike = np.bincount(firsts).max() / firsts.size
    return bool(max(np.isin(firsts, _FIRST_MARKS).mean(), alike) > _NEARLY_ALL)


def line_kinds(stream: ByteStream, checked: int = 0) -> Iterator[Kind]:
    """Give the kinds of lines of one length, with their ends.

    :param checked: how many characters before the end are a check
    """
    data, ends = stream.data, _line_ends(stream.data, LINE_ENDS if _have_ends(stream.data) else _LAST_MARKS)
    starts = np.concatenate(([0], ends[:-1]))
    lengths = ends - starts
    for length in np.unique(lengths):
        which = np.flatnonzero(lengths == length)
        if which.size < FEWEST or length < 4:
            continue
        frames = data[starts[which][:, None] + np.arange(length)]
        end = bytes(frames[0][-2:]) if bytes(frames[0][-2:]) in (b"\r\n", b"\n\r") else bytes(frames[0][-1:])
        kind = Kind(
            stream.stream, stream.time_s[ends[which] - 1], frames, (), which.size / len(lengths), True, end,
            checked=before_end(frames, checked),
        )  # fmt: skip
        yield from with_parts(kind)


def lines_of(stream: ByteStream) -> list[tuple[float, bytes]]:
    """Give the lines of a stream, without their ends and marks, each with the time of its end."""
    data, ends = stream.data.tobytes(), _line_ends(stream.data, (*LINE_ENDS, *MARKS))
    starts = [0, *ends[:-1].tolist()]
    return [
        (float(stream.time_s[end - 1]), without_ends(data[start:end]))
        for start, end in zip(starts, ends.tolist(), strict=True)
    ]


def lines_in(packet: bytes) -> list[bytes]:
    """Give the lines of a packet, each without its end and marks, whether it has one or not."""
    return [without_ends(line) for line in split_lines(packet + b"\n")[1]]


def without_ends(line: bytes) -> bytes:
    """Take a line's end off, and the marks around it."""
    return line.strip(bytes((*LINE_ENDS, *MARKS)))


def _line_ends(data: Frames, those: tuple[int, ...]) -> Places:
    """Give the places behind each line's end, which may be several bytes."""
    is_end = np.isin(data, those)
    following = np.concatenate((is_end[1:], [False]))
    return np.flatnonzero(is_end & ~following) + 1


def frame_kinds(stream: ByteStream) -> Iterator[Kind]:
    """Give the kinds of frames that a stream may consist of, each with all ways to say where it begins."""
    data = stream.data
    if data.size < 5 * FEWEST:
        return
    bursts = burst_starts(stream.time_s)
    first = landmark_at(bursts, data.size) if bursts.size >= FEWEST else None
    landmarks = landmarks_of(data)
    are_anywhere = are_scattered(bursts, landmarks)
    if first is not None and (are_anywhere or (differ_by_one(first) and are_blocks(first, landmarks))):
        first = None
    is_alone = first is not None and is_alone_between(first) and not are_blocks(first, landmarks)
    ways = _ways_to_cut(data, landmarks, first, is_alone)
    if first is not None and is_alone:
        places = [way for way in ways if way[1] == first.lengths[0] and np.isin(way[0], bursts).mean() > 0.9]
    elif are_anywhere:
        places = ways
    else:
        # What was read at once begins with a frame, or is cut anywhere; then only long pauses tell.
        places = between_pauses(ways, arrival_starts(stream.time_s))
        places = between_pauses(ways, bursts) if places is ways else places
        places = places if places is ways else [*places, *of_several_blocks(ways, bursts, data)]
    whole = [
        (at, length) for at, length in places if not any(_is_inside(at, length, *other) for other in places)
    ]
    found = [_kind_at(stream, at, length) for at, length in whole]
    found = [kind for kind in found if not _is_doubled(kind)]
    found.sort(
        key=lambda kind: (
            -math.log(len(kind.frames)) - 0.5 * math.log(kind.length) - 0.3 * beginning(kind.frames)
        )
    )
    for place, kind in enumerate(found[:_MOST_WAYS]):
        yield from with_parts(kind) if place < _MOST_IN_PARTS else (kind,)


def _ways_to_cut(
    data: Frames, landmarks: list[Landmark], first: Landmark | None, is_alone: bool
) -> list[tuple[Places, int]]:
    """Give where frames may begin, and their length; of those that begin alike, the most.

    :param first: what comes after pauses
    :param is_alone: whether that alone is to be believed
    """
    best: dict[tuple[int, int, int], Places] = {}
    sure = set[tuple[int, int, int]]()
    for landmark in ([first] if first else []) + landmarks:
        for length in landmark.lengths:
            for way, at in _cut_at(data, landmark, length, is_pause=landmark is first):
                key = (length, _phase(at, length, data.size // 2), way)
                if key not in best or (best[key].size < at.size and key not in sure):
                    best[key] = at
                if landmark is first and is_alone:
                    sure.add(key)
    return [(at, length) for (length, *_), at in best.items()]


def _cut_at(data: Frames, landmark: Landmark, length: int, *, is_pause: bool) -> Iterator[tuple[int, Places]]:
    """Give the ways to cut a stream at a landmark: which places count, and where from them a frame begins."""
    for way, starts in enumerate(chained(landmark.places, length, data.size)):
        if starts.size < FEWEST:
            continue
        for shift in [0] if is_pause else _beginnings(_frames_at(data, starts, length)):
            at = starts + shift
            at = at[(at >= 0) & (at + length <= data.size)]
            if at.size >= FEWEST:
                yield way, at


def _phase(at: Places, length: int, middle: int) -> int:
    """Give where frames begin in the middle of a stream: elsewhere, what was lost has shifted them."""
    place = int(at[min(int(np.searchsorted(at, middle)), at.size - 1)])
    return (place - middle) % length if place < middle + 2 * length else place


def _kind_at(stream: ByteStream, at: Places, length: int) -> Kind:
    if at[0] == length:
        at = np.concatenate(([0], at))  # with the first frame of all, before which none ends
    frames = _frames_at(stream.data, at, length)
    return Kind(stream.stream, stream.time_s[at + length - 1], frames, (), 1.0, True, begins=at)


def _is_inside(at: Places, length: int, others: Places, longer: int) -> bool:
    """Say whether these are parts of longer frames that are not simply several of them."""
    if longer <= length or longer % length == 0 or at.size > _SEVERAL * others.size:
        return False
    before = np.searchsorted(others, at, side="right") - 1
    offset = at - others[np.maximum(before, 0)]
    return bool(((before >= 0) & (offset >= 0) & (offset + length <= longer)).mean() > 0.9)


def _is_doubled(kind: Kind) -> bool:
    """Say whether these are several frames taken for one: their parts have the same fixed bytes."""
    fixed = fixed_bytes(kind.frames)
    for parts in (2, 3, 4):
        size, rest = divmod(kind.length, parts)
        if rest or size < SHORTEST:
            continue
        both = [
            (a, b)
            for a, b in zip(fixed[:-size], fixed[size:], strict=True)
            if a is not None and b is not None
        ]
        alike = sum(a == b for a, b in both)
        begins_alike = fixed[0] is not None and fixed[0] == fixed[size] and fixed[1] == fixed[size + 1]
        if begins_alike and alike >= 0.7 * len(both):
            return True
    return False


def chained(places: Places, length: int, size: int) -> list[Places]:
    """Give the places that another one follows at a frame's distance, and with those that one comes before.

    Where messages of several lengths begin alike, the former are whole; where one kind alone has the mark,
    the latter are more.
    """
    marked = np.zeros(size + length + 1, dtype=bool)
    marked[places] = True
    whole = places[places + length <= size]
    followed = marked[whole + length] | (whole + length == size)
    after = apart(whole[followed], length)
    if followed.sum() > 0.85 * whole.size:
        return [after]  # what comes before a damaged frame ends as it should; what is damaged does not
    before = np.where(whole >= length, marked[whole - length], False)
    return [after, apart(whole[followed | before], length)]


def apart(places: Places, length: int) -> Places:
    """Leave out places inside the frame that begins before them."""
    if places.size < 2 or int(np.diff(places).min()) >= length:
        return places
    kept, end = [], -1
    for place in places.tolist():
        if place >= end:
            kept.append(place)
            end = place + length
    return np.array(kept, dtype=np.int64)


def _frames_at(data: Frames, starts: Places, length: int) -> Frames:
    return np.asarray(data[starts[:, None] + np.arange(length)])


def _beginnings(aligned: Frames) -> list[int]:
    """Give how far before or after a landmark a frame may begin: at each run of fixed bytes."""
    count, length = aligned.shape
    share = np.array([np.bincount(column).max() / count for column in aligned.T])
    fixed = share >= _ALWAYS
    fixed[0] = True
    usual = [int(np.bincount(column).argmax()) for column in aligned.T]
    shifts = []
    for place in range(length):
        begins_run = fixed[place] and not fixed[place - 1]
        before = usual[place - 1]
        is_behind = before in _LAST_MARKS or not is_header_like(before)
        begins_inside = fixed[place] and is_header_like(usual[place]) and is_behind
        if begins_run or begins_inside:
            shifts.append(place - length if place else 0)
        if 0 < place <= _END_BYTES and fixed[place]:
            shifts.append(place)  # behind the end of the frame before, whatever that was
    return shifts[:12] or [0]
