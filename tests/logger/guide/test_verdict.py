"""One verdict, one thing to change, and how sure that is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.compare import Comparison, Deviation, StageResult
from logger.curve import Pour
from logger.guide.verdict import verdict_of
from logger.target import Stage, Target

STAGE = Stage("bloom", 0.0, 45.0)
TARGET = Target("One", "pour-over", 15.0, stages=(STAGE,))
POUR = Pour(0.0, 9.0, 0.0, 45.0, 45.0, 5.0, 5.0)


def compared(*figures: Deviation) -> Comparison:
    stage = StageResult(STAGE, "matched", (POUR,), figures)
    return Comparison(TARGET, (stage,), (), (), "It went so.", "Change this.")


def weight(actual: float, inside: bool | None, why: str = "") -> Deviation:
    return Deviation("to_g", 45.0, actual, 3.0, inside, why)


CASES = {
    "all inside": (compared(weight(45.2, True)), "sure"),
    "far outside": (compared(weight(55.0, False)), "sure"),
    "hardly outside": (compared(weight(48.4, False)), "likely"),
    "not to be told": (compared(weight(45.0, None, "the scale's step is too coarse")), "unsure"),
    "a pour is missing": (
        replace(compared(), stages=(StageResult(STAGE, "missing", (), ()),)),
        "sure",
    ),
    "one too many": (replace(compared(weight(45.0, True)), extra=(POUR,)), "sure"),
}


@pytest.mark.parametrize("name", CASES)
def test_how_sure(name: str) -> None:
    comparison, sure = CASES[name]
    verdict = verdict_of(comparison)
    assert (verdict.text, verdict.change) == ("It went so.", "Change this.")
    assert verdict.sure == sure and verdict.why.endswith(".")


def test_one_brew_is_one_brew() -> None:
    assert "One brew" in verdict_of(CASES["far outside"][0]).why
    assert "too coarse" in verdict_of(CASES["not to be told"][0]).why
