"""The orders in which the bytes of a number stand, as manuals of field-bus instruments name them.

::

    0x12345678   big          12 34 56 78
                 little       78 56 34 12
                 cdab         56 78 12 34      words of two bytes, low word first
                 badc         34 12 78 56      high word first, the bytes in each word swapped
"""

from __future__ import annotations

from typing import Literal

ByteOrder = Literal["big", "little"]
WordOrder = Literal["cdab", "badc"]
Order = ByteOrder | WordOrder

BYTE_ORDERS: tuple[ByteOrder, ...] = ("big", "little")
"""Those of any number of bytes."""

WORD_ORDERS: tuple[WordOrder, ...] = ("cdab", "badc")
"""Those that put words of two bytes together, and so need an even number of bytes, more than two."""


def highest_first(data: bytes, order: Order) -> bytes:
    """Put the bytes of a number into the order in which the highest comes first.

    :param data: an even number of bytes, where the order is one of words
    """
    if order == "big":
        return data
    if order == "little":
        return data[::-1]
    words = [data[at : at + 2] for at in range(0, len(data), 2)]
    if order == "cdab":
        return b"".join(reversed(words))
    return b"".join(word[::-1] for word in words)
