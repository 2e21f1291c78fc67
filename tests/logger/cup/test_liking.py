from __future__ import annotations

import numpy as np
import pytest

from logger.cup.liking import Liked, liked_best_first, liking_words
from logger.cup.tasting import TastedCup
from logger.recording.note_kinds import TasteNote


def cup(name: str, **likings: float) -> TastedCup:
    tasted = {by: TasteNote("tasted", by, {"liking": liking}, {}) for by, liking in likings.items()}
    return TastedCup(name, {}, tasted)


def test_the_mean_over_tasters_decides_where_all_tasted_all() -> None:
    order = liked_best_first(
        [cup("monday", AB=8, CD=6), cup("tuesday", AB=9, CD=12), cup("friday", AB=7, CD=9)]
    )
    assert [one.name for one in order] == ["tuesday", "friday", "monday"]
    assert [one.liking for one in order] == pytest.approx([10.5, 8.0, 7.0])


def test_a_taster_who_gives_less_to_every_cup_does_not_decide() -> None:
    # CD says 4 less of all; the cup that only CD tasted is the better one all the same.
    order = liked_best_first([cup("both", AB=10, CD=6), cup("CD alone", CD=7), cup("AB alone", AB=10.5)])
    assert [one.name for one in order] == ["CD alone", "AB alone", "both"]
    assert order[0].liking == pytest.approx(9.0)


def test_cups_and_tasters_are_parted_as_by_a_general_least_squares() -> None:
    """An additive truth comes back exactly, although EF tasted four of the six."""
    generator = np.random.default_rng(4)
    true, of_taster = generator.uniform(5, 12, 6), {"AB": 1.5, "CD": -2.0, "EF": 0.5}
    cups = [
        cup(
            f"{number}",
            **{by: float(true[number] + part) for by, part in of_taster.items() if number % 3 or by != "EF"},
        )
        for number in range(6)
    ]
    found = {one.name: one.liking for one in liked_best_first(cups)}
    assert [found[f"{number}"] for number in range(6)] == pytest.approx(list(true))


def test_cups_that_nobody_spoke_of_are_left_out() -> None:
    assert liked_best_first([cup("untasted")]) == ()
    (only,) = liked_best_first([cup("untasted"), cup("tasted", AB=9)])
    assert only == Liked("tasted", pytest.approx(9.0), {"AB": 9})
    assert "nothing to prefer it to" in liking_words([only])[-1]


def test_it_says_how_sure_that_is() -> None:
    order = liked_best_first([cup("one", AB=12, CD=8), cup("two", AB=9, CD=9)])
    assert liking_words(order) == [
        "Liked best of 2: one, 10.0 of 15 by 2 tasters.",
        "Next: two, 9.0.",
        "CD liked the second as well or better.",
        "So few opinions are a hint: brew both again, and taste them side by side without names.",
    ]
    agreed = liked_best_first([cup("one", AB=12, CD=11, EF=13), cup("two", AB=9, CD=9, EF=8)])
    assert len(liking_words(agreed)) == 2
