"""Two practice sets compared, and tolerances learned from one: the real program on simulated evenings."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.logger.commands.program import Evencup
from tests.logger.commands.targets import THREE_POURS


@pytest.fixture(scope="module")
def evenings(tmp_path_factory: pytest.TempPathFactory) -> Evencup:
    """Tuesday after the plan; Wednesday with 6 g more in the second pour."""
    evencup = Evencup(tmp_path_factory.mktemp("evenings"))
    (evencup.here / "three-pours.toml").write_text(THREE_POURS, encoding="utf-8")
    (evencup.here / "heavier.toml").write_text(THREE_POURS.replace("140", "146"), encoding="utf-8")
    evencup.ok("simulate", "three-pours.toml", "--count", "8", "--level", "easy", "--into", "tuesday")
    evencup.ok("simulate", "heavier.toml", "--count", "6", "--level", "easy", "--into", "wednesday")
    return evencup


def test_the_pour_that_differs_is_found(evenings: Evencup) -> None:
    done = evenings.ok("compare", "three-pours.toml", "tuesday", "--with", "wednesday", "--json")
    two = json.loads(done.out)
    assert two["names"] == ["tuesday", "wednesday"]
    (pour,) = [one for one in two["contrasts"] if (one["stage"], one["quantity"]) == ("pour 1", "to_g")]
    assert pour["beyond_chance"]
    assert pour["difference"]["low"] < 6 < pour["difference"]["high"]
    assert (pour["first"]["n"], pour["second"]["n"], pour["unit"]) == (8, 6, "g")


def test_the_terminal_says_the_same(evenings: Evencup) -> None:
    done = evenings.ok("compare", "three-pours.toml", "tuesday", "--with", "wednesday", "--names", "A", "B")
    assert done.lines[0] == "Three pours: A and B"
    assert "A (8) and B (6) differ beyond chance." in done.out
    assert max(map(len, done.lines)) <= 80


def test_another_recipe_is_held_against_its_own_target(evenings: Evencup) -> None:
    sets = ("tuesday", "--with", "wednesday", "--with-target", "heavier.toml", "--json")
    two = json.loads(evenings.ok("compare", "three-pours.toml", *sets).out)
    second = two["second"]["stages"][1]["figures"]["to_g"]
    assert second["wanted"] == 146.0


def test_tolerances_that_are_held_become_the_targets(evenings: Evencup) -> None:
    best = next(evenings.here.joinpath("tuesday").iterdir())
    said = ("--title", "best", "--dose", "15", "--tolerances-from", "tuesday", "--to", "best.toml")
    done = evenings.ok("target", "learn", best, *said)
    assert "nine in ten within" in done.err
    assert "8 brews, 95% confidence" in done.err
    checked = evenings.ok("target", "check", "best.toml")
    assert "in order" in checked.out
    assert "weight_g" in (evenings.here / "best.toml").read_text(encoding="utf-8")


def test_the_brew_that_was_liked_best_becomes_the_target(evenings: Evencup) -> None:
    brews = sorted(evenings.here.joinpath("tuesday").iterdir())
    for brew, by, liking in ((2, "AB", 9), (2, "CD", 7), (5, "AB", 13), (5, "CD", 10)):
        evenings.ok("note", brews[brew], "--tasted", f"liking={liking}", "--by", by)
    done = evenings.ok("target", "learn", "tuesday", "--title", "the one", "--dose", "15")
    assert done.err.splitlines()[0] == f"Liked best of 2: tuesday/{brews[5].name}, 11.5 of 15 by 2 tasters."
    alone = evenings.ok("target", "learn", brews[5], "--title", "the one", "--dose", "15")
    assert done.out == alone.out


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ("target learn wednesday --dose 15", 2, "--tasted liking=12"),
        ("compare three-pours.toml tuesday --with nowhere", 2, "nowhere"),
        ("compare three-pours.toml tuesday --with empty", 2, "holds no recording"),
        ("target learn wednesday/BEST --dose 15 --tolerances-from wednesday", 2, "6 brews cannot say"),
    ],
)
def test_what_cannot_be_done_is_told(evenings: Evencup, arguments: str, code: int, words: str) -> None:
    (evenings.here / "empty").mkdir(exist_ok=True)
    best = next(Path(evenings.here / "wednesday").iterdir()).name
    done = evenings.run(*arguments.replace("BEST", best).split())
    assert done.code == code
    assert words in done.err
    assert "Traceback" not in done.err
