import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drivers.decoders.balance_lines import BalanceLines
from drivers.decoders.first_line import FirstLine, judge_first_line, number_is_whole
from drivers.decoders.pattern_lines import PatternLines


def judge(pattern: str, *lines: str) -> FirstLine:
    first, *later = (line.encode() for line in lines)
    return judge_first_line(PatternLines(pattern), first, later)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("12.3", "12.4"),
        ("0.0", "0.1"),
        ("0.1", "-0.1"),
        ("-0.1", "0.1"),
        ("9.9", "10.1"),
        ("10.1", "9.9"),
        ("0.3", "1.4"),  # a pour begins
        ("-12.3", "-12.4"),
        ("99.8", "100.3"),
        ("nan", "12.3"),
        ("12.3", "nan"),
        ("", ""),
        ("1.2e2", "1.3e2"),
    ],
)
def test_ordinary_first_lines_are_whole(first, second):
    assert number_is_whole(first.encode(), second.encode())


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("2.3", "12.4"),
        (".3", "12.4"),
        ("00.3", "100.4"),
        ("3.4", "123.5"),
        ("37", "0.38"),
        ("12.3", "-12.4"),
        ("", "12.4"),
    ],
)
def test_what_is_left_of_a_line_is_not_whole(first, second):
    assert not number_is_whole(first.encode(), second.encode())


@given(
    before_dg=st.integers(-20_000, 20_000),
    step_dg=st.integers(-4, 4),
    lost=st.integers(1, 8),
)
def test_a_number_that_lost_any_of_its_digits_is_not_taken_for_another(before_dg, step_dg, lost):
    """0.4 g between two lines is 4 g/s at ten lines a second, a steady pour."""
    full, second = f"{before_dg / 10:.1f}".encode(), f"{(before_dg + step_dg) / 10:.1f}".encode()
    rest = full[lost:]
    assume(rest and rest not in (b".", b"-") and float(rest) != float(full))
    harmless = abs(float(rest) - float(full)) <= 1.0  # a sign or a digit lost right at zero
    assert harmless or not number_is_whole(rest, second)
    assert number_is_whole(full, second)


def test_a_second_line_is_awaited():
    assert judge("weight", "12.3") is FirstLine.UNDECIDED
    assert judge("weight", "12.3", "rubbish") is FirstLine.UNDECIDED
    assert judge("weight", "12.3", "rubbish", "12.4") is FirstLine.WHOLE
    assert judge("weight", "2.3", "12.4") is FirstLine.CUT


def test_a_line_that_must_begin_with_something_else_needs_no_second():
    assert judge("W=weight", "W=12.3") is FirstLine.WHOLE
    assert judge("weight", " 12.3") is FirstLine.WHOLE
    assert judge("weight", "+12.3") is FirstLine.WHOLE
    assert judge("_,weight", "x,12.3") is FirstLine.WHOLE
    assert judge("W=weight", "=12.3") is FirstLine.CUT


def test_a_clock_is_judged_by_its_next_step():
    assert judge("time_ms,weight", "0,0.0", "100,0.0") is FirstLine.UNDECIDED
    assert judge("time_ms,weight", "0,0.0", "100,0.0", "200,0.0") is FirstLine.WHOLE
    assert judge("time_ms,weight", "900,0.0", "1000,0.0", "1100,0.0") is FirstLine.WHOLE
    assert judge("time_ms,weight", "00,0.0", "1100,0.0", "1200,0.0") is FirstLine.CUT
    assert judge("time_ms,weight", "23400,0.0", "123500,0.0", "123600,0.0") is FirstLine.CUT


def test_balance_lines_have_their_header():
    assert judge_first_line(BalanceLines(), b"ST,GS,+ 12.3 g", []) is FirstLine.WHOLE
    assert judge_first_line(BalanceLines(), b",GS,+ 12.3 g", []) is FirstLine.CUT
    assert judge_first_line(BalanceLines(), b"ST,GS,+ 12.3 ct", []) is FirstLine.WHOLE


@given(st.binary(max_size=40), st.lists(st.binary(max_size=40), max_size=3))
def test_any_lines_get_a_verdict(first, later):
    first = first.replace(b"\r", b"").replace(b"\n", b"") or b"1"
    for decoder in (BalanceLines(), PatternLines("weight"), PatternLines("time_s,weight")):
        assert judge_first_line(decoder, first, later) in FirstLine
