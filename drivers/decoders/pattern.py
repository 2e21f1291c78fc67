"""Patterns: how a user describes the line that a microcontroller prints.

::

    time_ms,server:weight_g g,temperature
    |      | |      |      |   `- a field: a word of FIELDS
    |      | |      |      `----- literal text, blanks match any run of blanks
    |      | |      `------------ a field
    |      | `------------------- the name of its channel
    |      `--------------------- literal
    `---------------------------- a field

Raw signals (``counts``, ``thermocouple_mv``, ...) are fields too; what turns them into g and °C is not in the
pattern. ``cold_c``, the temperature of a thermocouple's terminals, is a channel only where it has a name.
``_`` is a field whose content does not matter, ``_mark`` a mark that may stand before a number, and ``sign``
one that says whether a line's only number is below nought; a backslash makes the word or sign after it
literal. The pattern becomes one regular expression that never tries a byte twice (possessive quantifiers).
Numbers are decimals; ``counts`` may be whole numbers in digits 0 to F, always as many of them, so that what
has lost a digit is none.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from drivers.decoders.pattern_words import SIGN, Field, PatternError, Token, check_fields, tokens_of
from drivers.decoders.raw_sensors import COUNTS

# A sign may stand before the blanks that pad a number.
_DIGITS = (
    r"(?:[+-][ \t]*+)?+(?:\d++(?:\.\d*+)?+|\.\d++)(?:[eE][+-]?+\d++)?+|[+-]?+(?:[nN][aA][nN]|[iI][nN][fF])"
)


# A mark ends with a blank, or with the sign of a number: what a digit has become is none.
_MARK = r"(?:[^\s\d.+-][^\s\d.+-]*+(?:[ \t]++|(?=[+-])))?+"

# A number that is skipped may have such a sign as well; only where the line does not match without.
_PADDED_SIGN = r"(?:[+-][ \t]++(?=[.\d]))??"


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern, understood.

    :param expression: matches a whole line; one group for each field, in order
    :param leads_with_field: whether a line begins with a number, nothing before it, and of any length
    """

    expression: re.Pattern[bytes]
    fields: tuple[Field, ...]
    leads_with_field: bool


def compile_pattern(text: str, hex_digits: int = 0) -> Pattern:
    """Understand a pattern.

    :param hex_digits: how many digits 0 to F each ``counts`` has; 0 where they are decimals
    :raises PatternError: with the position at fault
    """
    tokens = tokens_of(text)
    fields = tuple(token.field for token in tokens if token.field is not None)
    if not any(field.is_measured for field in fields):
        raise PatternError(1, "there is no weight and no temperature in it")
    check_fields(tokens)
    expression = re.compile("".join(_pieces(tokens, hex_digits)).encode("utf-8"))
    first = next(token for token in tokens if token.kind not in ("blank", "mark"))
    has_all_digits = bool(hex_digits) and first.field is not None and first.field.kind.sensor == COUNTS
    return Pattern(expression, fields, first.kind == "field" and not has_all_digits)


def _pieces(tokens: list[Token], hex_digits: int) -> list[str]:
    """Write the tokens as parts of an expression; between two of them stands one part for blanks."""
    pieces = [r"[ \t]*+"]
    solid = [(index, token) for index, token in enumerate(tokens) if token.kind != "blank"]
    for place, (index, token) in enumerate(solid):
        before = solid[place - 1][1] if place else None
        after = solid[place + 1][1] if place + 1 < len(solid) else None
        blank_before = index > 0 and tokens[index - 1].kind == "blank"
        blank_after = index + 1 < len(tokens) and tokens[index + 1].kind == "blank"
        if token.kind == "skip" and after is None and before is not None and before.kind == "field":
            pieces.append(r"(?:[ \t]++[^\r\n]*+)?+")  # a state that comes and goes
            continue
        if before is not None:
            pieces.append(_gap(before, token, blank_before))
        if token.field is not None:
            pieces.append(_number(token.field, before, after, hex_digits))
        else:
            is_behind = before is not None and before.kind == "field"
            pieces.append((_body_behind if is_behind else _body)(token, after, blank_after))
    return [*pieces, r"[\x00-\x20]*+"]


def _gap(before: Token, after: Token, blank: bool) -> str:
    """What may stand between two tokens: numbers are often padded, also where the pattern has no blank."""
    if "mark" in (before.kind, after.kind):
        return r"[ \t]*+"
    if "literal" not in (before.kind, after.kind):
        may_touch = _is_sign(after) or (before.kind == "field" and after.kind == "skip")
        return r"[ \t]*+" if may_touch else r"[ \t]++"
    if before.kind == after.kind == "literal":
        both_words = before.text[-1:].isalnum() and after.text[:1].isalnum()
        return (r"[ \t]++" if both_words else r"[ \t]*+") if blank else ""
    return r"[ \t]*+"


def _is_sign(token: Token) -> bool:
    return token.field is not None and token.field.kind.unit == SIGN


def _number(field: Field, before: Token | None, after: Token | None, hex_digits: int) -> str:
    """Write the part for a field; an empty one shows only between separators.

    Between blanks it would shift its neighbours.
    """
    if field.kind.unit == SIGN:
        is_before = f"(?!{re.escape(after.text)})" if after is not None and after.kind == "literal" else ""
        column = rf"(?:{is_before}[^ \t\r\n])*+"
        if before is None or before.kind == "literal":
            return f"({column})"
        return rf"((?<=[ \t]){column}|(?:{is_before}[^ \t\r\n\d.])++)"  # it may touch a number
    is_hex = hex_digits and field.kind.sensor == COUNTS
    digits = f"[0-9A-Fa-f]{{{hex_digits}}}" if is_hex else _DIGITS
    is_bounded = all(other is None or other.kind == "literal" for other in (before, after))
    may_be_empty = is_bounded and (before is not None or after is not None)
    return f"({digits}{'|' if may_be_empty else ''})"


def _body_behind(token: Token, after: Token | None, blank_after: bool) -> str:
    """Write the part for what stands behind a field: before a literal, it may touch that, without digits."""
    body = rf"(?<=[ \t]){_body(token, after, blank_after)}"
    if token.kind != "skip":
        return _body(token, after, blank_after)
    if after is None or after.kind != "literal":
        return body
    return rf"(?:{body}|(?<![ \t])(?:(?!{re.escape(after.text)})[^\r\n\d.])++)"


def _body(token: Token, after: Token | None, blank_after: bool) -> str:
    if token.kind == "literal":
        return re.escape(token.text)
    if token.kind == "mark":
        return _MARK
    if after is None:
        return r"[^\r\n]*+"
    if after.kind != "literal":
        return rf"{_PADDED_SIGN}[^ \t]++"
    # A word that the line goes on with may begin like what is skipped.
    others = " " if blank_after else r"\r\n"
    return rf"{_PADDED_SIGN}(?:(?!{re.escape(after.text)})[^{others}])*+"
