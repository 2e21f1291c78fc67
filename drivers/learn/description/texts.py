"""Lines of text whose length changes: their numbers one by one, and the pattern that reads them.

Lines of the same make are one kind. Each number becomes a column of text of one width, so that it is held
against the loads like any other number.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from drivers.decoders.checked_lines import without_check
from drivers.decoders.pattern_words import PatternError
from drivers.described.description import Checksum
from drivers.learn.description.line_patterns import expression_of
from drivers.learn.description.named_lines import Line, by_name
from drivers.learn.description.signs_beside import sign_beside, signed
from drivers.learn.packets.arrays import Frames
from drivers.learn.packets.kinds import FEWEST, Kind
from drivers.learn.packets.line_makes import NUMBERS, LineMake
from drivers.learn.packets.line_parts import form_of

_WIDTH = 20
_LEAST_SHARE = 0.05
"""Share of the lines that a make has, at least."""

_MOST_DECIMALS, _NEARLY_ALL = 5, 0.98
"""Digits behind a comma; share of the lines in which a part is what it always is, but for damage."""

_MANY = 20
"""Numbers before a comma, of which some would have had other decimals."""

_FEWEST_CHANGES, _APART, _STAY = 8, 0.7, 0.1
"""Changes of a number before a comma, and the share of them with which the digits behind it stay nearly what
they are, as a part of all that they can be, where they are another number: its own decimals begin again."""

_TRIED, _READ, _FEW_DAMAGED = 200, 0.97, 2
"""Lines that a pattern is tried with, the share of them that it reads, and how many of a few are damaged."""

_MOST_STATES, _STATED, _MOST_UNLIKE = 6, 0.97, 2
"""Words or signs of a state, the share of the lines that have one of those, and how many change at once."""

_LEAST_STATE = 0.01
"""Share of the lines that a state has, at least: less is damage."""

_STATES = {"sign", "word", "any", "mark"}
_STATE, _MARK = ("any", b""), ("mark", b"")
"""What tells a state; and what is absent at times right before a number, without a separator."""

_Part = tuple[str, bytes]
_Key = tuple[_Part, ...]


_Makes = dict[_Key, list[Line]]


def text_kinds(
    stream: int, lines: Sequence[tuple[float, bytes]], check: Checksum | None
) -> Iterator[tuple[Kind, LineMake]]:
    """Give a kind for every number of every make of line.

    :param lines: each with its time, without its end
    :param check: what lines end with that are not damaged; None where it is not known, or there is none
    """
    if check is not None:
        text_of = without_check(check)
        lines = [(time_s, text) for time_s, line in lines if (text := text_of(line)) is not None]
    form = form_of([line for _, line in lines])
    made: _Makes = {}
    for time_s, line in lines:
        parts = form.parts_of(line)
        key = tuple((sort, _sameness(sort, text)) for sort, text in parts)
        made.setdefault(key, []).append(Line(time_s, [text for _, text in parts], line))
    for key, found in _named(_with_states(made)):
        if len(found) < max(FEWEST, _LEAST_SHARE * len(lines)) or not _is_readable(key, found, found):
            continue
        tokens = _tokens(key, found)
        times = np.array([line.time_s for line in found])
        rows = [line.texts for line in found]
        for at, (sort, _) in enumerate(tokens):
            if sort in NUMBERS:
                sign = sign_beside(tokens, at, rows)
                texts = [row[at] if sign is None else signed(row[at], row[sign[0]]) for row in rows]
                frames = _columns(texts, padded=sort == "number")
                digits = [one >= 0 and _have_digits_behind(tokens, one, rows) for one in (at, at - 2)]
                is_read = _is_read(LineMake(tokens, at, sign=sign), found, found)
                make = LineMake(tokens, at, form, digits[0], digits[1], check, is_read, sign)
                yield Kind(stream, times, frames, (), len(found) / len(lines), False), make


def _columns(texts: Sequence[bytes], *, padded: bool) -> Frames:
    """Give the texts of a number, one a row; in front of decimals, which may get more, stand blanks."""
    width = _WIDTH if padded else len(texts[0])
    data = np.frombuffer(b"".join(text[-width:].rjust(width) for text in texts), dtype=np.uint8)
    return data.reshape(len(texts), width)


def _sameness(sort: str, text: bytes) -> bytes:
    """Give what of a part is the same in lines of one make: a sign, and how many digits 0 to F there are."""
    return text if sort == "sign" else b"0" * len(text) if sort == "hex" else b""


def _named(made: _Makes) -> Iterator[tuple[_Key, list[Line]]]:
    """Give makes of lines, those of one make apart that a word names as different kinds."""
    for key, found in made.items():
        yield from ((key, lines) for lines in by_name([sort for sort, _ in key], found))


def _have_digits_behind(
    tokens: Sequence[tuple[str, bytes | None]], at: int, rows: Sequence[Sequence[bytes]]
) -> bool:
    """Say whether a comma stands behind a number, and then as many digits in each line, three at most."""
    if tuple(sort for sort, _ in tokens[at + 1 : at + 3]) != ("sign", "number") or tokens[at + 1][1] != b",":
        return False
    if _always([row[at + 2] for row in rows]) is not None and len({row[at] for row in rows}) >= _MANY:
        return False  # decimals that never change while the number does say nothing
    lengths = Counter(len(row[at + 2]) for row in rows if row[at + 2].isdigit())
    size = next(
        (size for size in range(1, _MOST_DECIMALS + 1) if lengths[size] >= _NEARLY_ALL * len(rows)), 0
    )
    return size > 0 and not _goes_on_alone([(row[at], row[at + 2]) for row in rows], size)


def _goes_on_alone(parts: Sequence[tuple[bytes, bytes]], size: int) -> bool:
    """Say whether a number before a comma changes and the digits behind it do not, as with a clock.

    :param parts: the number and the digits, line by line
    :param size: how many digits these are
    """
    whole = [
        (int(digits), int(behind))
        for before, behind in parts
        if behind.isdigit() and (digits := before.strip(b" +-")).isdigit()
    ]
    moved = [abs(then - now) for (before, now), (after, then) in pairwise(whole) if before != after]
    stays = sum(by <= _STAY * 10**size for by in moved)
    return len(moved) >= _FEWEST_CHANGES and stays > _APART * len(moved)


def _always(texts: Sequence[bytes]) -> bytes | None:
    """Give what a part is in nearly all lines; None where it is several things."""
    (usual, count), *_ = Counter(texts).most_common(1)
    return usual if count >= _NEARLY_ALL * len(texts) else None


def _with_states(made: _Makes) -> _Makes:
    """Put makes of lines together that differ in signs or words, or by one that is absent: states."""
    merged: _Makes = {}
    least = _LEAST_STATE * sum(map(len, made.values()))
    for key, found in sorted(made.items(), key=lambda each: -len(each[1])):
        for other in list(merged) if len(found) >= least else ():
            if (joined := _together(other, key)) is None:
                continue
            state, at = joined
            alike = [_as_long(some, len(state), at) for some in (merged[other], found)]
            both = sorted([*alike[0], *alike[1]])
            if _tell_states(both, state) and _is_readable(state, both, *alike):
                del merged[other]
                merged[state] = sorted([*merged.get(state, ()), *both])
                break
        else:
            merged[key] = found
    return merged


def _as_long(found: Sequence[Line], length: int, at: int) -> list[Line]:
    """Give lines in as many parts as another make has; the one that they lack is empty."""
    return [
        line if len(line.texts) == length else line._replace(texts=[*line.texts[:at], b"", *line.texts[at:]])
        for line in found
    ]


def _tell_states(found: Sequence[Line], key: _Key) -> bool:
    """Say whether each such part of lines is one of a few words or signs, or absent: no other is a state."""
    tallies = [
        Counter(line.texts[at] for line in found) for at, part in enumerate(key) if part in (_STATE, _MARK)
    ]
    most = (sum(count for _, count in tally.most_common(_MOST_STATES)) for tally in tallies)
    return all(count > _STATED * len(found) for count in most)


def _together(one: _Key, other: _Key) -> tuple[_Key, int] | None:
    """Give the make that two makes of lines are, and which part is absent in one of them; None for none.

    They differ in words and signs alone, a few at most, which tell states. A minus that comes and goes is
    part of a number, but for one behind it.
    """
    shorter, longer = sorted((one, other), key=len)
    if len(longer) == len(shorter):
        return _with_states_at(list(zip(one, other, strict=True)), len(one))
    found = []
    for at in range(len(longer) if len(longer) == len(shorter) + 1 else 0):
        is_before = longer[at + 1 :] != () and longer[at + 1][0] == "number"
        pairs = [*zip(longer[:at], shorter[:at], strict=True), (longer[at], _MARK if is_before else _STATE)]
        pairs += zip(longer[at + 1 :], shorter[at:], strict=True)
        if _may_be_absent(longer, at) and (state := _with_states_at(pairs, at)) is not None:
            found.append((sum(a != b for a, b in pairs), state))
    return min(found)[1] if found else None


def _with_states_at(pairs: Sequence[tuple[_Part, _Part]], at: int) -> tuple[_Key, int] | None:
    """Give the parts of two makes as one, where those that differ may tell states, and are few."""
    unlike = [(a, b) for a, b in pairs if a != b]
    are_known = sum(_STATE not in pair and _MARK not in pair for pair in unlike)
    if are_known > _MOST_UNLIKE or not all({a[0], b[0]} <= _STATES for a, b in unlike):
        return None
    return tuple(a if a == b else _MARK if _MARK in (a, b) else _STATE for a, b in pairs), at


def _may_be_absent(key: _Key, at: int) -> bool:
    sorts = [sort for sort, _ in key[:at]]
    is_apart = sorts[-1:] == ["number"] or sorts[-2:] == ["number", "sign"]
    is_state = key[at][0] in _STATES and (is_apart or key[at] != ("sign", b"-"))
    return is_state and (at + 1 == len(key) or key[at + 1][0] in {*_STATES, "number"})


def _tokens(key: _Key, found: Sequence[Line]) -> tuple[tuple[str, bytes | None], ...]:
    return tuple(_token(sort, [line.texts[at] for line in found]) for at, (sort, _) in enumerate(key))


def _is_readable(key: _Key, found: Sequence[Line], *parts: Sequence[Line]) -> bool:
    """Say whether the first number of lines is read by a pattern, if there is one.

    :param found: all lines of a make
    :param parts: those of them that are looked at; in each of these parts
    """
    at = next((at for at, (sort, _) in enumerate(key) if sort in NUMBERS), None)
    if at is None:
        return True
    tokens = _tokens(key, found)
    make = LineMake(tokens, at, sign=sign_beside(tokens, at, [line.texts for line in found]))
    return all(_is_read(make, found, some) for some in parts)


def _is_read(make: LineMake, found: Sequence[Line], some: Sequence[Line]) -> bool:
    """Say whether a number of lines is read by a pattern: none is where a number and a state may touch.

    Nor is a number whose sign the word before it would take along, or one behind another with blanks inside.

    :param found: all lines of a make
    :param some: those of them that are looked at
    """
    at, sign = make.number_at, make.sign
    try:
        follows = expression_of(make, len(found[0].texts[at])).fullmatch
    except PatternError:
        return False
    tried = some[:: max(1, len(some) // _TRIED)]
    group = 2 if sign is not None and sign[0] < at else 1
    alike = [
        (read := follows(line.whole)) is not None and _unpadded(read[group]) == _unpadded(line.texts[at])
        for line in tried
    ]
    damaged = (1.0 - _READ) * len(tried)  # chance makes as many more of them
    return len(tried) - sum(alike) <= max(_FEW_DAMAGED, damaged + math.sqrt(damaged))


def _unpadded(text: bytes) -> bytes:
    return b"".join(text.split())


def _token(sort: str, texts: list[bytes]) -> tuple[str, bytes | None]:
    return sort, None if sort in (*NUMBERS, "any", "mark") else _always(texts)
