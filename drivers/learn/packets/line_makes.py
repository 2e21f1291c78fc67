"""How lines of text whose length changes are made: part by part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from drivers.described.description import Checksum
from drivers.learn.packets.line_parts import LineForm

NUMBERS = ("number", "hex")
"""Sorts of parts that are numbers: decimals, and whole ones in digits 0 to F."""


@dataclass(frozen=True)
class LineMake:
    """How lines of one kind are made.

    :param tokens: the sort of each part, and its text where it is always the same
    :param number_at: which part is the number that is looked at
    :param form: how they are taken apart
    :param has_digits_behind: whether a comma and the same few digits stand behind it, as decimals would
    :param is_behind_comma: whether it may be such decimals itself
    :param check: what the lines end with, and the parts leave out; None where none is known
    :param is_read: whether a pattern reads the number, and not another part of the line
    :param sign: which part tells that the number is below nought, and what that part is then; None for none
    """

    tokens: tuple[tuple[str, bytes | None], ...]
    number_at: int
    form: LineForm = field(default_factory=LineForm)
    has_digits_behind: bool = False
    is_behind_comma: bool = False
    check: Checksum | None = None
    is_read: bool = True
    sign: tuple[int, bytes] | None = None

    @property
    def is_checked(self) -> bool:
        """Say whether such lines end in a check that is not known: behind a star, or in digits 0 to F."""
        if self.tokens[-2:] == (("sign", b"*"), ("any", None)):
            return True
        return self.tokens[-1][0] == "hex" and self.number_at != len(self.tokens) - 1

    @property
    def is_hex(self) -> bool:
        """Say whether the number is written in digits 0 to F."""
        return self.tokens[self.number_at][0] == "hex"

    def is_made_like(self, parts: Sequence[tuple[str, bytes]]) -> bool:
        """Say whether a line has the same parts, but for one that is absent in one of the two."""
        shorter, longer = sorted(([sort for sort, _ in each] for each in (self.tokens, parts)), key=len)
        return any(longer[:at] + longer[at + 1 :] == shorter for at in range(len(longer)))


def has_known_check(make: object) -> bool:
    """Say whether packets are lines that end in a check that is known.

    :param make: of their kind
    """
    return isinstance(make, LineMake) and make.check is not None
