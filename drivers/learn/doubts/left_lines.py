"""Lines of text that a pattern does not read, and that hold the load as well."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from drivers.decoders.checked_lines import without_check
from drivers.learn.captures.capture import Capture
from drivers.learn.checks.check import Check
from drivers.learn.description.line_patterns import expression_of
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Marks
from drivers.learn.packets.framing import ByteStream, lines_in, lines_of
from drivers.learn.packets.kinds import settled_rows
from drivers.learn.packets.line_makes import NUMBERS, LineMake

_SELDOM, _FEWEST_RESTING = 0.6, 4
"""Share of lines of another kind that look like the load by chance, and how many come at rest; and lines that
are read with a word or a sign that is no damage."""

_FEWEST_CHECKED, _CHECKED = 3, 0.01
"""Lines whose check is right by chance, one in 256 of those that are damaged; and their share."""

_CLOSELY = 0.006
"""Share of the span of all loads by which another line may say something near the load by chance."""


def lines_unread(capture: Capture, one: Fit, make: LineMake, joined: ByteStream | None) -> tuple[int, int]:
    """Count lines that the pattern does not read, with the load as many parts from their beginning or end.

    :param joined: the stream, for lines that were cut out of one
    :returns: how many hold the load at rest or go on with it, and of how many
    """
    others = _others(capture, one, make, joined)
    holds, is_other = _holding(others, one, capture)
    missed = int((holds & ~is_other).sum())
    return missed, len(one.kind.frames) + missed


def lines_made_alike(capture: Capture, one: Fit, make: LineMake, joined: ByteStream | None) -> int:
    """Count lines that the pattern does not read, and that differ from those that it reads by one part.

    :param joined: the stream, for lines that were cut out of one
    """
    others = _others(capture, one, make, joined)
    alike = np.array([make.is_made_like(each.parts) for each in others], dtype=bool)
    return int((alike & ~_holding(others, one, capture)[1]).sum())


def lines_with_its_check(one: Fit, check: Check, joined: ByteStream | None) -> int:
    """Count lines of another length than those that are read, whose check is right: they are not damaged.

    A column that has become longer moves the check along, and what it covers.

    :param one: the number in lines of one length
    :param joined: the stream; None for packets that are lines
    :returns: nothing where they are so few that damage may be right by chance
    """
    is_behind = check.start <= min(one.number.covers) < check.stop <= check.at
    if joined is None or not one.kind.terminator or not is_behind:
        return 0
    solid, found = one.kind.length - len(one.kind.terminator), 0
    for _, line in lines_of(joined):
        longer = len(line) - solid
        if longer == 0 or check.stop + longer <= check.start:
            continue
        moved = replace(check, at=check.at + longer, stop=check.stop + longer)
        found += bool(moved.holds(np.frombuffer(line, dtype=np.uint8)[np.newaxis])[0])
    return found if found >= max(_FEWEST_CHECKED, _CHECKED * len(one.kind.frames)) else 0


def lines_read(
    capture: Capture, one: Fit, make: LineMake, joined: ByteStream | None
) -> Iterator[tuple[float, list[bytes]]]:
    """Give the lines that the pattern reads, each with its time and the texts of its parts."""
    for time_s, line, is_read in _lines(capture, one, make, joined):
        if is_read:
            yield time_s, [text for _, text in make.form.parts_of(line)]


class _Other(NamedTuple):
    """A line that is not read.

    :param numbers: where the load would be from either end; NaN for none
    :param is_named: whether it has a word or a sign that no line has that is read
    """

    time_s: float
    parts: Sequence[tuple[str, bytes]]
    numbers: tuple[float, float]
    is_named: bool

    @property
    def words(self) -> tuple[bytes, ...]:
        """What it is made of beside numbers."""
        return tuple(text for sort, text in self.parts if sort not in NUMBERS)


def _holding(others: Sequence[_Other], one: Fit, capture: Capture) -> tuple[Marks, Marks]:
    """Say which lines may hold the load, and which are of another kind.

    The latter have a word or a sign of their own, and the same ones as some that seldom hold a load at rest.
    """
    says = one.loads_of(np.array([each.numbers for each in others]).reshape(-1, 2))
    times = np.array([each.time_s for each in others])
    near = _CLOSELY * one.span + 8.0 * one.noise_units + 3.0 * one.step
    typed = [load.value for load in capture.loads]
    weighs, at_rest = np.zeros(says.shape, dtype=bool), np.zeros(times.size, dtype=bool)
    for load in capture.loads:
        rows = settled_rows(times, load)
        at_rest[rows] = True
        weighs[rows] = np.abs(says[rows] - load.value) <= near
    with np.errstate(invalid="ignore"):
        weighs |= ~at_rest[:, None] & (says > min(typed) + near) & (says < max(typed) - near)
    holds = np.asarray(weighs.any(axis=1))
    resting = Counter(others[at].words for at in np.flatnonzero(at_rest).tolist())
    holding = Counter(others[at].words for at in np.flatnonzero(at_rest & holds).tolist())
    are_others = [
        each.is_named
        and resting[each.words] >= _FEWEST_RESTING
        and holding[each.words] < _SELDOM * resting[each.words]
        for each in others
    ]
    return holds, np.array(are_others, dtype=bool)


def _others(capture: Capture, one: Fit, make: LineMake, joined: ByteStream | None) -> list[_Other]:
    """Give the lines that the pattern does not read."""
    places = (make.number_at, make.number_at - len(make.tokens))
    known, found = Counter[bytes](), []
    for time_s, line, is_read in _lines(capture, one, make, joined):
        parts = make.form.parts_of(line)
        if is_read:
            known.update(text for sort, text in parts if sort not in NUMBERS)
        else:
            found.append((time_s, parts))
    return [
        _Other(
            time_s,
            parts,
            (_value(parts, places[0], one.number), _value(parts, places[1], one.number)),
            any(sort not in NUMBERS and known[text] < _FEWEST_RESTING for sort, text in parts),
        )
        for time_s, parts in found
    ]


def _lines(
    capture: Capture, one: Fit, make: LineMake, joined: ByteStream | None
) -> Iterator[tuple[float, bytes, bool]]:
    """Give the lines whose check is right, without it, and whether the pattern reads them."""
    arrivals = [
        (each.time_s, line) for each in capture.of_stream(one.kind.stream) for line in lines_in(each.data)
    ]
    is_read = expression_of(make, one.number.width).fullmatch
    text_of = without_check(make.check) if make.check is not None else None
    for time_s, line in lines_of(joined) if joined is not None else arrivals:
        text = line if text_of is None else text_of(line)
        if text is not None:
            yield time_s, text, is_read(text) is not None


def _value(parts: Sequence[tuple[str, bytes]], at: int, number: Number) -> float:
    """Give what a part says, of digits 0 to F as the number that is read; NaN where it is no number."""
    sort, text = parts[at] if -len(parts) <= at < len(parts) else ("", b"")
    if sort == "hex" and number.encoding == "hex" and len(text) == number.width:
        return float(number.values(np.frombuffer(text, dtype=np.uint8)[np.newaxis])[0])
    return float(text.translate(None, b" \t")) if sort == "number" else math.nan
