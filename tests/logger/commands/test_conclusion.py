from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from logger.commands.conclusion import how_it_ended
from logger.recording import Finished
from logger.recording.take import Reason


@pytest.mark.parametrize(
    ("reason", "told"),
    [
        ("ended by itself", "Ended by itself: "),
        ("time is up", "Ended because the time was up: "),
        ("stopped", "Ended because it was stopped: "),
        ("devices ended", "Ended because the devices had no more to give: "),
        ("devices lost", "Ended because the devices were lost: "),
    ],
)
def test_every_end_is_a_sentence(reason: Reason, told: str) -> None:
    finished = Finished(Path("brew"), reason, {"scale": 120, "kettle": 1})
    assert how_it_ended(finished) == f"{told}120 readings of scale, 1 reading of kettle."


def test_no_reason_is_without_words() -> None:
    for reason in get_args(Reason):
        assert how_it_ended(Finished(Path("brew"), reason, {"scale": 2})).startswith("Ended ")
