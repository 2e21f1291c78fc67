"""Which recordings an overlay is of: those named, or those of the target in a folder of recordings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logger.recording import Summary
    from logger.target import Target


def day(text: str | None, option: str) -> date | None:
    """Read a day.

    :raises BadInputError: when it is none
    """
    from logger.errors import BadInputError

    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInputError(option, f"{text!r} is no day", "Write it as 2026-11-25.") from None


def recordings_of(
    target: Target, into: Path | None, coffee: str, since: date | None, until: date | None
) -> list[str]:
    """Find the recordings of a target, oldest first.

    :param into: where to look; None for the user's data folder
    :param coffee: words that the coffee's name must hold, in any case; empty for every coffee
    :param since: the first day, on this machine's clock; ``until``: the last one
    :raises BadInputError: when there is none, with what was looked for
    """
    from logger.commands.options import folder_for
    from logger.errors import BadInputError
    from logger.recording import find

    found = [
        summary
        for summary in find(into)
        if _is_of(summary, target) and _is_coffee(summary, coffee) and _is_within(summary, since, until)
    ]
    if not found:
        wanted = [f"of the target {target.title!r}"]
        wanted += [f"with {coffee!r} in the coffee's name"] if coffee else []
        wanted += [f"since {since}"] if since else []
        wanted += [f"until {until}"] if until else []
        raise BadInputError(
            str(folder_for(into)),
            f"holds no recording {', '.join(wanted)}",
            "See what there is: evencup list. Or name the recordings.",
        )
    return [str(summary.path) for summary in reversed(found)]


def recordings_in(name: str) -> list[str]:
    """A recording is itself; another folder stands for all recordings in it, oldest first.

    :raises BadInputError: when a folder holds none
    """
    from logger.commands.options import recording_path
    from logger.errors import BadInputError
    from logger.recording import find
    from logger.recording.descriptor import DESCRIPTOR
    from logger.recording.journal import READINGS

    path = recording_path(name)
    if not path.is_dir() or (path / DESCRIPTOR).exists() or (path / READINGS).exists():
        return [name]
    found = [str(summary.path) for summary in reversed(find(path)) if not summary.damaged]
    if not found:
        raise BadInputError(str(path), "holds no recording", "Name a recording, or a folder of recordings.")
    return found


def liked_best(names: Sequence[str]) -> tuple[str, list[str]]:
    """Find the recording whose cup was liked best, by what its tasters noted.

    :return: its name as given, and what to say of the choice
    :raises BadInputError: when nobody noted how well any was liked
    """
    from logger.commands.options import recording_path
    from logger.cup.liking import liked_best_first, liking_words
    from logger.cup.tasting import tasted_cup
    from logger.errors import BadInputError
    from logger.recording.notes import read_notes

    order = liked_best_first([tasted_cup(name, read_notes(recording_path(name))) for name in names])
    if not order:
        raise BadInputError(
            f"{len(names)} recordings",
            "of none was noted how well it was liked",
            f"Note it: evencup note {names[0]} --tasted liking=12 --by AB. Or name one recording.",
        )
    return order[0].name, liking_words(order)


def _is_of(summary: Summary, target: Target) -> bool:
    """Whether it was recorded with this target: the same text, or one of the same title."""
    from logger.errors import EvencupError
    from logger.target import parse_target

    text = summary.meta.target_text
    if summary.damaged or not text:
        return False
    if text == target.text:
        return True
    try:
        return parse_target(text, str(summary.path)).title == target.title
    except EvencupError:
        return False


def _is_coffee(summary: Summary, words: str) -> bool:
    return words.casefold() in summary.meta.coffee.casefold()


def _is_within(summary: Summary, since: date | None, until: date | None) -> bool:
    started = summary.meta.started
    if started is None:
        return since is None and until is None
    brewed_on = started.astimezone().date()
    return (since is None or brewed_on >= since) and (until is None or brewed_on <= until)
