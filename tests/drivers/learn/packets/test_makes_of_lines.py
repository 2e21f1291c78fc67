"""Lines whose length changes: what their parts are, and which of them are of one make."""

from __future__ import annotations

import pytest

from tests.drivers.learn.small import learned, reads


def state_of_two_signs(g: float, n: int) -> bytes:
    return b"net %.1f g %s\r\n" % (g, b"ok" if n % 160 > 9 else b"--")


def state_that_touches_the_number(g: float, n: int) -> bytes:
    return b":%8.2f%sg\r" % (g, b" " if n % 160 > 9 else b"?")


def state_that_comes_and_goes(g: float, n: int) -> bytes:
    return b">%.1f%s\n" % (g, b"" if n % 160 > 9 else b" ?")


def word_that_stands_while_the_load_moves(g: float, n: int) -> bytes:
    return b"%s %.1f g\r\n" % (b"ST" if n % 160 > 9 else b"US", g)


@pytest.mark.parametrize(
    ("line", "link", "says"),
    [
        (state_of_two_signs, "serial", [12.3, 45.6]),
        (state_that_touches_the_number, "serial", [12.25, 45.5]),
        (state_that_comes_and_goes, "ble", [12.3, 45.6]),
        (word_that_stands_while_the_load_moves, "serial", [12.3, 45.6]),
    ],
)
def test_lines_that_tell_a_state_are_of_one_kind_and_read_in_either(line, link, says):
    found = learned(line, link=link)
    assert found.is_sure, found.reasons
    assert reads(found, line(says[0], 100), line(says[1], 1), link=link) == says


def test_two_lines_in_a_packet_are_two_lines():
    def line(g: float, n: int) -> bytes:
        one = b'{"fl":0.0,"we":%.2f}\n' % g
        return one + one if n % 3 == 0 else one

    found = learned(line)
    assert found.is_sure, found.reasons
    assert reads(found, line(12.3, 1), line(45.6, 3)) == [12.3, 45.6, 45.6]


def test_texts_that_begin_alike_and_end_with_a_mark_are_lines():
    def text(g: float, n: int) -> bytes:
        data = b"$%s%8d" % (b"S" if n % 160 > 9 else b"U", round(380.9 * g))
        return data + b"%04X\x03" % (sum(data[2:]) % 65536)

    found = learned(text, (0.0, 170.5, 1000.0, 1322.6), link="serial")
    assert found.is_sure, found.reasons
    (value,) = reads(found, text(987.6, 100), link="serial")
    assert value == pytest.approx(987.6, abs=0.01)


def test_four_decimals_are_all_though_a_comma_and_two_digits_follow():
    def line(g: float, n: int) -> bytes:
        return b"0.0,%.4f,64,19.%d\r\n" % (g / 1000, n // 100 % 3)

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(1234.5, 1), link="serial") == [pytest.approx(1234.5)]


@pytest.mark.parametrize("often", [12, 20])
def test_lines_of_one_make_that_a_word_names_are_of_two_kinds(often):
    def line(g: float, n: int) -> bytes:
        weight = b"Net %8.1f\r\n" % g
        return weight + b"Bat %d\r\n" % (88 - n // 250) if n % often == 0 else weight

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, b"Net     12.5\r\n", b"Bat 85\r\n", b"Net     45.6\r\n", link="serial") == [
        12.5, None, 45.6
    ]  # fmt: skip


@pytest.mark.parametrize("moving", [10, 24])
def test_a_word_that_stands_while_the_load_moves_is_a_state_though_a_flow_jumps_then(moving):
    def line(g: float, n: int) -> bytes:
        is_moving = n >= 160 and n % 160 < moving
        return b"%.1f %.1f %s\n" % (g, n * 37 % 50 if is_moving else 0.0, b"M" if is_moving else b"S")

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, line(12.3, 161), line(45.6, 250), link="serial") == [12.3, 45.6]


def test_a_word_still_names_another_kind_where_a_counter_goes_on_in_both():
    def line(g: float, n: int) -> bytes:
        return b"%d Bat %d\r\n" % (n, 88 - n // 250) if n % 12 == 0 else b"%d Net %8.1f\r\n" % (n, g)

    found = learned(line, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, b"700 Net     12.5\r\n", b"701 Bat 85\r\n", link="serial") == [12.5, None]


def test_a_column_that_never_changes_is_no_decimals_of_the_number_before_its_comma():
    def line(g: float, n: int) -> bytes:
        return b"%d,0321\r\n" % round(g)

    found = learned(line, (0.0, 123.0, 480.0, 900.0), noise_g=2.0, link="serial")
    assert found.is_sure, found.reasons
    assert reads(found, b"12,0321\r\n", b"987,0321\r\n", link="serial") == [12.0, 987.0]


def test_what_may_be_decimals_asks_for_a_load_that_is_no_whole_number():
    def line(g: float, n: int) -> bytes:
        return b"%d,%d\r\n" % (round(g), 7 * n % 10)

    found = learned(line, (0.0, 123.0, 480.0, 900.0), noise_g=2.0, link="serial")
    assert "no whole number" in " ".join(found.reasons)
    assert found.further_g is not None
    assert found.further_g % 1.0 == pytest.approx(0.7)
