"""The checks that lines of text end with: found where there is one, and used to refuse what is damaged."""

from __future__ import annotations

import random
from functools import reduce
from operator import xor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.decoders.checksums import crc8
from drivers.decoders.frame_shapes import checksum_test
from drivers.learn.checks import line_check
from drivers.learn.checks.line_check import find_line_check
from tests.drivers.decoders.written_frames import cyclic
from tests.drivers.learn.small import learned, reads

CHECKS = {
    "sum": (2, lambda data: sum(data) % 256),
    "exclusive or": (2, lambda data: reduce(xor, data, 0)),
    "two's complement of the sum": (2, lambda data: -sum(data) % 256),
    "complement of the sum": (2, lambda data: ~sum(data) % 256),
    "sum that begins with something": (2, lambda data: (sum(data) + 0x5A) % 256),
    "sum of 16 bits": (4, lambda data: sum(data) % 65536),
    "CRC-8": (2, lambda data: cyclic(data, 8, 0x07, 0x00, False, False, 0x00)),
    "CRC-8 of a usual beginning": (2, lambda data: cyclic(data, 8, 0x1D, 0xFD, False, False, 0x00)),
    "CRC-8, lowest bit first": (2, lambda data: cyclic(data, 8, 0x31, 0x00, True, True, 0x00)),
    "CRC-16": (4, lambda data: cyclic(data, 16, 0x1021, 0xFFFF, False, False, 0x0000)),
    "CRC-16, lowest bit first": (4, lambda data: cyclic(data, 16, 0x8005, 0xFFFF, True, True, 0xFFFF)),
}


def lines_of(name: str, made: str, apart: str, left_out: int, start: int, seed: int) -> list[bytes]:
    """Give lines as an instrument sends them, one in forty of them damaged.

    :param made: what stands around the number
    :param apart: what stands before the check
    :param left_out: how many characters before the check it does not cover
    :param start: the first that it covers
    """
    digits, check = CHECKS[name]
    rng, lines = random.Random(seed), []
    for n in range(200):
        text = (made.format(rng.choice([0.0, 100.0, 987.6]) + rng.gauss(0.0, 0.3), n) + apart).encode()
        covered = text[start : len(text) - left_out]
        line = text + f"{check(list(covered)):0{digits}X}".encode()
        if n % 40 == 7:
            at = rng.randrange(len(line))
            line = line[:at] + bytes([line[at] ^ 1 << rng.randrange(5)]) + line[at + 1 :]
        lines.append(line)
    return lines


@settings(max_examples=8, deadline=None)
@pytest.mark.parametrize("name", CHECKS)
@given(
    st.sampled_from(["{:+07.1f}", "{:.1f},{},g", ":{:08.2f} g", '{{"w":{:.1f},"n":{}}}']),
    st.sampled_from([("", 0), ("*", 1), ("*", 0), (",", 1), (" ", 0), (", ", 2)]),
    st.integers(0, 1),
    st.integers(0, 99),
)
def test_a_check_is_found_that_holds_for_other_lines_too(name, made, apart, start, seed):
    found = find_line_check(lines_of(name, made, *apart, start, seed))
    assert found is not None
    later = lines_of(name, made, *apart, start, seed + 100)
    assert sum(map(checksum_test(found), later)) >= 195  # damage may change what it does not cover


@given(
    st.sampled_from(["{:+07.1f}", "{:.1f},{}", "{:.2f} {:04d}", "{:.3f}", "W{:09.4f}", "{1:06X}{0:05.0f}"]),
    st.integers(0, 10_000),
)
def test_digits_that_are_no_check_are_none(made, seed):
    rng = random.Random(seed)
    loads = [rng.uniform(0.0, 1500.0) for _ in range(4)]
    lines = [made.format(rng.choice(loads) + rng.gauss(0.0, 0.2), n).encode() for n in range(300)]
    assert find_line_check(lines) is None


def test_lines_that_differ_where_nothing_is_covered_speak_for_no_polynomial(monkeypatch):
    """Their ends stay the same, as they would with any polynomial: to complete them all took seconds."""
    tried = []
    completed = line_check._completed
    monkeypatch.setattr(line_check, "_completed", lambda *a: tried.append(a) or completed(*a))
    lines = [b"%d%d%02X" % (tens, ones, 16 * ones + 9) for tens in range(10) for ones in range(9)]
    assert find_line_check(lines) is None
    assert not tried


