"""Lines with a check: read where it is right, refused where one character is not what was sent."""

from __future__ import annotations

from functools import reduce
from operator import xor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoders.checked_lines import described_lines
from drivers.decoders.first_line import FirstLine, judge_first_line
from drivers.decoders.pattern_lines import PatternLines
from drivers.described import described_by
from tests.drivers.decoders.pieces import assert_pieces_agree
from tests.drivers.decoders.written_frames import cyclic
from tests.peers import counter_scale


def decoder(pattern: str, check: str) -> PatternLines:
    text = f'name = "a"\nkind = "serial-lines"\n[lines]\npattern = "{pattern}"\n[lines.checksum]\n{check}\n'
    return described_lines(described_by(text, "a test"))


COUNTER_SCALE = described_lines(described_by(counter_scale.DESCRIPTION, "a test"))

# By their definitions, each over the bytes of a text.
CHECKS = {
    'kind = "sum8"': lambda data: sum(data) % 256,
    'kind = "xor8"': lambda data: reduce(xor, data, 0),
    'kind = "lrc"': lambda data: -sum(data) % 256,
    'kind = "crc8"\npolynomial = 0x07': lambda data: cyclic(data, 8, 0x07, 0, False, False, 0),
    'kind = "sum16"\norder = "big"': lambda data: sum(data) % 65536,
    'kind = "crc16"\norder = "big"\npolynomial = 0x8005\ninit = 0xFFFF\nrefin = true\nrefout = true': (
        lambda data: cyclic(data, 16, 0x8005, 0xFFFF, True, True, 0)
    ),
}


@pytest.mark.parametrize("check", CHECKS)
@given(st.decimals(-9999, 9999, places=2), st.sampled_from(["{}", "{} g", "W={:+} g;"]), st.booleans())
def test_what_is_in_order_is_read_and_a_changed_character_is_not(check, number, made, is_lower):
    """The check touches the number, or stands behind it; in capitals or small."""
    text = made.format(number).encode()
    code = CHECKS[check](list(text))
    digits = f"{code:0{4 if '16' in check else 2}x}"
    digits = digits if is_lower else digits.upper()
    lines = decoder(made.replace("{:+}", "{}").format("weight_g"), f"{check}\nat = {-len(digits)}")
    decoded = lines.decode(text + digits.encode() + b"\r\n")
    assert [one.value for one in decoded.measurements] == [float(number)], decoded.last_rejected
    at = text.index(str(abs(number)).encode())
    wrong = text[:at] + bytes([text[at] ^ 1]) + text[at + 1 :] + digits.encode()
    decoded = lines.decode(wrong + b"\r\n")
    assert (decoded.measurements, decoded.rejected) == ((), 1)
    assert decoded.last_rejected.why == "its checksum is wrong"


@pytest.mark.parametrize("lost", range(1, 10))
@pytest.mark.parametrize("number", ["+ 63.58", "- 63.58", "  63.58"])
def test_a_line_behind_one_that_has_lost_its_end_is_read(number, lost):
    def whole(text: str) -> bytes:
        return b"%s*%02X" % (text.encode(), reduce(xor, text.encode()))

    lines = decoder("weight_g \\\\g *", 'kind = "xor8"\nat = -2\nto = -3')
    decoded = lines.decode(whole("+ 12.50 g")[:-lost] + whole(f"{number} g") + b"\r\n")
    assert [one.value for one in decoded.measurements] == [float(number.replace(" ", ""))]


def test_a_line_without_a_check_is_not_looked_for_behind_another_one():
    lines = described_lines(
        described_by('name = "a"\nkind = "serial-lines"\n[lines]\npattern = "weight_g"\n', "a test")
    )
    assert lines.decode(b"12.5+ 63.58\r\n").measurements == ()


def test_a_check_may_stand_in_front_and_cover_a_part_only():
    lines = decoder("weight_g,_", 'kind = "xor8"\nat = 0\nfrom = 2\nto = -2')
    (weight,) = lines.decode(f"{reduce(xor, b'12.5'):02X}12.5,7\n".encode()).measurements
    assert weight.value == 12.5
    assert lines.decode(f"{reduce(xor, b'12.5'):02X}12.4,7\n".encode()).rejected == 1


def test_where_the_check_counts_the_mark_in_its_beginning_says_so():
    code = reduce(xor, b"\x02+ 12.5 g")
    lines = decoder("weight_g g", 'kind = "xor8"\nat = -2\ninit = 2')
    (weight,) = lines.decode(b"\x02+ 12.5 g%02x\x03" % code).measurements
    assert weight.value == 12.5


@pytest.mark.parametrize("line", [b"", b"0", b"00", b"0000", b"*0000", b"$*0000", b"$,*0000"])
def test_lines_that_are_too_short_are_refused(line):
    assert COUNTER_SCALE.decode(line + b"\n").measurements == ()


def test_a_line_whose_check_is_right_and_whose_text_is_another_says_so():
    text = b"ERR 12"
    decoded = COUNTER_SCALE.decode(b"$" + text + b"*%04X\n" % counter_scale.check(text))
    assert decoded.last_rejected.why == "it does not follow the pattern"


def test_a_first_line_without_its_head_is_no_whole_one():
    whole = counter_scale.line(1250.0).strip()
    assert judge_first_line(COUNTER_SCALE, whole, []) is FirstLine.WHOLE
    assert judge_first_line(COUNTER_SCALE, whole[3:], [whole]) is FirstLine.CUT


LINES = st.builds(counter_scale.line, st.integers(-99999, 99999).map(lambda tenths: tenths / 10))
NOISE = st.one_of(st.binary(max_size=30), LINES, LINES.map(lambda line: line[2:]), st.just(b"\xff" * 600))


@given(st.lists(NOISE, max_size=8).map(b"".join), st.lists(st.integers(0, 3000), max_size=6))
def test_any_bytes_in_any_pieces_give_the_same(data, cuts):
    assert_pieces_agree(COUNTER_SCALE, data, cuts)
