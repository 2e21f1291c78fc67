"""The fields of a note as they stand in its file, each read with what it may be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

_LONGEST_LABEL = 40
_MOST_WORDS = 30


def read_number(
    given: Mapping[str, Any], name: str, least: float, most: float, usual: float | None = None
) -> float:
    """Read a number between these two.

    :param usual: what it is where nothing is said; None where it must be said
    :raises ValueError: when it is none, or not between them
    """
    value = given.get(name, usual)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{name} is no number")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not least <= number <= most:
        raise ValueError(f"{name} is not between {least:g} and {most:g}")
    return number


def read_number_if_given(given: Mapping[str, Any], name: str, least: float, most: float) -> float | None:
    """Read a number that may be left out.

    :raises ValueError: when it is there and is none, or not between them
    """
    return None if given.get(name) is None else read_number(given, name, least, most)


def read_truth(given: Mapping[str, Any], name: str, *, usual: bool) -> bool:
    """Read true or false.

    :raises ValueError: when it is neither
    """
    value = given.get(name, usual)
    if not isinstance(value, bool):
        raise ValueError(f"{name} is neither true nor false")
    return value


def read_label(given: Mapping[str, Any], name: str, usual: str | None = None) -> str:
    """Read a short text, such as a name.

    :raises ValueError: when it is none, too long, or cannot be printed
    """
    value = given.get(name, usual)
    if not isinstance(value, str) or len(value) > _LONGEST_LABEL or not value.isprintable():
        raise ValueError(f"{name} is no label of at most {_LONGEST_LABEL} letters")
    return value


def read_words(given: Mapping[str, Any], name: str) -> tuple[str, ...]:
    """Read a list of words.

    :raises ValueError: when it is none, or one of them is empty or too long
    """
    value = given.get(name)
    if not isinstance(value, list) or len(value) > _MOST_WORDS:
        raise ValueError(f"{name} is no list of words")
    for word in value:
        if not isinstance(word, str) or not word.strip() or len(word) > _LONGEST_LABEL:
            raise ValueError(f"{name} holds what is no word of at most {_LONGEST_LABEL} letters")
    return tuple(value)
