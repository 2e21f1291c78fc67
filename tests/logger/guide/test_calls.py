"""What is said aloud, in which words, and that each is said once."""

from __future__ import annotations

import pytest

from logger.guide.calls import RECENT_S, Caller, spoken
from logger.guide.cue import Sound
from logger.target import Calls, Words

SPOKEN = {
    0: "zero",
    12: "twelve",
    19: "nineteen",
    20: "twenty",
    45: "forty-five",
    100: "one hundred",
    107: "one oh seven",
    112: "one twelve",
    190: "one ninety",
    215: "two fifteen",
    300: "three hundred",
    999: "nine ninety-nine",
    1200: "1200",
}


@pytest.mark.parametrize("number", SPOKEN)
def test_numbers_as_brewers_say_them(number: int) -> None:
    assert spoken(number) == SPOKEN[number]


def test_a_call_stands_for_a_moment_and_keeps_its_number() -> None:
    caller = Caller(Calls())
    caller.say("start", 10.0, "pour")
    caller.say("stop", 12.0, "stop")
    assert [(call.id, call.kind) for call in caller.recent(12.0)] == [(1, "start"), (2, "stop")]
    assert [call.id for call in caller.recent(10.1 + RECENT_S)] == [2]
    assert caller.recent(60.0) == ()
    caller.say("stop", 61.0, "stop")
    assert [call.id for call in caller.recent(61.0)] == [3]


def test_once_is_once() -> None:
    caller = Caller(Calls())
    for time_s in (1.0, 1.05, 9.0):
        caller.once("next", "pour 1", time_s, "to forty-five")
    caller.once("next", "pour 2", 9.0, "to ninety")
    assert [(call.time_s, call.text) for call in caller.recent(1.0)] == [
        (1.0, "to forty-five"),
        (9.0, "to ninety"),
    ]


def test_only_the_kinds_that_are_asked_for() -> None:
    caller = Caller(Calls(say=("stop",)))
    caller.say("start", 1.0)
    caller.say("stop", 1.0)
    assert [call.kind for call in caller.recent(1.0)] == ["stop"]


def test_another_language_is_left_to_the_voice() -> None:
    assert Caller(Calls()).to_grams(189.6) == "to one ninety"
    german = Calls(language="de-AT", words=Words(to="auf {grams} Gramm"))
    assert Caller(german).to_grams(189.6) == "auf 190 Gramm"


def test_how_it_sounds_is_the_targets_to_say() -> None:
    calls = Calls(volume=0.3, language="de", voice="Some voice", tones=False, speech=True)
    assert Caller(calls).sound == Sound(0.3, "de", "Some voice", False, True)
