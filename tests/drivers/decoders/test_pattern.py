import time

import pytest

from drivers.decoders.pattern import compile_pattern
from drivers.decoders.pattern_words import FIELDS, PatternError


@pytest.mark.parametrize(
    ("text", "position", "what"),
    [
        ("wieght,temperature", 1, "did you mean 'weight'"),
        ("time_ms,weight_gr", 9, "did you mean 'weight_g'"),
        ("time_ms,server:weight_stone", 16, "not a field"),
        ("time_ms,time_s,weight", 9, "one device time"),
        ("a:weight,a:weight_g", 10, "two fields are called 'a'"),
        ("weight\\", 7, "backslash"),
        ("weight,_\\", 9, "backslash"),
        ("sign,weight,temperature", 1, "one number only"),
        ("sign,weight,sign", 13, "one number only"),
        ("sign,time_ms", 1, "no weight and no temperature"),
        ("time_ms,_", 1, "no weight and no temperature"),
        ("W=", 1, "no weight and no temperature"),
        ("weight\x02", 7, "control"),
        (f"{'x' * 33}:weight", 1, "too long"),
    ],
)
def test_a_bad_pattern_is_pointed_at(text, position, what):
    with pytest.raises(PatternError) as caught:
        compile_pattern(text)
    assert caught.value.position == position
    assert what in caught.value.what


def test_every_field_word_can_stand_alone():
    for word in FIELDS:
        gives_no_channel = word.startswith("time") or word in ("cold_c", "sign")
        assert len(compile_pattern(f"{word} weight" if gives_no_channel else word).fields) >= 1


@pytest.mark.parametrize(
    ("pattern", "line", "texts"),
    [
        ("weight,temperature", b"12.3,93.4", (b"12.3", b"93.4")),
        ("weight,temperature", b"   12.30 ,\t 93.4 ", (b"12.30", b"93.4")),
        ("weight , temperature", b"12.3,93.4", (b"12.3", b"93.4")),
        ("weight temperature", b"12.3    93.4", (b"12.3", b"93.4")),
        ("weight temperature", b"12.3\t93.4", (b"12.3", b"93.4")),
        ("W=weight_g g;T=temperature C", b"W=12.3g;T= 93.4 C", (b"12.3", b"93.4")),
        ("_,weight", b"2026-01-05 07:30:00,12.3", (b"12.3",)),
        ("_ weight", b"id7 12.3", (b"12.3",)),
        ("_ weight", b"- 12.3", (b"12.3",)),
        ("_ weight", b"-   4.5 +  12.3", (b"+  12.3",)),
        ("_ \\MXEV weight", b"MX MXEV 12.3", (b"12.3",)),
        ("_ \\g,weight", b"+   4.5g,12.3", (b"12.3",)),
        ("weight,_", b"12.3,anything at all, really", (b"12.3",)),
        ("weight _", b"12.3 not at rest", (b"12.3",)),
        ("weight _", b"12.3", (b"12.3",)),  # a state that comes and goes
        (r"\weight: weight", b"weight: 12.3", (b"12.3",)),
        (r"T\:temperature", b"T:93.4", (b"93.4",)),
        ("[weight]", b"[-1.5E+2]", (b"-1.5E+2",)),
        ("weight,temperature", b",93.4", (b"", b"93.4")),
        ("weight,temperature", b"nan,93.4", (b"nan", b"93.4")),
        ("on pan weight", b"on  pan 12.3", (b"12.3",)),
        ("D _mark weight g", b"D ?  12.3 g", (b"12.3",)),
        ("D _mark weight g", b"D?+12.3 g", (b"+12.3",)),
        ("D _mark weight g", b"D   -12.3 g", (b"-12.3",)),  # it comes and goes
        ("_ _mark weight", b"7 ? 12.3", (b"12.3",)),
        ("weight _;", b"12.3g OK;", (b"12.3",)),  # a unit that comes and goes may touch the number
        ("weight _;", b"12.3 --;", (b"12.3",)),
        ("weight,_", b"-   12.3,g", (b"-   12.3",)),  # the sign first, then what pads the number
        ("weight µg", "12.3 µg".encode(), (b"12.3",)),
    ],
)
def test_lines_that_match(pattern, line, texts):
    match = compile_pattern(pattern).expression.fullmatch(line)
    assert match is not None
    assert match.groups() == texts


@pytest.mark.parametrize(
    ("pattern", "line"),
    [
        ("weight,temperature", b"12.3"),
        ("weight _", b"12.3g"),
        ("D _mark weight g", b"D x2.3 g"),  # that was a digit
        ("D _mark weight g", b"D 1x2.3 g"),
        ("weight _;", b"12x3;"),  # digits are lost of it
        ("weight _;", b"12.3.4;"),
        ("weight _;", b"12.3;"),
        ("weight _ temperature", b"12.3 93.4"),
        ("weight,temperature", b"12.3,93.4,1"),
        ("weight,temperature", b"12.3,9x"),
        ("weight temperature", b"12.3"),
        ("weight temperature", b"  93.4"),  # an empty field between blanks would shift its neighbours
        ("weight", b""),
        ("weight", b"1 2"),
        ("weight", b"- -12"),
        ("weight g", b"12"),
    ],
)
def test_lines_that_do_not_match(pattern, line):
    assert compile_pattern(pattern).expression.fullmatch(line) is None


def test_a_hostile_line_is_refused_in_no_time():
    expression = compile_pattern("_,weight , temperature_c C;_ weight_kg").expression
    start_s = time.process_time()  # other work may share the processor
    for line in (b" " * 512, b"," * 512, b"1" * 512, b"1 ," * 170, b"e" * 512):
        assert expression.fullmatch(line) is None
    assert time.process_time() - start_s < 0.05
