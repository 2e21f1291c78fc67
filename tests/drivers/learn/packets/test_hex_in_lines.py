"""Lines that hold the weight in digits 0 to F: which of their parts are such numbers, and what is learned."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.learn.packets.line_parts import HexRun, LineForm, form_of
from tests.drivers.learn.small import learned, reads


def steps(g: float, per_g: float = 10.0, digits: int = 6) -> int:
    return round(per_g * g) % 16**digits


def behind_a_counter(g: float, n: int) -> bytes:
    return b"%d,%06X,g,%s\r\n" % (n, steps(g), b"S" if n % 160 > 9 else b"D")


def in_small_letters_beside_a_clock(g: float, n: int) -> bytes:
    return b"w=%06x t=%.2f\n" % (steps(g), 0.07 * n)


def marked_as_c_programs_do(g: float, n: int) -> bytes:
    return b'{"n":%d,"w":"0x%06x"}\n' % (n, steps(g))


def raw_counts_of_a_converter(g: float, n: int) -> bytes:
    return b"%d %08X\r\n" % (n, round(381.3 * g) + 81234)


def in_a_line_with_a_check(g: float, n: int) -> bytes:
    text = b"%d;%04X;" % (n, steps(g, digits=4))
    return text + b"%02X\r\n" % (sum(text) % 256)


@pytest.mark.parametrize("link", ["serial", "ble"])
@pytest.mark.parametrize(
    "line",
    [
        behind_a_counter,
        in_small_letters_beside_a_clock,
        raw_counts_of_a_converter,
        marked_as_c_programs_do,
        in_a_line_with_a_check,
    ],
)
def test_lines_of_any_length_are_read(line, link):
    found = learned(line, (0.0, 123.4, 480.0, 912.7), link=link)
    assert found.is_sure, found.reasons
    told = reads(found, line(45.6, 7), line(987.0, 12345), link=link)
    assert told == [pytest.approx(45.6, abs=0.03), pytest.approx(987.0, abs=0.03)]


def test_what_is_below_nought_is_read_though_nothing_has_been():
    found = learned(behind_a_counter, noise_g=0.0, link="serial")
    assert found.is_sure, found.reasons
    assert found.never_negative
    assert reads(found, behind_a_counter(-12.3, 7), link="serial") == [-12.3]


def test_a_vessel_that_is_lifted_off_is_read():
    found = learned(in_small_letters_beside_a_clock, (0.0, 123.4, 480.0, -210.5), link="serial")
    assert found.is_sure, found.reasons
    assert not found.never_negative
    assert reads(found, in_small_letters_beside_a_clock(-77.7, 7), link="serial") == [-77.7]


def test_a_number_that_has_lost_a_digit_is_refused():
    found = learned(behind_a_counter, link="serial")
    assert reads(found, b"7,0004D2,g,S\r\n", b"8,004D2,g,S\r\n", link="serial") == [123.4, None]


def test_a_state_that_touches_the_digits_is_none_of_them():
    def line(g: float, n: int) -> bytes:
        return b">%06X%d\r\n" % (steps(0.5 * round(g / 0.5), 100.0), n % 160 > 9)

    found = learned(line, (0.0, 270.7, 500.0, 1237.6), 0.5, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(45.0, 7), line(990.0, 100), link="serial") == [45.0, 990.0]


def test_digits_that_are_never_padded_may_become_more():
    def line(g: float, n: int) -> bytes:
        return b"%d,%X,g\r\n" % (n, steps(g + 2000.0))

    found = learned(line, link="serial")
    assert not found.is_sure
    assert any("more digits" in reason for reason in found.reasons), found.reasons


def test_digits_that_end_the_line_and_say_nothing_of_the_weight_may_be_a_check():
    def line(g: float, n: int) -> bytes:
        text = b"%d;%.1f;" % (n, g)
        rng = random.Random(text)  # what nobody can work out
        return text + b"%04X\r\n" % rng.randrange(65536)

    found = learned(line, link="serial")
    assert not found.is_sure
    assert any("look like a check" in reason for reason in found.reasons), found.reasons


# Which parts are such numbers


def lines(made: str, count: int = 200) -> list[bytes]:
    return [made.format(n=n, w=n * 37 % 4096).encode() for n in range(count)]


@pytest.mark.parametrize(
    ("made", "found"),
    [
        ("{w:04X}", {HexRun(1, 0, 4)}),
        ("A={w:06x} t={n}", {HexRun(4, 1, 6)}),
        ("{n}, {w:04X} ,FACE", {HexRun(3, 1, 4)}),
        ("{w:04X}{w:04x} {w:04X}", {HexRun(2, 0, 8), HexRun(2, 1, 4)}),
        ("FF{w:04X}", {HexRun(1, 0, 6)}),
        ("{n} 0x{w:04X}", {HexRun(2, 1, 4)}),
        ("{n:04d}", set()),
        ("t={n:03d}C", set()),  # a unit
        ("C{n:03d}", set()),
        ("A1B2 {n}", set()),  # a name
        ("{w:X}", set()),  # not always as many digits
        ("{w:04X}.5", set()),
        ("{w:04X}_", set()),
    ],
)
def test_which_letters_and_digits_are_a_number(made, found):
    assert form_of(lines(made)).hex_runs == found


def test_a_line_is_taken_apart():
    form = LineForm(hex_runs=frozenset({HexRun(4, 1, 4)}))
    assert form.parts_of(b"w=00E2 t=-2.5") == [
        ("word", b"w"), ("sign", b"="), ("hex", b"00E2"), ("word", b"t"), ("sign", b"="), ("number", b"-2.5"),
    ]  # fmt: skip
    assert form.parts_of(b"w=00E t=2") == [
        ("word", b"w"), ("sign", b"="), ("number", b"00"), ("word", b"E"),
        ("word", b"t"), ("sign", b"="), ("number", b"2"),
    ]  # fmt: skip


@given(st.integers(0, 2**32), st.sampled_from(["{n},{w:06d},g,S", "w={w:08d} A=1.5", "{w:5d}"]))
def test_damage_makes_no_number_of_decimals(seed, made):
    """Of a byte that is another one in two lines of a hundred, few are a digit, and few of those a letter."""
    rng, sent = random.Random(seed), []
    for line in lines(made, 600):
        data = bytearray(line)
        if rng.random() < 0.02:
            data[rng.randrange(len(data))] ^= rng.randrange(1, 256)
        sent.append(bytes(data))
    assert form_of(sent).hex_runs == frozenset()


@given(st.lists(st.binary(max_size=30), max_size=60), st.integers(1, 5))
def test_whatever_the_lines_are_nothing_of_them_is_lost(some, times):
    form = form_of(some * times)
    for line in some:
        text = b"".join(part for _, part in form.parts_of(line))
        assert text.translate(None, b" \t\r\n\x0b\x0c") == line.translate(None, b" \t\r\n\x0b\x0c")
