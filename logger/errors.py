"""What the program cannot go on with, in words for the brewer; the commands turn it into an exit code."""

from __future__ import annotations

from typing import Self


class EvencupError(Exception):
    """The base of both kinds.

    :param where: the file (and line), command or device that it is about
    :param what: what happened, a clause without full stop
    :param remedy: what to do next, a sentence
    """

    is_bad_input = False

    def __init__(self, where: str, what: str, remedy: str) -> None:
        self.where, self.what, self.remedy = where, what, remedy
        super().__init__(f"{where}: {what}. {remedy}")

    @classmethod
    def told(cls, message: str) -> Self:
        """Make an error of a message that says where, what and what to do already."""
        error = cls("", "", "")
        error.args = (message,)
        return error


class BadInputError(EvencupError):
    """What the brewer gave cannot be used: a file, a value, an option. Exit code 2."""

    is_bad_input = True


class FailureError(EvencupError):
    """The input was fine and it could not be done all the same: a full disk, a lost link. Exit code 1."""
