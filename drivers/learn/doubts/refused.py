"""What a description refuses of its own stream, and whether damage or messages of another kind explain it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.checked_lines import described_lines
from drivers.described import Description
from drivers.learn.captures.capture import Capture
from drivers.learn.description.proving import Incremental
from drivers.learn.numbers.fitting import Fit
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.picking import places_found
from drivers.learn.packets.framing import ByteStream, lines_of
from drivers.learn.packets.kinds import SETTLED_FROM

_DAMAGED, _A_FEW = 0.06, 3
"""Share of messages that damage may take, and one that was going on at either end."""

_FEW_KINDS, _FEW_LENGTHS, _NEARLY_ALL = 4, 2, 0.8
"""Kinds of other messages, or lengths where nothing else tells them; and the share of them that are so."""

_WHILE_MOVING, _TIMES = 0.1, 4.0
"""Share of messages that are refused while the load changes, and how much oftener than at rest that is."""

Message = tuple[float, bytes]


def doubt_of_refused(
    description: Description, capture: Capture, one: Fit, outside: Outside, joined: ByteStream | None
) -> str:
    """Say that too much is refused to be damage, or messages of another kind; nothing where it is not.

    Those come whether the load changes or not, and are alike by what they begin with or by their length:
    pieces of messages are neither.

    :param joined: the stream, for frames or lines that were cut out of one
    """
    read, refused = _messages(description, capture, one, outside, joined)
    # Several may stand one behind the other: as many as would be as long as a frame.
    several = [max(1, len(data) // outside.length) if joined is not None else 1 for _, data in refused]
    left, count = sum(several), len(read) + sum(several)
    if left <= _DAMAGED * count + _A_FEW:
        return ""
    if not _are_of_few_kinds([data for _, data in refused], is_stream=joined is not None):
        return f"{left} of {count} messages are refused, and unlike each other: no other kind is so."
    alike = [(when, data) for when, data in refused if _is_as_read(data, one)]
    every = [when for (when, _), often in zip(refused, several, strict=True) for _ in range(often)]
    for some in (every, [when for when, _ in alike]):
        if _come_while_moving(read, some, capture):
            return f"{len(some)} of {count} messages are refused, nearly all of them while the load changes."
    return ""


def _is_as_read(data: bytes, one: Fit) -> bool:
    """Say whether a message is as long as those that are read, and begins as they do: it is no other kind."""
    frames = one.kind.frames
    return len(data) == frames.shape[1] and data[0] == np.bincount(frames[:, 0]).argmax()


def _come_while_moving(read: Sequence[float], refused: Sequence[float], capture: Capture) -> bool:
    """Say whether what is refused comes while the load changes, and hardly ever else.

    :param read: when something was read, s
    :param refused: when something was refused, s
    """
    when = np.array([*read, *refused])
    is_refused = np.arange(when.size) >= len(read)
    at_rest = _are_at_rest(when, capture)
    if at_rest.all() or not at_rest.any():
        return False
    moving, still = is_refused[~at_rest].mean(), is_refused[at_rest].mean()
    return bool(moving > _WHILE_MOVING and moving > _TIMES * still)


def _messages(
    description: Description, capture: Capture, one: Fit, outside: Outside, joined: ByteStream | None
) -> tuple[list[float], list[Message]]:
    """Give the times of the messages that are read, and those that are refused."""
    if joined is None:
        return _packets(description, capture, one.kind.stream)
    if description.lines is not None:
        is_read = described_lines(description).reads
        lines = lines_of(joined)
        return [when for when, line in lines if is_read(line)], [
            (when, line) for when, line in lines if not is_read(line)
        ]
    begins = places_found(outside, joined)
    ends = begins + outside.length
    gaps = zip([0, *ends.tolist()], [*begins.tolist(), len(joined.data)], strict=True)
    between = [
        (float(joined.time_s[end - 1]), joined.data[start:end].tobytes())
        for start, end in gaps
        if end > start
    ]
    return joined.time_s[ends - 1].tolist(), between


def _packets(description: Description, capture: Capture, stream: int) -> tuple[list[float], list[Message]]:
    incremental = Incremental(description, capture)
    read, refused = [], []
    for arrival in capture.of_stream(stream):
        if any(value is not None for _, value in incremental.push(arrival)):
            read.append(arrival.time_s)
        else:
            refused.append((arrival.time_s, arrival.data))
    return read, refused


def _are_of_few_kinds(refused: Sequence[bytes], *, is_stream: bool) -> bool:
    """Say whether messages are alike: of a few lengths, or such as begin with the same byte.

    :param is_stream: whether several may stand one behind the other, and have the first one's beginning only
    """
    firsts = Counter((0 if is_stream else len(data), data[:1]) for data in refused)
    lengths = Counter(len(data) for data in refused)
    few = ((firsts, _FEW_KINDS), (lengths, _FEW_KINDS if is_stream else _FEW_LENGTHS))
    return any(
        sum(count for _, count in each.most_common(most)) > _NEARLY_ALL * len(refused) for each, most in few
    )


def _are_at_rest(when: NDArray[np.float64], capture: Capture) -> NDArray[np.bool_]:
    at_rest = np.zeros(when.size, dtype=bool)
    for load in capture.loads:
        first_s = load.start_s + SETTLED_FROM * (load.end_s - load.start_s)
        at_rest |= (when >= first_s) & (when <= load.end_s)
    return at_rest
