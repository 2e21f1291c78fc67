"""How lines of text whose length changes are made: part by part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class LineMake:
    """How lines of one kind are made.

    :param tokens: the sort of each part, and its text where it is always the same
    :param number_at: which part is the number that is looked at
    :param has_digits_behind: whether a comma and the same few digits stand behind it, as decimals would
    """

    tokens: tuple[tuple[str, bytes | None], ...]
    number_at: int
    has_digits_behind: bool = False

    @property
    def is_checked(self) -> bool:
        """Say whether such lines end in a star and a check."""
        return self.tokens[-2:] == (("sign", b"*"), ("any", None))

    def is_made_like(self, parts: Sequence[tuple[str, bytes]]) -> bool:
        """Say whether the parts of a line are those of such lines."""
        return len(parts) == len(self.tokens) and all(
            sort == "any" or (sort == other and (text is None or text == written))
            for (sort, text), (other, written) in zip(self.tokens, parts, strict=True)
        )
