"""What is wrong with a target file, each mistake with its line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from logger.errors import BadInputError
from logger.target.places import Path, Place, line_of


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to say about one field of a target, before its line is known.

    :param path: the field, as in ``("stage", 1, "to_g")``
    :param what: what is wrong, a clause without full stop
    :param remedy: what to write instead, a sentence
    """

    path: Path
    what: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Mistake:
    """A remark with its place in a file: something the brewer should change.

    :param where: the file
    :param line: counted from 1
    :param field: as the brewer would say it: ``stage 2, to_g``
    :param what: what is wrong, a clause without full stop
    :param remedy: what to write instead, a sentence
    """

    where: str
    line: int
    field: str
    what: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.where}, {self.in_file}"

    @property
    def in_file(self) -> str:
        """The same without the file's name."""
        return f"line {self.line}{', ' * bool(self.field)}{self.field}: {self.what}. {self.remedy}"


class TargetError(BadInputError):
    """A target that cannot be brewed from; carries every mistake that was found, not only the first.

    :param mistakes: in the order of the file's lines; at least one
    """

    def __init__(self, where: str, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(sorted(mistakes, key=lambda mistake: mistake.line))
        first = self.mistakes[0]
        if len(self.mistakes) == 1:
            at = f"{where}, line {first.line}{', ' * bool(first.field)}{first.field}"
            super().__init__(at, first.what, first.remedy)
        else:
            last = self.mistakes[-1]
            lines = "".join(f"\n  {mistake.in_file}" for mistake in self.mistakes)
            what = f"{len(self.mistakes)} mistakes in this target:{lines}".removesuffix(f". {last.remedy}")
            super().__init__(where, what, last.remedy)


def placed(remark: Remark, where: str, places: dict[Path, Place]) -> Mistake:
    """Give a remark its file and line."""
    return Mistake(where, line_of(places, remark.path), field_text(remark.path), remark.what, remark.remedy)


def field_text(path: Path) -> str:
    """A field as the brewer would say it; stages count from 1."""
    said = ""
    for part in path:
        said += f" {part + 1}" if isinstance(part, int) else f"{', ' * bool(said)}{part}"
    return said
