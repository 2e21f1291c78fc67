"""The sign of a number in a line that stands behind it: ``12.3-``, ``12.3 - g``, ``12.3|-|``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

_SIGNS = (b"+", b"-")

_NEARLY_ALL = 0.98
"""Share of the lines in which it is a plus, a minus or nothing, but for damage."""

_FAR, _STAYS, _OF_TURNS = 0.1, 0.5, 0.1
"""Of the greatest number, what is far from nought; of that, by how much a number that stays goes on at most;
and the share of a sign's turns at which it may stay, but for damage."""


def sign_behind(
    tokens: Sequence[tuple[str, bytes | None]], at: int, rows: Sequence[Sequence[bytes]]
) -> tuple[int, bytes] | None:
    """Give the part behind a number that is its sign: a plus, a minus or nothing; None for none.

    It stands right behind the number, which has none of its own then, or in the column beside it. What turns
    far from nought, as the number goes on, is none: it may say that this rises or falls.
    """
    place = _place_behind(tokens, at)
    if place is None:
        return None
    signs = [row[place] for row in rows]
    is_sign = [each in (b"", *_SIGNS) for each in signs]
    if not set(_SIGNS) & set(signs) or sum(is_sign) < _NEARLY_ALL * len(rows):
        return None
    if any(row[at][:1] in _SIGNS for row in rows):
        return None
    says = np.array([float(row[at]) for row, is_one in zip(rows, is_sign, strict=True) if is_one])
    minus = np.array([each == b"-" for each, is_one in zip(signs, is_sign, strict=True) if is_one])
    turns, far = minus[1:] != minus[:-1], _FAR * says.max()
    stays = (np.abs(np.diff(says)) < _STAYS * far) & (says[1:] > far)
    return (place, b"-") if (turns & stays).sum() <= _OF_TURNS * turns.sum() else None


def _place_behind(tokens: Sequence[tuple[str, bytes | None]], at: int) -> int | None:
    """Give which part of lines may be the sign of a number behind it; None for none."""
    sorts = tuple(sort for sort, _ in tokens[at : at + 3])
    if sorts[:2] == ("number", "any") or tuple(tokens[at : at + 2]) == (("number", None), ("sign", b"+")):
        return at + 1
    return at + 2 if sorts == ("number", "sign", "any") else None


def signed(text: bytes, sign: bytes) -> bytes:
    """Give a number's text with the sign that stands behind it."""
    return b"-" + text if sign == b"-" else text
