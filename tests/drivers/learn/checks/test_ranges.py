"""What a check covers, as far as the frames tell."""

from __future__ import annotations

import random
import struct
from functools import reduce

import numpy as np
import pytest

from drivers.learn.checks.check import Check
from drivers.learn.checks.check_search import find_check
from tests.drivers.learn.made_checks import crc
from tests.drivers.learn.small import learned, reads, xor


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


def sent(frame: bytes, rng: random.Random, *, is_damaged: bool) -> bytes:
    """The frame as it arrives: one bit of a damaged one is another one."""
    arrived = bytearray(frame)
    if is_damaged:
        arrived[rng.randrange(len(frame))] ^= 1 << rng.randrange(8)
    return bytes(arrived)


def found_in(frames: list[bytes]) -> Check:
    """The check of frames whose bytes 1 to 3 are the weight."""
    rows = np.frombuffer(b"".join(frames), dtype=np.uint8).reshape(len(frames), -1)
    check = find_check(rows, frozenset((1, 2, 3)), 0)
    assert check is not None
    return check


@pytest.mark.parametrize("kind", ["xor8", "sum8"])
def test_what_is_refused_below_nought_shows_that_the_highest_byte_is_not_covered(kind: str):
    rng, frames = random.Random(4), []
    for n in range(600):
        weight = -rng.randrange(1, 9) if n % 40 == 7 else rng.randrange(60_000)
        body = bytes([n % 256]) + weight.to_bytes(3, "big", signed=True) + rng.randbytes(2)
        checked = body[2:]
        check = reduce(int.__xor__, checked) if kind == "xor8" else sum(checked) % 256
        frames.append(sent(body + bytes([check]), rng, is_damaged=n % 80 == 20))
    found = found_in(frames)
    assert (found.kind, found.start, found.stop) == (kind, 2, 6)


def test_a_check_over_all_of_a_weight_that_is_never_below_nought_stays_so():
    rng, frames = random.Random(4), []
    for n in range(600):
        body = bytes([n % 256]) + rng.randrange(60_000).to_bytes(3, "big") + rng.randbytes(2)
        frames.append(sent(body + bytes([reduce(int.__xor__, body[1:])]), rng, is_damaged=n % 40 == 20))
    found = found_in(frames)
    assert (found.kind, found.start, found.stop) == ("xor8", 1, 6)


def test_a_sum_that_begins_with_nothing_covers_less_than_one_with_a_beginning_of_its_own():
    """Of five digits before the check, the first has always been nought, and is not covered."""
    rng, frames = random.Random(4), []
    for n in range(600):
        digits = b"%03d" % rng.randrange(1, 90)
        body = bytes([0x5A]) + digits + bytes([n % 256])
        frames.append(sent(body + bytes([sum(body[2:]) % 256]), rng, is_damaged=n % 80 == 20))
    found = found_in(frames)
    assert (found.kind, found.start, found.stop, found.init) == ("sum8", 2, 5, 0)


def test_what_is_refused_alike_shows_that_a_sign_beside_the_weight_is_not_covered():
    rng, frames = random.Random(4), []
    for n in range(900):
        minus = n % 150 == 7
        weight = 1 if minus else rng.randrange(60_000)
        covered = bytes([n % 256]) + weight.to_bytes(3, "big")
        check = bytes([sum(covered) % 256])
        frames.append(sent(covered + bytes([minus]) + check, rng, is_damaged=n % 40 == 20))
    found = found_in(frames)
    assert (found.kind, found.start, found.stop) == ("sum8", 0, 4)


def test_what_is_refused_in_many_ways_is_damage():
    rng, frames = random.Random(4), []
    for n in range(900):
        covered = bytes([n % 256]) + rng.randrange(60_000).to_bytes(3, "big") + b"\x0f"
        frames.append(sent(covered + bytes([sum(covered) % 256]), rng, is_damaged=n % 20 == 10))
    found = found_in(frames)
    assert (found.kind, found.start, found.stop) == ("sum8", 0, 5)


def test_of_bytes_that_make_nought_together_the_first_is_the_check_where_the_last_ones_stay():
    """The last one that changes is the check of the rest as well, and begins with the fixed ones."""
    rng, frames = random.Random(4), []
    for n in range(600):
        body = rng.randrange(60_000).to_bytes(3, "big") + rng.randbytes(4) + bytes([0x0F, 0x7D, 0x03])
        frames.append(sent(bytes([-sum(body) % 256]) + body, rng, is_damaged=n % 80 == 20))
    found = found_in(frames)
    assert (found.kind, found.at, found.start, found.stop, found.init) == ("lrc", 0, 1, 11, 0)


def test_a_check_begins_behind_the_highest_byte_of_a_clock_that_it_does_not_cover():
    """That is nought for the first 65 s, and a check over it holds as well."""

    def packet(g: float, n: int) -> bytes:
        covered = struct.pack(">hBH", round(10 * g), n % 251, 7 * n % 999)
        return (75 * n).to_bytes(3, "little") + covered + xor(covered)

    found = learned(packet, (0.0, 50.0, 500.0, 100.0), 0.0)
    assert reads(found, packet(354.7, 1000)) == [354.7]


def test_a_cyclic_check_that_refuses_what_is_below_nought_does_not_cover_the_sign_beside_the_weight():
    """Over what stays before the weight it may go or not: what it begins with is another one then."""
    rng, frames = random.Random(4), []
    for n in range(400):
        weight = bytes.fromhex(f"{rng.randrange(10_000):04d}")
        check = crc(weight, 8, 0x9B, 0x00, 0, 0x00)
        frames.append(b"\x49" + rng.randbytes(3) + b"\x00" + (b"N" if n % 20 == 7 else b"P") + weight)
        frames[-1] += bytes([check])
    rows = np.frombuffer(b"".join(frames), dtype=np.uint8).reshape(len(frames), -1)
    check = find_check(rows, frozenset((5, 6, 7)), 0)
    assert check is not None
    assert (check.kind, check.start, check.stop, check.init, check.xorout) == ("crc8", 6, 8, 0, 0)
