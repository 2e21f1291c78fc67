"""How lines of text whose length changes are made: part by part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class LineMake:
    """How lines of one kind are made.

    :param tokens: the sort of each part, and its text where it is always the same
    :param number_at: which part is the number that is looked at
    """

    tokens: tuple[tuple[str, bytes | None], ...]
    number_at: int

    @property
    def is_checked(self) -> bool:
        """Say whether such lines end in a star and a check."""
        return self.tokens[-2:] == (("sign", b"*"), ("any", None))

    @property
    def goes_on_with_comma(self) -> bool:
        """Say whether a comma and digits stand right behind the number: they may be its decimals."""
        behind = self.tokens[self.number_at + 1 : self.number_at + 3]
        return len(behind) == 2 and behind[0] == ("sign", b",") and behind[1][0] == "number"

    def is_made_like(self, parts: Sequence[tuple[str, bytes]]) -> bool:
        """Say whether the parts of a line are those of such lines."""
        return len(parts) == len(self.tokens) and all(
            sort == "any" or (sort == other and (text is None or text == written))
            for (sort, text), (other, written) in zip(self.tokens, parts, strict=True)
        )
