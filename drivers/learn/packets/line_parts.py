"""Lines of text taken apart: numbers, words, blanks and signs, and numbers in digits 0 to F."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from drivers.learn.packets.arrays import HEX_OF
from drivers.learn.packets.kinds import FEWEST

_TOKEN = re.compile(
    rb"(?P<number>(?:[+-][ \t]*)?(?:\d+(?:\.\d*)?|\.\d+))|(?P<word>[A-Za-z_]+)"
    rb"|(?P<blank>[ \t]+)|(?P<sign>([-?~.!#])\5+|[^\s])"
)
"""Of signs, those alike that tell a state are one; what may stand on both sides of an empty field is not."""

_CHECKED = re.compile(rb"(.*)\*([0-9A-Fa-f]{2}|[0-9A-Fa-f]{4})", re.DOTALL)
_RUN = re.compile(rb"[0-9A-Za-z_.]+")
_HEX = re.compile(rb"(?:0[xX])?([0-9A-Fa-f]{2,16})")
_MIXED = re.compile(rb"\d[A-Fa-f]|[A-Fa-f]\d")

_NEARLY_ALL, _FEWEST_LETTERS, _FEWEST_VALUES = 0.95, 3, 6
"""Share of the lines in which a run has as many digits, lines in which some of those are letters, and values
that it has: damage makes a letter of a digit in fewer, and a name has fewer values."""


@dataclass(frozen=True)
class HexRun:
    """Which letters and digits of a line are a number in digits 0 to F, always as many of them.

    :param runs: how many runs of letters and digits such a line has
    :param at: which of them it is
    """

    runs: int
    at: int
    digits: int


@dataclass(frozen=True)
class LineForm:
    """How the lines of a stream are taken apart.

    :param is_checked: whether they end in a star and a check
    """

    is_checked: bool = False
    hex_runs: frozenset[HexRun] = frozenset()

    def parts_of(self, line: bytes) -> list[tuple[str, bytes]]:
        """Take a line apart, each part with its sort.

        Padding comes and goes with the digits, and is left out; a sign or a separator does not.
        """
        text, check = _parted(line.strip()) if self.is_checked else (line.strip(), [])
        found, begin = [], 0
        for first, end in self._hex_numbers(text):
            found += [*_parts(text[begin:first]), ("hex", text[first:end])]
            begin = end
        return [*found, *_parts(text[begin:]), *check]

    def _hex_numbers(self, text: bytes) -> Iterator[tuple[int, int]]:
        """Give where the digits 0 to F of each such number begin and end, what marks them left out."""
        runs = list(_RUN.finditer(text)) if self.hex_runs else []
        for at, run in enumerate(runs):
            digits = _HEX.fullmatch(text, *run.span())
            if digits is not None and HexRun(len(runs), at, len(digits[1])) in self.hex_runs:
                yield digits.span(1)


def form_of(lines: Sequence[bytes]) -> LineForm:
    """See how the lines of a stream are to be taken apart.

    :param lines: without what ends them, and without a check that is known
    """
    lines = [line.strip() for line in lines]
    is_checked = _end_in_check(lines)
    if is_checked:
        lines = [_parted(line)[0] for line in lines]
    if sum(_MIXED.search(line) is not None for line in lines) < _FEWEST_LETTERS:
        return LineForm(is_checked)
    alike: dict[int, list[list[bytes]]] = {}
    for line in lines:
        runs = _RUN.findall(line)
        alike.setdefault(len(runs), []).append(runs)
    found = (
        HexRun(count, at, digits)
        for count, rows in alike.items()
        for at in range(count if len(rows) >= FEWEST else 0)
        if (digits := _hex_digits([row[at] for row in rows]))
    )
    return LineForm(is_checked, frozenset(found))


def _hex_digits(texts: Sequence[bytes]) -> int:
    """Give how many digits 0 to F the texts have that stand at one place of lines; 0 where they are none.

    A letter that is always there, behind digits, is a unit or names something.
    """
    found = [match[1] for text in texts if (match := _HEX.fullmatch(text))]
    (usual, _), *_ = Counter(map(len, found or [b""])).most_common(1)
    some = [digits for digits in found if len(digits) == usual]
    if len(some) < _NEARLY_ALL * len(texts) or len(set(some)) < _FEWEST_VALUES:
        return 0
    is_letter = HEX_OF[np.frombuffer(b"".join(some), dtype=np.uint8).reshape(len(some), usual)] > 9
    stays = is_letter.mean(axis=0) > _NEARLY_ALL
    if stays[-1] or is_letter[:, ~stays].any(axis=1).sum() < _FEWEST_LETTERS:
        return 0
    return usual


def _parts(text: bytes) -> list[tuple[str, bytes]]:
    matches = _TOKEN.finditer(text)
    return [(match.lastgroup or "", match[0]) for match in matches if match.lastgroup != "blank"]


def _end_in_check(lines: Sequence[bytes]) -> bool:
    """Say whether lines end in a star and a check in hexadecimal digits, as those of NMEA 0183 do."""
    return sum(_CHECKED.fullmatch(line) is not None for line in lines) > 0.9 * len(lines)


def _parted(line: bytes) -> tuple[bytes, list[tuple[str, bytes]]]:
    """Set the check of a line apart, as something that may be anything."""
    match = _CHECKED.fullmatch(line)
    return (match[1], [("sign", b"*"), ("any", match[2])]) if match else (line, [])
