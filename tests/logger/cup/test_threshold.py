"""Could a taster tell? Against the published 0.24 % (Frost, Ristenpart and Guinard 2019)."""

from __future__ import annotations

import pytest

from logger.cup import could_be_told
from logger.cup.known import Known, Source
from logger.cup.threshold import pairs_told


def _cup(strength: float, sd: float = 0.02) -> Known:
    return Known(strength, {Source("reading"): sd})


@pytest.mark.parametrize(
    ("one", "other", "answer"),
    [
        (1.20, 1.60, "likely"),
        (1.60, 1.20, "likely"),
        (1.30, 1.35, "unlikely"),
        (1.20, 1.44, "cannot be told"),
    ],
)
def test_a_pair(one: float, other: float, answer: str) -> None:
    told = could_be_told(_cup(one), _cup(other))
    assert told.answer == answer
    assert told.difference.value == pytest.approx(abs(one - other))


def test_a_doubtful_reading_tells_nothing() -> None:
    assert could_be_told(_cup(1.20, 0.2), _cup(1.60, 0.2)).answer == "cannot be told"


def test_all_pairs() -> None:
    assert pairs_told([_cup(1.20), _cup(1.22), _cup(1.60)]) == (2, 1, 0)
    assert pairs_told([_cup(1.20)]) == (0, 0, 0)
