from __future__ import annotations

import numpy as np
import pytest

from logger.compare.practice import study
from logger.compare.practice.proposing import proposal_words, proposed_tolerances
from logger.errors import BadInputError
from logger.target import parse_target, write_target
from tests.logger.compare.brews import analysis, compared, four_pours, the_shot
from tests.logger.compare.practice.sets import brew, natural


def test_tolerances_reach_as_far_as_nine_in_ten_of_all_brews() -> None:
    practice = study(natural(10, 1), four_pours())
    proposed = proposed_tolerances(practice)
    for spread, stage in zip(practice.stages, proposed.stages, strict=True):
        (weight,) = [one for one in spread.figures if one.quantity == "to_g"]
        # k of ISO 16269-6 for ten brews, nine in ten, 95 %: 2.856; rounded up to half a gram
        reach = abs(weight.bias) + 2.856 * weight.sd
        assert reach - 1e-3 <= stage.tolerance.weight_g <= reach + 0.5
    assert proposed.stages[0].tolerance.start_s == four_pours().stages[0].tolerance.start_s
    assert parse_target(write_target(proposed), "proposed").stages == proposed.stages
    assert any("nine in ten within" in words for words in proposal_words(practice))


def test_a_steady_miss_is_held_only_by_a_wide_tolerance() -> None:
    heavy = [brew([0, 5 + over, 0, 0]) for over in np.random.default_rng(2).normal(0, 0.5, 10)]
    assert proposed_tolerances(study(heavy, four_pours())).stages[1].tolerance.weight_g >= 6.0


def test_few_brews_propose_nothing_and_say_how_many_more() -> None:
    with pytest.raises(BadInputError, match=r"5 brews cannot say what you hold.*±4\.3 sd") as told:
        proposed_tolerances(study(natural(5, 3), four_pours()))
    assert "Record 3 more" in str(told.value)


def test_a_shots_window_is_the_one_it_is_held_in() -> None:
    flows = np.random.default_rng(4).normal(1.7, 0.05, 12)
    brews = [compared(analysis((0, 36.0, flow), method="espresso"), the_shot()) for flow in flows]
    practice = study(brews, the_shot())
    end = next(one for one in practice.whole if one.quantity == "end_s")
    shot = proposed_tolerances(practice).shot
    assert shot is not None
    assert shot.time_s[0] <= end.tolerance.low
    assert end.tolerance.high <= shot.time_s[1]
