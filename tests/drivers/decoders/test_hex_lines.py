"""Counts that stand in lines of text as digits 0 to F."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import Status
from drivers.decoders.checked_lines import described_lines
from drivers.decoders.first_line import FirstLine, judge_first_line
from drivers.decoders.pattern_lines import PatternLines
from drivers.described import described_by
from tests.drivers.decoders.pieces import assert_pieces_agree

TEXT = """
name = "a"
kind = "serial-lines"
[lines]
pattern = "{}"
encoding = "hex"
width = {}
{}
[[sensor]]
counts_per_g = 10
"""


def decoder(pattern: str, width: int, signed: str = "twos-complement") -> PatternLines:
    said = f'signed = "{signed}"' if signed else ""
    return described_lines(described_by(TEXT.format(pattern, width, said), "a test"))


def values(lines: PatternLines, line: bytes) -> list[float]:
    decoded = lines.decode(line + b"\n")
    assert decoded.rejected == 0, decoded.last_rejected
    return [one.value for one in decoded.measurements]


@pytest.mark.parametrize(
    ("signed", "digits", "value"),
    [
        ("", b"04D2", 123.4),
        ("", b"ffff", 6553.5),
        # By their definitions: two less than nought, two with the sign's bit set, two below the middle.
        ("twos-complement", b"FFFE", -0.2),
        ("twos-complement", b"7FFF", 3276.7),
        ("sign-bit", b"8002", -0.2),
        ("offset-binary", b"7FFE", -0.2),
    ],
)
def test_examples(signed, digits, value):
    assert values(decoder("W=counts g", 4, signed), b"W=" + digits + b" g") == [value]


@given(st.integers(1, 16), st.data(), st.sampled_from(["{}", "w={} T=21.5", "7,{},S"]), st.booleans())
def test_what_is_written_is_read(width, data, made, is_lower):
    half = 16**width // 2
    number = data.draw(st.integers(-half, half - 1))
    digits = f"{number % 16**width:0{width}{'x' if is_lower else 'X'}}"
    lines = decoder(made.format("counts").replace("21.5", "temperature").replace("7,", "_,"), width)
    assert values(lines, made.format(digits).encode())[0] == number / 10


@pytest.mark.parametrize("digits", ["0ABC", "00ABCDE", "00ABCG", "-0ABCD", "00AB.C", "0x0ABC"])
def test_a_number_that_has_lost_or_won_a_digit_or_is_none_is_refused(digits):
    decoded = decoder("w=counts A=_", 6).decode(f"w={digits} A=1.5\n".encode())
    assert (decoded.measurements, decoded.rejected) == ((), 1)


def test_an_empty_field_between_separators_is_no_value():
    (weight,) = decoder("_,counts,g", 4).decode(b"7,,g\n").measurements
    assert math.isnan(weight.value)
    assert weight.status is Status.ERROR


def test_other_numbers_of_the_line_are_decimals():
    lines = decoder("time_ms,counts,server:counts,temperature", 4)
    weight, server, temperature = lines.decode(b"1250,00FF,FFFF,0012\n").measurements
    assert (weight.value, server.value, temperature.value) == (25.5, -0.1, 12.0)
    assert weight.device_time_s == 1.25


def test_a_first_line_without_its_head_is_no_whole_one():
    """All its digits are wanted, so nothing waits for the second line."""
    lines = decoder("counts g", 6)
    assert judge_first_line(lines, b"012AF g", []) is FirstLine.CUT
    assert judge_first_line(lines, b"0012AF g", []) is FirstLine.WHOLE


LINES = st.builds(lambda number: b"W %04X g\r\n" % (number % 65536), st.integers(-32768, 32767))
NOISE = st.one_of(st.binary(max_size=30), LINES, LINES.map(lambda line: line[3:]), st.just(b"\xff" * 600))


@given(st.lists(NOISE, max_size=8).map(b"".join), st.lists(st.integers(0, 3000), max_size=6))
def test_any_bytes_in_any_pieces_give_the_same(data, cuts):
    assert_pieces_agree(decoder("W counts g", 4), data, cuts)
