from __future__ import annotations

import json
import math

import numpy as np
import pytest
from scipy import stats

from logger.compare.practice import contrast, to_json
from logger.compare.practice.chance import holm
from logger.compare.practice.contrasting import contrasts_of
from logger.compare.practice.two_samples import difference, effect_size, mean_p, spread_p, spread_ratio
from tests.logger.compare.brews import four_pours
from tests.logger.compare.practice.made_up import SETS, covers, pour_columns, tell
from tests.logger.compare.practice.sets import brew, natural

# NIST/SEMATECH e-Handbook, 7.3.1.1 (from memory): assembly times of an old and a new process
OLD = np.array([32.0, 37, 35, 28, 41, 44, 35, 31, 34, 38, 42])
NEW = np.array([36.0, 31, 30, 31, 34, 36, 29, 32, 31])


def test_holms_correction_is_the_textbooks() -> None:
    # Holm (1979): smallest times 4, next times 3, ... never falling
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert holm([0.5, math.nan, 0.6])[0] == 1.0


def test_the_shuffles_count_what_all_shuffles_would() -> None:
    # Every one of the 924 ways to part twelve brews in two, counted by hand.
    from itertools import combinations

    first, second = np.array([1.0, 2.5, 2.0, 3.1, 1.7, 2.2]), np.array([2.9, 3.3, 4.0, 2.7, 3.8, 3.5])
    both, seen = np.concatenate((first, second)), second.mean() - first.mean()
    parts = [both[list(chosen)].mean() for chosen in combinations(range(12), 6)]
    off = np.abs(2 * (np.array(parts) - both.mean()))
    assert mean_p(first, second) == pytest.approx((off >= abs(seen) - 1e-12).mean(), abs=1e-9)


def test_a_permutation_test_of_scipys_agrees() -> None:
    test = stats.permutation_test(
        (OLD, NEW), lambda a, b: b.mean() - a.mean(), n_resamples=20_000, rng=np.random.default_rng(1)
    )
    assert mean_p(OLD, NEW) == pytest.approx(test.pvalue, abs=0.012)
    levene = stats.levene(OLD, NEW, center="median")
    assert spread_p(OLD, NEW) == pytest.approx(levene.pvalue, abs=0.05)


def test_the_difference_is_welchs() -> None:
    found = difference(OLD, NEW, "s")
    interval = stats.ttest_ind(NEW, OLD, equal_var=False).confidence_interval(0.9)
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high))
    assert found.n == 20


def test_the_ratio_of_spreads_has_the_f_interval() -> None:
    found = spread_ratio(OLD, NEW)
    ratio = NEW.var(ddof=1) / OLD.var(ddof=1)
    edges = [math.sqrt(ratio / stats.f.ppf(share, 8, 10)) for share in (0.95, 0.05)]
    assert (found.low, found.high) == pytest.approx(edges)


def test_hedges_g_and_its_interval() -> None:
    found = effect_size(OLD, NEW)
    pooled = math.sqrt((10 * OLD.var(ddof=1) + 8 * NEW.var(ddof=1)) / 18)
    d = (NEW.mean() - OLD.mean()) / pooled
    assert found.value == pytest.approx(d * (1 - 3 / 71))
    root = math.sqrt(99 / 20)
    away = found.low / (1 - 3 / 71) * root
    assert stats.nct.sf(d * root, 18, away) == pytest.approx(0.05, abs=1e-3)


@pytest.mark.parametrize("n", [5, 10, 30])
def test_intervals_of_a_difference_hold_the_truth(n: int) -> None:
    generator, hits, sets = np.random.default_rng(n), {"difference": 0, "effect": 0, "ratio": 0}, SETS
    for _ in range(sets):
        one, two = generator.normal(0, 1, n), generator.normal(0.8, 1, n)
        off, effect, ratio = difference(one, two, "g"), effect_size(one, two), spread_ratio(one, two)
        hits["difference"] += off.low <= 0.8 <= off.high
        hits["effect"] += effect.low <= 0.8 <= effect.high
        hits["ratio"] += ratio.low <= 1 <= ratio.high
    tell(f"two sets, n {n}: { ({name: hit / sets for name, hit in hits.items()}) }")
    assert all(covers(hit, sets) for hit in hits.values()), hits


def test_the_pour_that_differs_is_named_and_the_others_are_not() -> None:
    first = natural(10, 1)
    second = [
        brew([0, 0, 2.5 + over, 0], name=f"other-{number}")
        for number, over in enumerate(np.random.default_rng(2).normal(0, 0.6, 10))
    ]
    two = contrast(first, second, four_pours(), names=("Tuesday", "Wednesday"))
    apart = [each for each in two.contrasts if each.beyond_chance]
    assert [(each.stage, each.quantity) for each in apart if each.quantity == "to_g"] == [("pour 2", "to_g")]
    heavier = next(each for each in apart if each.quantity == "to_g")
    assert heavier.difference.low < 2.5 < heavier.difference.high
    assert "g more with Wednesday" in heavier.says
    assert "differ beyond chance" in two.verdict
    data = json.loads(json.dumps(to_json(two), allow_nan=False))
    assert data["contrasts"][0]["difference"]["confidence"] == 0.9
    assert data["second"]["n"] == 10


def test_a_steadier_hand_is_told_by_its_spread() -> None:
    column = pour_columns()[2]
    generator = np.random.default_rng(3)
    pair = [(column, 100 + generator.normal(0, 3, 25), 100 + generator.normal(0, 0.8, 25))]
    (found,) = contrasts_of(pair, ("Ann", "Ben"))
    assert found.spread_beyond_chance
    assert not found.beyond_chance
    assert "times as much with Ann" in found.says


def test_sets_that_are_alike_are_not_proved_to_be() -> None:
    two = contrast(natural(8, 4), natural(8, 5), four_pours())
    assert not any(each.beyond_chance for each in two.contrasts)
    assert "no proof that they are alike" in two.verdict
    few = contrast(natural(2, 6), natural(8, 7), four_pours())
    assert few.verdict.startswith("Too few brews to compare")
    assert any("2 brews" in note for note in few.notes)
