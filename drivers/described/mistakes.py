"""What is wrong with a description, all of it in one error."""

from __future__ import annotations

from collections.abc import Iterable

from drivers.errors import AddressError
from drivers.toml_mistakes import Mistake, in_line_order, message_parts


class DescriptionError(AddressError):
    """A description that no device can be read by; carries every mistake that was found.

    :param mistakes: in the order of the file's lines; at least one
    """

    def __init__(self, where: str, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = in_line_order(mistakes)
        super().__init__(*message_parts(where, self.mistakes, "description"))
