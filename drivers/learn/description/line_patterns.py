"""The pattern that reads lines of one make, and the expression that they follow."""

from __future__ import annotations

import re

from drivers.decoders.pattern import compile_pattern
from drivers.decoders.pattern_words import SIGN
from drivers.decoders.raw_sensors import COUNTS
from drivers.learn.packets.line_makes import LineMake

_STATE = ("any", None)


def expression_of(make: LineMake, digits: int) -> re.Pattern[bytes]:
    """Give the expression that such lines follow.

    :param digits: of the number that is looked at
    :raises PatternError: where a pattern cannot say how they are made
    """
    if make.is_hex:
        return compile_pattern(pattern_of(make, COUNTS), digits).expression
    return compile_pattern(pattern_of(make, "weight_g")).expression


def pattern_of(make: LineMake, field: str) -> str:
    """Write the pattern that reads such lines."""
    parts: list[str] = []
    sign_at = make.sign[0] if make.sign is not None else make.number_at
    told = (make.number_at, sign_at)
    last = max(at for at, (_, text) in enumerate(make.tokens) if text is not None or at in told)
    for at, (sort, text) in enumerate(make.tokens[: last + 2]):  # one blank word stands for the rest
        if _goes_with_next(make, at):
            continue
        if at == make.number_at:
            parts.append(field)
        elif at == sign_at:
            parts.append(SIGN)
        elif text is None:
            parts.append("_mark" if sort == "mark" else "_")
        elif sort == "word":
            parts.append("\\" + text.decode())
        else:
            parts.append(("\\" if text in (b"\\", b"_", b":") else "") + text.decode("latin-1"))
        if at < last + 1 and at + 1 < len(make.tokens) and _needs_blank(make, at):
            parts.append(" ")
    return "".join(parts)


def _goes_with_next(make: LineMake, at: int) -> bool:
    """Say whether what stands before a separator is passed over as one: a number, and a state behind."""
    if make.tokens[at + 1 : at + 2] != (_STATE,) or make.tokens[at + 2 : at + 3] == ():
        return False
    told = (make.number_at, make.sign[0] if make.sign is not None else make.number_at)
    is_passed = make.tokens[at][1] is None and not {at, at + 1} & set(told)
    return is_passed and make.tokens[at + 2][0] == "sign" and make.tokens[at + 2][1] is not None


def _needs_blank(make: LineMake, at: int) -> bool:
    """Say whether two parts would run into each other, or may have blanks between them."""
    pair = [make.tokens[each] for each in (at, at + 1)]
    if make.sign is not None and at <= make.sign[0] <= at + 1:
        pair[make.sign[0] - at] = _STATE
    is_text = all(text is not None for _, text in pair)
    return is_text or "sign" not in (pair[0][0], pair[1][0])
