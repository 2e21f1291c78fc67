from hypothesis import given
from hypothesis import strategies as st

from drivers.decoders.lines import LONGEST_LINE, split_lines
from drivers.decoders.measurement import printable


def test_cr_lf_and_crlf_all_end_a_line():
    assert split_lines(b"1\r2\n3\r\n4") == (7, [b"1", b"2", b"3"])


def test_texts_between_stx_and_etx_are_lines():
    assert split_lines(b"\x011 g\x04\x012 g") == (6, [b"1 g"])
    assert split_lines(b"\x021 g\x03\x022 g\x03\r\n\x023") == (13, [b"1 g", b"2 g"])


def test_blank_lines_are_no_lines():
    assert split_lines(b"\r\n \t\r\n1\n\n") == (9, [b"1"])


def test_a_partial_line_stays():
    used, lines = split_lines(b"12.3\r\n45.")
    assert (used, lines) == (6, [b"12.3"])


def test_a_run_without_end_is_used_up_but_for_one_byte_more_than_a_line_may_have():
    used, lines = split_lines(b"\xff" * 10_000)
    assert (used, lines) == (10_000 - LONGEST_LINE - 1, [])


@given(st.binary())
def test_printable_text_is_short_and_has_no_control_characters(line):
    text = printable(line)
    assert text.isprintable()
    assert len(text) <= 61
