"""A practice set from its brews to its sentences."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.compare import compare, spread
from logger.compare.practice import Practice, Scatter, study, to_json
from tests.logger.compare.brews import analysis, compared, four_pours, the_shot
from tests.logger.compare.practice.sets import EVENING, brew, cut_off, natural


def figure(practice: Practice, stage: str, quantity: str) -> Scatter:
    (found,) = [one for one in practice.figures if (one.stage, one.quantity) == (stage, quantity)]
    return found


def test_every_figure_of_every_stage_and_of_the_whole_brew_is_there() -> None:
    practice = study(natural(10, 1), four_pours(), strengths={"brew-3": 1.32, "brew-4": 1.28, "brew-7": 1.35})
    for stage in ("bloom", "pour 1", "pour 2", "pour 3"):
        quantities = {one.quantity for one in practice.figures if one.stage == stage}
        assert quantities == {"start_s", "end_s", "to_g", "poured_g", "flow_g_s"}
    strength = figure(practice, "", "strength_percent")
    assert (strength.n, strength.unit, strength.kind) == (3, "%", "cup")
    assert strength.mean == pytest.approx(np.mean([1.32, 1.28, 1.35]))
    assert figure(practice, "", "end_s").kind == "bed"
    poured = figure(practice, "pour 2", "poured_g")
    assert (poured.judged, poured.counts) == (False, False)
    assert math.isnan(poured.inside.value)


def test_what_the_target_does_not_ask_for_does_not_count() -> None:
    practice = study(natural(10, 1), four_pours())
    counted = practice.next_cup.counted
    assert ("pour 1", "to_g") in counted
    assert all(quantity not in ("poured_g", "drawdown_s") for _, quantity in counted)


def test_the_next_cup_is_as_likely_as_a_good_hand_makes_it() -> None:
    good, wild = study(natural(12, 2), four_pours()), study(natural(12, 2, scale=3.0), four_pours())
    assert good.next_cup.inside.low > 0.6
    assert wild.next_cup.inside.high < 0.7
    assert wild.next_cup.n == 12
    assert "probability of" in good.next_cup.says
    assert "90% interval from 12 brews" in good.next_cup.says
    # A brew is inside exactly where its worst figure is.
    insides = [one.inside for one in wild.brews]
    assert [bool(worst <= 1) for worst in wild.next_cup.worst] == insides


def test_the_likely_reading_of_the_ledger_is_the_same_as_the_overlays() -> None:
    brews = natural(9, 3)
    laid, practice = spread(brews, four_pours()), study(brews, four_pours())
    assert laid.verdict == practice.verdict
    assert [one.quantity for one in laid.stages[1].figures] == ["start_s", "end_s", "to_g", "flow_g_s"]


def test_a_brew_that_was_cut_off_gives_what_it_has_and_no_more() -> None:
    practice = study([*natural(9, 4), cut_off()], four_pours())
    assert figure(practice, "pour 1", "to_g").n == 10
    last = figure(practice, "pour 3", "to_g")
    assert (last.n, last.n_told) == (9, 9)
    assert last.mean > 248
    assert practice.next_cup.n_cut_off == 1
    assert "1 brew could not be told in every figure" in practice.next_cup.says
    assert practice.next_cup.n_skipped == 0


def test_a_skipped_pour_is_outside_whatever_the_figures() -> None:
    short = compared(analysis((0, 45), (75, 50), (105, 100), lifted_s=165.0), four_pours())
    practice = study([*natural(9, 5), short], four_pours())
    assert practice.next_cup.n_skipped == 1
    assert practice.next_cup.inside.high < 0.99
    assert practice.stages[1].n_missing == 1
    assert practice.verdict.startswith("Not even: ")


def test_what_the_scale_cannot_resolve_is_never_called_inside() -> None:
    coarse = [brew(step_g=5.0) for _ in range(10)]
    practice = study(coarse, four_pours())
    weight = figure(practice, "pour 1", "to_g")
    assert (weight.n, weight.n_told, weight.n_inside) == (10, 0, 0)
    assert ("pour 1", "to_g") not in practice.next_cup.counted
    assert any("the readings resolve 5 g" in why for _, _, why in practice.next_cup.uncounted)
    assert "Not counted" in practice.next_cup.says
    assert "Even over" not in practice.verdict


def test_late_starts_are_laid_on_the_pour_that_began_it() -> None:
    generator = np.random.default_rng(6)
    brews = []
    for _ in range(20):
        late = 3.5 + generator.normal(0, 1.2)
        starts = [0.0, late, late + generator.normal(0, 0.2), late + generator.normal(0, 0.2)]
        brews.append(brew(generator.normal(0, 0.4, 4), starts))
    practice = study(brews, four_pours())
    first = practice.fixes[0]
    assert (first.stage, first.quantity, first.part, first.carried) == ("pour 1", "start_s", "mean", True)
    assert practice.change.startswith("pour 1 starts 3.")
    assert "sooner: the plan says 0:45" in practice.change
    carried = [fix for fix in practice.fixes if fix.carried]
    assert all(fix.stage == "pour 1" for fix in carried)


def test_grams_are_turned_into_seconds_by_the_flow_at_the_end() -> None:
    brews = [brew([0.0, 0.0, 0.0, over], flow_g_s=4.0) for over in (4.2, 3.8, 4.4, 4.1, 3.9, 4.0)]
    brews = [replace(each, comparison=compare(each.analysis, slow(), {})) for each in brews]
    practice = study(brews, slow())
    assert practice.change.startswith(
        "pour 3 ends 4.1 g heavy on average, outside in 6 of 6: stop pour 3 about 1.0 s (4.1 g) sooner."
    )


def slow():
    """The same plan at 4 g/s."""
    plan = four_pours()
    stages = tuple(replace(stage, flow_g_s=4.0) for stage in plan.stages)
    return replace(plan, stages=stages)


def test_hand_bed_and_water_are_kept_apart() -> None:
    generator = np.random.default_rng(7)
    brews = [brew(generator.normal(0, 0.3, 4), lifted_s=185.0 + generator.normal(0, 2)) for _ in range(10)]
    first = study(brews, four_pours()).fixes[0]
    assert (first.quantity, first.kind, first.part) == ("end_s", "bed", "mean")
    assert "coarser" in first.change
    assert "common practice" in first.rule


def test_advice_that_the_brews_cannot_carry_is_not_given() -> None:
    brews = [brew([0.0, over, 0.0, 0.0]) for over in (3.4, -0.5, 2.6)]
    practice = study(brews, four_pours())
    assert not any(fix.carried and fix.part == "mean" for fix in practice.fixes)
    uncarried = [fix for fix in practice.fixes if not fix.carried]
    assert uncarried
    assert all(fix.change == "" for fix in uncarried)
    assert any(fix.brews_needed for fix in uncarried)
    assert any("mean ±8.3 sd" in note for note in practice.notes)
    assert all(math.isnan(one.tolerance.low) for one in practice.figures)


def test_a_trend_over_practice_is_told_and_not_hidden_in_the_spread() -> None:
    generator = np.random.default_rng(8)
    brews = [
        brew(
            [0.0, 0.3 * number + generator.normal(0, 0.2), 0.0, 0.0],
            started=EVENING + timedelta(minutes=6 * number),
        )
        for number in range(12)
    ]
    practice = study(brews, four_pours())
    trend = figure(practice, "pour 1", "to_g").trend
    assert trend.low > 0
    assert trend.value == pytest.approx(0.3, abs=0.06)
    assert any(note.startswith("pour 1, its weight, drifts over practice: +0.3") for note in practice.notes)


def test_brews_are_taken_in_the_order_in_which_they_were_made() -> None:
    brews = natural(6, 9)
    shuffled = [brews[number] for number in (3, 0, 5, 1, 4, 2)]
    practice = study(shuffled, four_pours())
    assert [one.name for one in practice.brews] == [f"brew-{number}" for number in range(6)]
    assert practice.given == (1, 3, 5, 0, 4, 2)


def test_an_espresso_is_studied_too() -> None:
    flows = np.random.default_rng(10).normal(1.6, 0.25, 12)
    brews = [compared(analysis((0, 36.0, flow), method="espresso"), the_shot()) for flow in flows]
    practice = study(brews, the_shot())
    assert practice.stages == ()
    end = figure(practice, "", "end_s")
    assert (end.kind, end.limits) == ("bed", (17.0, 25.0))
    # Twelve shots as far apart: the probability is the share of their own flows' distribution that fits.
    true = np.mean([17 <= 36 / flow <= 25 for flow in np.random.default_rng(11).normal(1.6, 0.25, 100_000)])
    assert practice.next_cup.inside.low <= true <= practice.next_cup.inside.high
    assert practice.fixes[0].quantity == "end_s"


def test_all_of_it_can_be_had_as_json() -> None:
    practice = study([*natural(9, 12), cut_off()], four_pours())
    data = json.loads(json.dumps(to_json(practice), allow_nan=False))
    inside = data["next_cup"]["inside"]
    assert inside == {
        "value": pytest.approx(practice.next_cup.inside.value, abs=1e-6),
        "low": pytest.approx(practice.next_cup.inside.low, abs=1e-6),
        "high": pytest.approx(practice.next_cup.inside.high, abs=1e-6),
        "confidence": 0.9,
        "n": 9,
        "unit": "",
    }
    weight = data["stages"][3]["figures"]["to_g"]
    assert weight["mean"]["unit"] == "g"
    assert weight["mean"]["n"] == 9
    assert weight["control_chart"]["n"] == 9
    assert weight["cpk"]["confidence"] == 0.9
    assert len(data["brews"]) == 10


@pytest.mark.parametrize("n", [0, 1, 2])
def test_too_few_brews_say_so(n: int) -> None:
    practice = study(natural(n, 13), four_pours())
    assert practice.fixes == ()
    assert practice.change == ""
    assert not practice.next_cup.inside.is_known
    assert "cup" in practice.next_cup.says
    json.dumps(to_json(practice), allow_nan=False)


@settings(deadline=None, max_examples=15)  # other work may share the processor
@given(
    st.lists(
        st.tuples(st.floats(-12, 12), st.floats(-6, 6), st.sampled_from([0.0, 0.1, 1.0, 5.0])), max_size=9
    )
)
def test_any_set_can_be_studied(faults: list[tuple[float, float, float]]) -> None:
    brews = [brew([0, over, 0, 0], [0, late, 0, 0], step_g=step) for over, late, step in faults]
    practice = study(brews, four_pours())
    inside = practice.next_cup.inside
    assert not inside.is_known or 0 <= inside.low <= inside.value <= inside.high <= 1
    assert all(fix.now <= fix.then for fix in practice.fixes)
    json.dumps(to_json(practice), allow_nan=False)
