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

import difflib
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from drivers.decoders.raw_sensors import COLD_C, COUNTS, RTD_OHM, THERMISTOR_OHM, THERMOCOUPLE_MV
from drivers.reading import CELSIUS, GRAM, is_channel_name

SIGN: Final = "sign"
_OZ_G = 453.59237 / 16
_LB_G = 453.59237


class PatternError(ValueError):
    """A pattern that cannot be used.

    :param position: the character at fault, counted from 1
    :param what: a clause for the user
    """

    def __init__(self, position: int, what: str) -> None:
        self.position, self.what = position, what
        super().__init__(f"character {position}: {what}")


def _kilo(text: bytes) -> float:
    try:
        return float(text + b"e3")  # 0.0123 kg is 12.3 g, and not 12.299999999999999
    except ValueError:  # the number has an exponent already
        return float(text) * 1000.0


@dataclass(frozen=True, slots=True)
class FieldKind:
    """What a field word stands for.

    :param unit: g, °C, ``s`` for the device's own clock, or ``sign`` for a minus of the line's only number
    :param convert: from the digits as sent to that unit
    :param sensor: the word of ``raw_sensors`` where the digits are a raw signal, or serve to understand one
    """

    unit: Literal["g", "°C", "s", "sign"]
    convert: Callable[[bytes], float] = float
    sensor: str = ""


FIELDS = {
    "weight": FieldKind(GRAM),
    "weight_g": FieldKind(GRAM),
    "weight_kg": FieldKind(GRAM, _kilo),
    "weight_mg": FieldKind(GRAM, lambda text: float(text) / 1000.0),
    "weight_oz": FieldKind(GRAM, lambda text: float(text) * _OZ_G),
    "weight_lb": FieldKind(GRAM, lambda text: float(text) * _LB_G),
    "temperature": FieldKind(CELSIUS),
    "temperature_c": FieldKind(CELSIUS),
    "temperature_f": FieldKind(CELSIUS, lambda text: (float(text) - 32.0) / 1.8),
    "temperature_k": FieldKind(CELSIUS, lambda text: float(text) - 273.15),
    "time_ms": FieldKind("s", lambda text: float(text) / 1000.0),
    "time_s": FieldKind("s"),
    COUNTS: FieldKind(GRAM, sensor=COUNTS),
    THERMOCOUPLE_MV: FieldKind(CELSIUS, sensor=THERMOCOUPLE_MV),
    RTD_OHM: FieldKind(CELSIUS, sensor=RTD_OHM),
    THERMISTOR_OHM: FieldKind(CELSIUS, sensor=THERMISTOR_OHM),
    COLD_C: FieldKind(CELSIUS, sensor=COLD_C),
    SIGN: FieldKind(SIGN),
}

# Words that are one letter away from these are more likely part of the device's text.
_NO_SLIP = (COUNTS, COLD_C, SIGN)


