"""What is wrong with a target file, all of it in one error."""

from __future__ import annotations

from collections.abc import Iterable

from drivers.toml_mistakes import Mistake, in_line_order, message_parts
from logger.errors import BadInputError


class TargetError(BadInputError):
    """A target that cannot be brewed from; carries every mistake that was found, not only the first.

    :param mistakes: in the order of the file's lines; at least one
    """

    def __init__(self, where: str, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = in_line_order(mistakes)
        super().__init__(*message_parts(where, self.mistakes, "target"))
