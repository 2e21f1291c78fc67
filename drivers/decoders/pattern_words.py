"""The words of a pattern for lines of text: fields, marks, blanks, literals, and what is wrong with them."""

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
class Token:
    """A word, a sign or blanks of a pattern.

    :param kind: ``field``, ``skip``, ``mark``, ``blank`` or ``literal``
    :param position: where it begins, counted from 1
    :param field: what it stands for; None for no field
    """

    kind: str
    text: str
    position: int
    field: Field | None = None


_NAMED = re.compile(
    r"([A-Za-z0-9][A-Za-z0-9_-]*):((?:weight|temperature|counts|thermocouple|rtd|thermistor|cold_c)\w*)",
    re.ASCII,
)
_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*", re.ASCII)
_BLANKS = re.compile(r"[ \t]+")


def tokens_of(text: str) -> list[Token]:
    """Split a pattern into what it is made of.

    :raises PatternError: for a word that is no field, or a field with a name that cannot be
    """
    tokens, at = [], 0
    while at < len(text):
        token, at = _token(text, at)
        tokens.append(token)
    return tokens


def _token(text: str, at: int) -> tuple[Token, int]:
    if match := _BLANKS.match(text, at):
        return Token("blank", match[0], at + 1), match.end()
    if text[at] == "\\":
        if at + 1 == len(text):
            raise PatternError(at + 1, "nothing follows the backslash")
        word = _WORD.match(text, at + 1)
        end = word.end() if word else at + 2
        return Token("literal", text[at + 1 : end], at + 1), end
    if match := _NAMED.match(text, at):
        return _named_field(match, at)
    if match := _WORD.match(text, at):
        return _word(match[0], at), match.end()
    if ord(text[at]) < 32:
        raise PatternError(at + 1, "control characters cannot be part of a line")
    return Token("literal", text[at], at + 1), at + 1


def _named_field(match: re.Match[str], at: int) -> tuple[Token, int]:
    name, word = match.groups()
    if not is_channel_name(name):
        raise PatternError(at + 1, f"{name!r} is too long for the name of a channel")
    if word not in FIELDS:
        raise PatternError(match.start(2) + 1, _no_field(word))
    return Token("field", match[0], at + 1, Field(FIELDS[word], name, at + 1)), match.end()


def _word(word: str, at: int) -> Token:
    if word == "_":
        return Token("skip", word, at + 1)
    if word == "_mark":
        return Token("mark", word, at + 1)
    if word in FIELDS:
        return Token("field", word, at + 1, Field(FIELDS[word], None, at + 1))
    # A slip of the pen would otherwise be a literal that no line ever holds.
    suspects = [name for name in FIELDS if name not in _NO_SLIP]
    if "_" in word or difflib.get_close_matches(word.lower(), suspects, n=1, cutoff=0.75):
        raise PatternError(at + 1, _no_field(word))
    return Token("literal", word, at + 1)


def _no_field(word: str) -> str:
    near = difflib.get_close_matches(word.lower(), FIELDS, n=1, cutoff=0.6)
    hint = f", did you mean {near[0]!r}?" if near else f"; fields are {', '.join(FIELDS)} and _."
    return f"{word!r} is not a field{hint} Put a backslash before it if the device really sends this word"


def check_fields(tokens: list[Token]) -> None:
    """Refuse fields that touch, come twice, or are more than a line can hold.

    :raises PatternError: with the position at fault
    """
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
