"""What a target says of the calls and of what is kept: read, refused with a line, written, read again."""

from __future__ import annotations

import pytest

from logger.target import Calls, Target, TargetError, Words, parse_target, write_target

PLAIN = """\
title = "One"
method = "pour-over"
dose_g = 15.0
[[stage]]
name = "bloom"
start = "0:00"
to_g = 45.0
"""


def test_what_is_left_out_is_as_usual() -> None:
    target = parse_target(PLAIN, "")
    assert target.keep == "times" and target.calls == Calls()
    assert "calls" not in write_target(target) and "keep" not in write_target(target)


def test_all_of_it() -> None:
    text = 'keep = "intervals"\n' + PLAIN
    text += '[calls]\nvolume = 0.25\nlanguage = "de-AT"\nvoice = "Anna"\ntones = false\nspeech = true\n'
    text += 'count_s = 5\nsay = ["stop", "start"]\n'
    text += '[calls.words]\nstop = "halt"\nto = "auf {grams} Gramm"\n'
    target = parse_target(text, "")
    words = Words(stop="halt", to="auf {grams} Gramm")
    assert target.keep == "intervals"
    assert target.calls == Calls(0.25, "de-AT", "Anna", False, True, 5, ("start", "stop"), words)
    again = parse_target(write_target(target), "")
    assert (again.keep, again.calls) == (target.keep, target.calls)


def test_nothing_at_all_may_be_said() -> None:
    silent = parse_target(PLAIN + "[calls]\nsay = []\nvolume = 0\n", "")
    assert silent.calls.say == () and silent.calls.volume == 0.0
    assert parse_target(write_target(silent), "").calls == silent.calls


REFUSED = {
    "keep": ('keep = "everything"\n' + PLAIN, 1, "is no thing to keep that is known here"),
    "keep misspelt": ('keep = "interval"\n' + PLAIN, 1, 'Write "intervals"'),
    "volume": (PLAIN + "[calls]\nvolume = 11\n", 9, "not between 0 and 1"),
    "volume in words": (PLAIN + '[calls]\nvolume = "loud"\n', 9, "where a number belongs"),
    "tones": (PLAIN + '[calls]\ntones = "yes"\n', 9, "Write tones = true, or false"),
    "count": (PLAIN + "[calls]\ncount_s = 2.5\n", 9, "no whole number"),
    "count too far": (PLAIN + "[calls]\ncount_s = 60\n", 9, "not between 0 and 10"),
    "language": (PLAIN + '[calls]\nlanguage = "plain English"\n', 9, "no tag of a language"),
    "language left empty": (PLAIN + '[calls]\nlanguage = ""\n', 9, "no tag of a language"),
    "say": (PLAIN + '[calls]\nsay = ["stop", "shout"]\n', 9, "'shout' is none of them"),
    "say no list": (PLAIN + '[calls]\nsay = "stop"\n', 9, "where a list of words belongs"),
    "no such field": (PLAIN + "[calls]\nloudness = 1\n", 9, "there is no such field"),
    "in the wrong part": (PLAIN + "volume = 0.5\n", 8, "volume belongs under [calls]"),
    "no such word": (PLAIN + '[calls.words]\nhalt = "halt"\n', 9, "there is no such field"),
    "an empty word": (PLAIN + '[calls.words]\nstop = " "\n', 9, "not between 1 and 40 letters"),
    "a long word": (PLAIN + f'[calls.words]\nstop = "{"o" * 41}"\n', 9, "not between 1 and 40 letters"),
    "no place for the weight": (PLAIN + '[calls.words]\nto = "to there"\n', 9, "{grams}"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_is_refused_with_its_line(name: str) -> None:
    text, line, words = REFUSED[name]
    with pytest.raises(TargetError) as refused:
        parse_target(text, "my.toml")
    message = str(refused.value)
    assert words in message and (f"my.toml:{line}" in message or f"line {line}" in message), message
    assert len(refused.value.mistakes) == 1


def test_a_scaled_target_keeps_its_calls() -> None:
    from logger.target import scale_target

    text = PLAIN + '[calls]\nvolume = 0.5  # the neighbours\n[calls.words]\nstop = "halt"\n'
    scaled = scale_target(text, 20.0)
    assert "volume = 0.5  # the neighbours" in scaled and 'stop = "halt"' in scaled
    assert isinstance(parse_target(scaled, ""), Target)
