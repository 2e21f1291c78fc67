"""What a check covers, as far as the frames tell."""

from __future__ import annotations

import random

import numpy as np

from drivers.learn.checks.check_search import find_check


def test_a_sum_with_a_beginning_of_its_own_covers_what_stays_before_it():
    """Damage in what stays is refused by a check that covers it, and not by one that does not."""
    rng, frames = random.Random(3), []
    for n in range(400):
        body = bytes([14, *rng.randrange(300_000).to_bytes(3, "big"), n % 256, 57, 0xFF, 0xFF])
        frame = bytearray(body + bytes([(sum(body) + 0x3A) % 256]) + b"\x03\n")
        if n % 80 == 20:
            frame[rng.randrange(5, 8)] ^= 1 << rng.randrange(8)
        frames.append(bytes(frame))
    rows = np.frombuffer(b"".join(frames), dtype=np.uint8).reshape(len(frames), -1)
    check = find_check(rows, frozenset((1, 2, 3)), 0)
    assert check is not None
    assert (check.kind, check.start, check.stop, check.init) == ("sum8", 0, 8, 0x3A)