@dataclass(frozen=True, slots=True)
class Field:
    """A field of one pattern: what it is, and the channel it goes to (None where the user names it).

    :param position: its first character in the pattern, counted from 1
    """

    kind: FieldKind
    channel: str | None
    position: int = 1

    @property
    def is_measured(self) -> bool:
        """Whether it gives a channel a value."""
        return self.kind.unit not in ("s", SIGN) and (self.kind.sensor != COLD_C or self.channel is not None)


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern, understood.

    :param expression: matches a whole line; one group for each field, in order
    :param leads_with_field: whether a line begins with a number, nothing before it, and of any length
    """

    expression: re.Pattern[bytes]
    fields: tuple[Field, ...]
    leads_with_field: bool


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str  # "field", "skip", "mark", "blank", "literal"
    text: str
    position: int
    field: Field | None = None


_NAMED = re.compile(
    r"([A-Za-z0-9][A-Za-z0-9_-]*):((?:weight|temperature|counts|thermocouple|rtd|thermistor|cold_c)\w*)",
    re.ASCII,
)
_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*", re.ASCII)
_BLANKS = re.compile(r"[ \t]+")


def compile_pattern(text: str, hex_digits: int = 0) -> Pattern:
    """Understand a pattern.

    :param hex_digits: how many digits 0 to F each ``counts`` has; 0 where they are decimals
    :raises PatternError: with the position at fault
    """
    tokens = _tokens(text)
    fields = tuple(token.field for token in tokens if token.field is not None)
    if not any(field.is_measured for field in fields):
        raise PatternError(1, "there is no weight and no temperature in it")
    _check_fields(tokens)
    expression = re.compile("".join(_pieces(tokens, hex_digits)).encode("utf-8"))
    first = next(token for token in tokens if token.kind not in ("blank", "mark"))
    has_all_digits = bool(hex_digits) and first.field is not None and first.field.kind.sensor == COUNTS
    return Pattern(expression, fields, first.kind == "field" and not has_all_digits)


def _tokens(text: str) -> list[_Token]:
    tokens, at = [], 0
    while at < len(text):
        token, at = _token(text, at)
        tokens.append(token)
    return tokens


def _token(text: str, at: int) -> tuple[_Token, int]:
    if match := _BLANKS.match(text, at):
        return _Token("blank", match[0], at + 1), match.end()
    if text[at] == "\\":
        if at + 1 == len(text):
            raise PatternError(at + 1, "nothing follows the backslash")
        word = _WORD.match(text, at + 1)
        end = word.end() if word else at + 2
        return _Token("literal", text[at + 1 : end], at + 1), end
    if match := _NAMED.match(text, at):
        return _named_field(match, at)
    if match := _WORD.match(text, at):
        return _word(match[0], at), match.end()
    if ord(text[at]) < 32:
        raise PatternError(at + 1, "control characters cannot be part of a line")
    return _Token("literal", text[at], at + 1), at + 1


def _named_field(match: re.Match[str], at: int) -> tuple[_Token, int]:
    name, word = match.groups()
    if not is_channel_name(name):
        raise PatternError(at + 1, f"{name!r} is too long for the name of a channel")
    if word not in FIELDS:
        raise PatternError(match.start(2) + 1, _no_field(word))
    return _Token("field", match[0], at + 1, Field(FIELDS[word], name, at + 1)), match.end()


def _word(word: str, at: int) -> _Token:
    if word == "_":
        return _Token("skip", word, at + 1)
    if word == "_mark":
        return _Token("mark", word, at + 1)
    if word in FIELDS:
        return _Token("field", word, at + 1, Field(FIELDS[word], None, at + 1))
    # A slip of the pen would otherwise be a literal that no line ever holds.
    suspects = [name for name in FIELDS if name not in _NO_SLIP]
    if "_" in word or difflib.get_close_matches(word.lower(), suspects, n=1, cutoff=0.75):
        raise PatternError(at + 1, _no_field(word))
    return _Token("literal", word, at + 1)


def _no_field(word: str) -> str:
    near = difflib.get_close_matches(word.lower(), FIELDS, n=1, cutoff=0.6)
    hint = f", did you mean {near[0]!r}?" if near else f"; fields are {', '.join(FIELDS)} and _."
    return f"{word!r} is not a field{hint} Put a backslash before it if the device really sends this word"


def _check_fields(tokens: list[_Token]) -> None:
    names: set[str] = set()
    clocks = colds = signs = 0
    measured = [token for token in tokens if token.field is not None and token.field.is_measured]
    for index, token in enumerate(tokens):
        if token.kind in ("field", "skip") and index and tokens[index - 1].kind in ("field", "skip"):
            raise PatternError(token.position, f"nothing stands between this field and {token.text!r}")
        if token.field is None:
            continue
        if token.field.channel in names:
            raise PatternError(token.position, f"two fields are called {token.field.channel!r}")
        if token.field.channel is not None:
            names.add(token.field.channel)
        clocks += token.field.kind.unit == "s"
        if clocks > 1:
            raise PatternError(token.position, "a line can hold one device time only")
        signs += token.field.kind.unit == SIGN
        if signs > 1 or (signs and len(measured) > 1):
            raise PatternError(token.position, "a line with a sign of its own can hold one number only")
        colds += token.field.kind.sensor == COLD_C
        if colds > 1:
            raise PatternError(token.position, "a line can hold one cold junction only")


# A sign may stand before the blanks that pad a number.
_DIGITS = (
    r"(?:[+-][ \t]*+)?+(?:\d++(?:\.\d*+)?+|\.\d++)(?:[eE][+-]?+\d++)?+|[+-]?+(?:[nN][aA][nN]|[iI][nN][fF])"
)


# A mark ends with a blank, or with the sign of a number: what a digit has become is none.
_MARK = r"(?:[^\s\d.+-][^\s\d.+-]*+(?:[ \t]++|(?=[+-])))?+"

# A number that is skipped may have such a sign as well; only where the line does not match without.
_PADDED_SIGN = r"(?:[+-][ \t]++(?=[.\d]))??"


def _pieces(tokens: list[_Token], hex_digits: int) -> list[str]:
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


def _gap(before: _Token, after: _Token, blank: bool) -> str:
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


def _is_sign(token: _Token) -> bool:
    return token.field is not None and token.field.kind.unit == SIGN


def _number(field: Field, before: _Token | None, after: _Token | None, hex_digits: int) -> str:
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


def _body_behind(token: _Token, after: _Token | None, blank_after: bool) -> str:
    """Write the part for what stands behind a field: before a literal, it may touch that, without digits."""
    body = rf"(?<=[ \t]){_body(token, after, blank_after)}"
    if token.kind != "skip":
        return _body(token, after, blank_after)
    if after is None or after.kind != "literal":
        return body
    return rf"(?:{body}|(?<![ \t])(?:(?!{re.escape(after.text)})[^\r\n\d.])++)"


def _body(token: _Token, after: _Token | None, blank_after: bool) -> str:
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
