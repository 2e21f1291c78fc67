from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from drivers.decoders.balance_lines import BalanceLines
from drivers.decoders.line_reader import GARBAGE_S, HOLD_S, LineReader
from drivers.decoders.pattern_lines import PatternLines
from tests.peers.balance import balance_line


def reader(decoder) -> LineReader:
    return LineReader(decoder, "scale", "thermometer")


def test_a_line_is_stamped_when_its_end_arrives():
    lines = reader(BalanceLines())
    line = balance_line(12.3)
    assert lines.push(1.0, line[:9]) == []
    (reading,) = lines.push(1.1, line[9:])
    assert (reading.channel, reading.time_s, reading.value) == ("scale", 1.1, 12.3)


def test_a_held_first_line_keeps_its_own_time():
    lines = reader(PatternLines("weight"))
    assert lines.push(1.0, b"12.3\r\n") == []
    assert [(r.time_s, r.value) for r in lines.push(1.1, b"12.4\r\n")] == [(1.0, 12.3), (1.1, 12.4)]


def test_a_clock_holds_two_lines_and_all_keep_their_times():
    lines = reader(PatternLines("time_ms,weight"))
    assert lines.push(1.0, b"0,1\n") == lines.push(1.1, b"100,2\n") == []
    assert [r.time_s for r in lines.push(1.2, b"200,3\n")] == [1.0, 1.1, 1.2]


def test_what_is_left_of_a_first_line_is_dropped_and_told():
    lines = reader(PatternLines("weight,temperature"))
    readings = lines.push(1.0, b"2.3,93.4\r\n12.4,93.4\r\n")
    assert [r.value for r in readings] == [12.4, 93.4]
    assert lines.facts()["first_line_cut"] is True
    assert lines.rejected == 0  # it was not damaged


def test_a_first_line_is_released_when_no_second_comes():
    lines = reader(PatternLines("weight"))
    lines.push(1.0, b"12.3\r\n")
    assert lines.release_at_s == 1.0 + HOLD_S
    assert [(r.time_s, r.value) for r in lines.release()] == [(1.0, 12.3)]
    assert lines.release_at_s is None
    assert lines.release() == []


def test_a_late_second_line_releases_the_first_unjudged():
    lines = reader(PatternLines("weight"))
    lines.push(1.0, b"12.3\r\n")
    assert [r.value for r in lines.push(9.0, b"250.0\r\n")] == [12.3, 250.0]


def test_garbage_from_the_beginning_is_noticed_after_a_while():
    lines = reader(BalanceLines())
    for tenth in range(60):
        lines.push(tenth / 10, b"\x81\xfe~\r\x07")
    assert not lines.garbage_only(GARBAGE_S - 0.1)
    assert lines.garbage_only(GARBAGE_S)


def test_garbage_after_good_lines_is_counted_and_no_more():
    lines = reader(BalanceLines())
    lines.push(0.0, balance_line(1.0))
    for second in range(1, 30):
        lines.push(second, b"\x81\xfe~\r")
    assert not lines.garbage_only(30.0)
    assert lines.facts()["lines_rejected"] == 29


def test_a_device_that_sends_seldom_opened_in_mid_line_is_no_garbage():
    lines = reader(BalanceLines())
    lines.push(0.0, b"3.4 g\r\n")
    lines.push(10.0, b"ST,GS")
    assert not lines.garbage_only(10.0)
    assert [r.value for r in lines.push(10.01, b",+ 12.3 g\r\n")] == [12.3]


def test_a_silent_run_of_bytes_does_not_fill_the_memory():
    for decoder in (BalanceLines(), PatternLines("weight")):
        lines = reader(decoder)
        for second in range(100):
            lines.push(second, b"\x00" * 4096)
        assert len(lines._buffer) + sum(len(chunk) for _, chunk in lines._opening or []) < 1024
        assert lines.garbage_only(100.0)


@given(st.lists(st.integers(0, 9999), min_size=3, max_size=30), st.lists(st.integers(0, 400), max_size=8))
def test_no_line_sent_after_opening_is_lost_however_it_arrives(weights_dg, cuts):
    # Steps as a pour makes them; a jump of the very first value could not be told from lost digits.
    weights = [weights_dg[0] / 10, *(weights_dg[0] / 10 + (w % 5) / 10 for w in weights_dg[1:])]
    data = b"".join(f"{weight:.1f}\r\n".encode() for weight in weights)
    lines = reader(PatternLines("weight"))
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    readings = []
    for number, (start, end) in enumerate(itertools.pairwise(edges)):
        readings += lines.push(number / 100, data[start:end])
    assert [r.value for r in readings] == [round(weight, 1) for weight in weights]
    assert [r.time_s for r in readings] == sorted(r.time_s for r in readings)
    assert lines.rejected == 0


@given(st.lists(st.binary(max_size=60), max_size=20))
def test_any_bytes_are_taken(chunks):
    for decoder in (BalanceLines(), PatternLines("time_ms,weight"), PatternLines("weight")):
        lines = reader(decoder)
        for number, chunk in enumerate(chunks):
            lines.push(number, chunk)
        lines.release()
        assert lines.bytes == sum(map(len, chunks))


def test_a_device_that_was_asked_is_believed_at_once():
    one = LineReader(PatternLines("weight"), "server", "kettle", may_begin_cut=False)
    assert [r.value for r in one.push(0.0, b"50.1\n")] == [50.1]


def test_a_new_link_begins_with_a_new_line_and_goes_on_counting():
    one = reader(PatternLines("weight"))
    one.push(0.0, b"1.0\n2.0\n3.")
    one.begin()
    assert one.push(10.0, b"50.1\n") == []
    assert [r.value for r in one.push(10.1, b"250.2\n")] == [250.2]
    assert (one.lines, one.first_line_cut) == (3, True)


def test_garbage_after_a_new_link_is_told_although_the_first_was_good():
    one = reader(PatternLines("weight"))
    one.push(0.0, b"1.0\n2.0\n")
    one.begin()
    one.push(10.0, b"hello\nworld\n")
    assert not one.garbage_only(10.0 + GARBAGE_S / 2)
    assert one.garbage_only(10.0 + GARBAGE_S)


def test_a_held_line_is_given_when_it_is_due_and_not_before():
    one = reader(PatternLines("weight"))
    one.push(0.0, b"250.1\n")
    assert one.release_due(HOLD_S / 2) == []
    assert [r.value for r in one.release_due(HOLD_S)] == [250.1]
