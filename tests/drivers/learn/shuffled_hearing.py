"""What becomes of made-up frames on their way: some are damaged, a stream is read in chunks cut anywhere."""

from __future__ import annotations

import numpy as np

from tests.drivers.learn.session import Sent


def damage(frames: list[tuple[bytes, Sent]], rng: np.random.Generator, *, is_joined: bool) -> None:
    """Damage 2 % of the frames: bits flipped, cut short, run together with the next, lost.

    :param is_joined: whether frames that run together lose bytes between them
    """
    for at in np.flatnonzero(rng.random(len(frames) - 1) < 0.02):
        data, one = frames[at]
        how = rng.integers(4)
        if one.damaged or not data:
            continue
        one.damaged = True
        if how == 0:
            broken = bytearray(data)
            for _ in range(rng.integers(1, 4)):
                broken[rng.integers(len(broken))] ^= 1 << int(rng.integers(8))
            data = bytes(broken)
        elif how == 1:
            data = data[: rng.integers(len(data))]
        elif how == 2 and frames[at + 1][1].stream == one.stream:
            following, other = frames[at + 1]
            other.damaged = True
            cut = int(rng.integers(1, 4)) if is_joined else 0
            data, frames[at + 1] = data[: len(data) - cut] + following[cut:], (b"", other)
        else:
            data = b""
        frames[at] = (data, one)


def in_chunks(frames: list[tuple[bytes, Sent]], tail: bytes, rng: np.random.Generator) -> list[Sent]:
    """Cut the stream of bytes where the computer happened to read.

    :param tail: what a frame ends with; it may be read without
    """
    sent: list[Sent] = []
    waiting: list[tuple[int, Sent]] = []
    whole = b"".join(data for data, _ in frames)
    way, at = str(rng.choice(["frame by frame", "anywhere", "several"])), 0
    for end, (data, one) in zip(np.cumsum([len(data) for data, _ in frames]), frames, strict=True):
        waiting.append((end - len(tail), one))
        if way == "several" and rng.random() < 0.5:
            continue
        cut = int(end - (rng.integers(0, max(1, len(data))) if way == "anywhere" else 0))
        if cut > at:
            sent.append(Sent(one.time_s, 0, whole[at:cut]))
            at = cut
        for _, each in (pair for pair in waiting if pair[0] <= at):
            sent.append(Sent(one.time_s, 0, b"", each.shown_g, each.damaged))
        waiting = [pair for pair in waiting if pair[0] > at]
    return sent
