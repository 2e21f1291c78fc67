"""How calls, cups and tasters agree."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import spearmanr, t

from logger.cup.agreeing import agreement, krippendorff_alpha, rank_correlation
from logger.cup.tasting import TastedCup
from logger.recording.note_kinds import TasteNote


def _cup(name: str, called: float | None, tasted: Sequence[float]) -> TastedCup:
    calls = {} if called is None else {"AB": TasteNote("called", "AB", {"acidity": called}, {})}
    tastes = {str(n): TasteNote("tasted", str(n), {"acidity": one}, {}) for n, one in enumerate(tasted)}
    return TastedCup(name, calls, tastes)


def test_alpha_is_krippendorffs() -> None:
    # Krippendorff 2011, Computing Krippendorff's Alpha-Reliability, example D: four observers, twelve units,
    # missing
    # values; alpha for interval data 0.849.
    units = [
        [1, 1, 1], [2, 2, 3, 2], [3, 3, 3, 3], [3, 3, 3, 3], [2, 2, 2, 2], [1, 2, 3, 4], [4, 4, 4, 4], [1, 1,
        2, 1], [2, 2, 2, 2], [5, 5, 5], [1, 1], [3],
    ]  # fmt: skip
    assert krippendorff_alpha(units) == pytest.approx(0.849, abs=5e-4)


def test_alpha_at_its_ends() -> None:
    assert krippendorff_alpha([[1, 1], [5, 5], [9, 9]]) == 1.0
    assert krippendorff_alpha([[3, 3], [3, 3]]) is None
    assert krippendorff_alpha([[1], [2]]) is None


@given(st.lists(st.tuples(st.integers(0, 15), st.integers(0, 15)), min_size=2, max_size=12))
def test_rank_correlation_is_spearmans(pairs: list[tuple[int, int]]) -> None:
    one, other = zip(*pairs, strict=True)
    mine = rank_correlation(one, other)
    if len(set(one)) == 1 or len(set(other)) == 1:
        assert mine is None
        return
    assert mine == pytest.approx(spearmanr(one, other).statistic)


def test_a_call_that_is_always_too_low() -> None:
    cups = [_cup(str(n), 8.0 + n % 2, [9.0 + n % 2, 10.0 + n % 2]) for n in range(6)]
    (call,) = agreement(cups).calls
    assert (call.n, call.mean, call.typical, call.rank) == (6, 1.5, 1.5, 1.0)
    assert call.between == (1.5, 1.5)


def test_the_interval_of_the_mean_is_students() -> None:
    tasted = [9.0, 11.0, 8.0, 10.0]
    (call,) = agreement([_cup(str(n), 8.0, [one]) for n, one in enumerate(tasted)]).calls
    off = np.array(tasted) - 8.0
    reference = t.interval(0.95, 3, loc=off.mean(), scale=off.std(ddof=1) / 2.0)
    assert call.between == pytest.approx(reference)
    assert call.rank is None  # four cups are too few


def test_tasters_do_not_make_more_cups() -> None:
    many = agreement([_cup("one", 8.0, [9.0] * 12)])
    assert many.calls[0].n == 1 and many.calls[0].between is None
    assert many.tasters[0].n == 1 and many.tasters[0].alpha is None


def test_alpha_comes_with_an_interval_that_holds_it() -> None:
    rng = np.random.default_rng(3)
    levels = rng.uniform(2, 13, 12)
    cups = [_cup(str(n), None, rng.normal(level, 1.0, 3).tolist()) for n, level in enumerate(levels)]
    (between,) = agreement(cups).tasters
    assert between.n == 12 and between.alpha is not None and between.between is not None
    assert between.between[0] < between.alpha < between.between[1]
    assert between.alpha > 0.7


def test_nothing_tasted_nothing_said() -> None:
    nothing = agreement([TastedCup("one", {}, {})])
    assert (nothing.cups, nothing.calls, nothing.tasters, nothing.words, nothing.in_order) == (
        (),
        (),
        (),
        (),
        (0, 0),
    )
