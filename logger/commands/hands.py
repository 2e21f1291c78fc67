"""What was learned of each brewer's hand: one small CSV file each, in the user's data folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logger.guide import Hand, Outcome

FOLDER = "hands"
USUAL = "brewer"


def hand_file(brewer: str) -> Path:
    """Where a brewer's hand is kept; it need not exist yet.

    :raises BadInputError: when the name has no letter or digit to make a file's name of
    """
    from logger.errors import BadInputError
    from logger.recording import data_folder
    from logger.recording.store import slug

    name = slug(brewer)
    if not name:
        raise BadInputError("--brewer", f"{brewer!r} is no name", "Use letters or digits.")
    return data_folder().parent / FOLDER / f"{name}.csv"


def read_hand(path: Path, scale: str) -> Hand:
    """Read what is known of a hand; nothing where there is no file yet.

    :param scale: the address of the one in use
    :raises BadInputError: when there is a file and it cannot be read
    """
    from logger.errors import BadInputError
    from logger.guide import Hand
    from logger.guide.hand import MOST
    from logger.guide.outcomes import read_outcomes

    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Hand((), scale)
    except (OSError, ValueError) as error:
        raise BadInputError(
            str(path), f"cannot be read: {error}", "Mend it, or delete it: it is learned again."
        ) from None
    outcomes, unread = read_outcomes(text)
    if unread and not outcomes:
        remedy = "Mend it, or delete it: it is learned again."
        raise BadInputError(str(path), "holds nothing of a hand", remedy)
    return Hand(outcomes[-MOST:], scale)


def keep_outcomes(path: Path, outcomes: Sequence[Outcome]) -> None:
    """Add outcomes to a brewer's file; the oldest go once there are many.

    :raises FailureError: when the disk refuses
    """
    from logger.guide.hand import MOST
    from logger.guide.outcomes import HEADER, outcomes_text, read_outcomes
    from logger.recording.disk import replacing

    if not outcomes:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    known, _ = read_outcomes(path.read_text(encoding="utf-8")) if path.exists() else ((), 0)
    kept = (*known, *outcomes)[-2 * MOST :]
    with replacing(path) as part:
        part.write_text(f"{','.join(HEADER)}\n{outcomes_text(kept)}", encoding="utf-8", newline="\n")
