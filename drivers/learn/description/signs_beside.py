"""The sign of a number in a line, behind it or in a column beside it: ``12.3-``, ``12.3|-|``, ``-,12.3``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

_SIGNS = (b"+", b"-")

_COLUMN_BEFORE = ("sign", "any", "sign")

_NEARLY_ALL = 0.98
"""Share of the lines in which it is a plus, a minus or nothing, but for damage."""

_FAR, _STAYS, _OF_TURNS = 0.1, 0.5, 0.1
"""Of the greatest number, what is far from nought; of that, by how much a number that stays goes on at most;
and the share of a sign's turns at which it may stay, but for damage."""


def sign_beside(
    tokens: Sequence[tuple[str, bytes | None]], at: int, rows: Sequence[Sequence[bytes]]
) -> tuple[int, bytes] | None:
    """Give the part that is a number's sign, and what it is below nought; None for none.

    It is a plus, a minus or nothing, right behind the number, which has no other, or in a column beside it.
    What turns far from nought, as the number goes on, is none: it may say that this rises or falls.
    """
    for place in _places_beside(tokens, at):
        if _is_sign([(row[at], row[place]) for row in rows]):
            return place, b"-"
    return None


def _is_sign(parts: Sequence[tuple[bytes, bytes]]) -> bool:
    """Say whether what stands beside a number is its sign.

    :param parts: the number and what is beside it, line by line
    """
    signs = [sign for _, sign in parts]
    are_signs = [sign in (b"", *_SIGNS) for sign in signs]
    if not set(_SIGNS) & set(signs) or sum(are_signs) < _NEARLY_ALL * len(parts):
        return False
    if any(text[:1] in _SIGNS for text, _ in parts):
        return False
    says = np.array([float(text) for (text, _), is_one in zip(parts, are_signs, strict=True) if is_one])
    minus = np.array([sign == b"-" for sign, is_one in zip(signs, are_signs, strict=True) if is_one])
    turns, far = minus[1:] != minus[:-1], _FAR * says.max()
    stays = (np.abs(np.diff(says)) < _STAYS * far) & (says[1:] > far)
    return bool(np.ptp(says) > 0.0 and (turns & stays).sum() <= _OF_TURNS * turns.sum())


def _places_beside(tokens: Sequence[tuple[str, bytes | None]], at: int) -> Iterator[int]:
    """Give which parts of lines may be the sign of a number."""
    sorts = tuple(sort for sort, _ in tokens[at : at + 3])
    if sorts[:2] == ("number", "any") or tuple(tokens[at : at + 2]) == (("number", None), ("sign", b"+")):
        yield at + 1
    elif sorts == ("number", "sign", "any"):
        yield at + 2
    before = tuple(sort for sort, _ in tokens[max(at - 3, 0) : at])
    if before in (_COLUMN_BEFORE, _COLUMN_BEFORE[1:]):
        yield at - 2


def signed(text: bytes, sign: bytes) -> bytes:
    """Give a number's text with the sign that stands beside it."""
    return b"-" + text if sign == b"-" else text
