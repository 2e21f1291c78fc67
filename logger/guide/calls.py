"""What is said aloud: each call once, in the brewer's words, and only the kinds the target asks for."""

from __future__ import annotations

from collections import deque

from logger.guide.cue import Call, Sound
from logger.target.calls import GRAMS, CallKind, Calls

RECENT_S = 3.0
"""So long a call stands in the cues: a page that was asleep for a moment still sees that there was one."""

_TEENS = ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen"]
_ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", *_TEENS, "nineteen"]
_TENS = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


class Caller:
    """Numbers the calls of one brew and keeps those of the last seconds.

    :param calls: what is to be said, and how
    """

    def __init__(self, calls: Calls) -> None:
        self._calls, self._count = calls, 0
        self._recent: deque[Call] = deque()
        self._once = set[tuple[CallKind, str]]()
        self.sound = Sound(calls.volume, calls.language, calls.voice, calls.tones, calls.speech)

    def say(self, kind: CallKind, time_s: float, text: str = "") -> None:
        """Give a call, if the target wants its kind.

        :param time_s: when it is due, on the readings' axis
        """
        if kind in self._calls.say:
            self._count += 1
            self._recent.append(Call(self._count, time_s, kind, text))

    def once(self, kind: CallKind, which: str, time_s: float, text: str) -> None:
        """Give a call, but never a second time.

        :param which: tells calls of the same kind apart
        """
        if (kind, which) not in self._once:
            self._once.add((kind, which))
            self.say(kind, time_s, text)

    def recent(self, time_s: float) -> tuple[Call, ...]:
        """The calls of the last seconds, oldest first."""
        while self._recent and time_s - self._recent[0].time_s > RECENT_S:
            self._recent.popleft()
        return tuple(self._recent)

    def to_grams(self, grams: float) -> str:
        """What a pour goes to, as it is spoken."""
        number = spoken(round(grams)) if self._calls.language.lower().startswith("en") else f"{grams:.0f}"
        return self._calls.words.to.replace(GRAMS, number)


def spoken(number: int) -> str:
    """Say a weight as brewers call it in English: 190 as "one ninety", 205 as "two oh five".

    :param number: 0 or more; from 1000 on it is left in digits
    """
    if number >= 1000 or number < 0:
        return str(number)
    hundreds, rest = divmod(number, 100)
    if not hundreds:
        return _below_hundred(rest)
    if not rest:
        return f"{_ONES[hundreds]} hundred"
    return f"{_ONES[hundreds]} {'oh ' if rest < 10 else ''}{_below_hundred(rest)}"


def _below_hundred(number: int) -> str:
    if number < 20:
        return _ONES[number]
    tens, ones = divmod(number, 10)
    return f"{_TENS[tens]}-{_ONES[ones]}" if ones else _TENS[tens]