def test_too_few_lines_that_differ_show_no_check():
    lines = [b"%d.0%02X" % (n % 7, sum(b"%d.0" % (n % 7)) % 256) for n in range(500)]
    assert find_line_check(lines) is None


@pytest.mark.parametrize(
    ("text", "apart"),
    [
        (lambda g, n: b":%+09.2f" % g, b""),
        (lambda g, n: b"%d,%.1f,%d" % (18_000 + 75 * n, g, n % 100), b","),
        (lambda g, n: b"%.1f g" % g, b" "),
    ],
)
def test_lines_with_a_check_are_learned_with_it(text, apart):
    """Its characters touch the number, are a column of their own, or stand behind a blank."""

    def line(g: float, n: int) -> bytes:
        data = text(g, n)
        return data + apart + b"%04X\r\n" % cyclic(list(data), 16, 0x1021, 0xFFFF, False, False, 0)

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    later = line(1234.5, 901)
    damaged = later.replace(b"12", b"13", 1)
    assert reads(found, later, damaged, line(-3.5, 902), link="serial") == [1234.5, None, -3.5]
    assert "[lines.checksum]" in found.toml


def test_texts_between_marks_are_learned_with_a_check_that_counts_the_first_of_them_in():
    def text(g: float, n: int) -> bytes:
        data = b"\x02%s,%.1f" % (b"ST" if n % 160 > 9 else b"US", g)
        return data + b"%02x\x03" % reduce(xor, data)

    found = learned(text)
    assert found.is_sure, found.reasons
    assert reads(found, text(987.6, 1), text(987.6, 1).replace(b"8", b"9")) == [987.6, None]


def test_a_check_that_counts_a_mark_in_begins_there_though_blanks_follow_it():
    """Of lines that all begin with blanks, what covers less fits as well, but for a minus among them."""
    rng, lines = random.Random(6), []
    for n in range(300):
        grams = rng.randrange(4000) if n % 100 else -3
        text = (b"-" if grams < 0 else b" ") + b"%6d " % abs(grams)
        check = b"%02X" % crc8(b"\x02" + text, poly=0x07, init=0, refin=False, refout=False, xorout=0)
        lines.append(text + check if n % 30 else text[3:] + check)
    found = find_line_check(lines)
    assert found is not None
    assert (found.kind, found.start, found.xorout) == ("crc8", 0, 0)


def test_a_check_that_may_leave_out_the_beginning_or_the_end_leaves_out_the_beginning():
    """``E$`` and a blank come to as much as ``63`` and a blank, which are a battery's and will be others.

    The blank that is left out may as well be the one that sets the check apart.
    """
    assert sum(b"E$ ") == sum(b"63 ")
    lines = []
    for n in range(200):
        line = f"E$ {21500 + 7 * n % 90:6d} {n:05d} 063 ".encode()
        lines.append(line + b"%02X" % (-sum(line[3:]) % 256))
    check = find_line_check(lines)
    assert check is not None
    assert (check.kind, check.start, check.stop) in (("lrc", 3, -2), ("lrc", 2, -3))


def test_the_blank_that_sets_a_check_apart_is_left_out_rather_than_the_first_one_of_a_line():
    """Below nought, a minus stands in the place of that."""
    lines = []
    for n in range(200):
        line = f"{21500 + 7 * n % 90:7d} {n:05d}".encode()
        lines.append(line + b" %02X" % (-sum(line) % 256))
    check = find_line_check(lines)
    assert check is not None
    assert (check.kind, check.start, check.stop) == ("lrc", 0, -3)


def test_lines_that_begin_otherwise_may_have_a_check_of_another_part():
    lines = lines_of("exclusive or", ":{:.1f} g", "*", 1, 1, seed=3)
    others = lines_of("exclusive or", "BAT {:.0f}", "*", 1, 4, seed=4)
    found = find_line_check([*lines, *others[::8]])
    assert found is not None
    assert sum(checksum_test(found)(line) for line in lines) > 0.95 * len(lines)
