"""Extraction by the balance of masses, against published examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.cup.balance import (
    Weights,
    immersed,
    immersed_strength,
    percolated,
    percolated_strength,
    weigh_up,
)
from logger.cup.known import Known, Source, rectangular, rounded_to


def _weighed(grams: float, step_g: float = 0.1, calibration: Source | None = None) -> Known:
    known = Known(grams, {Source("step"): math.sqrt(2.0) * rounded_to(step_g)})
    return known.plus(calibration, 0.001 * grams) if calibration else known


def test_a_printed_chart_example() -> None:
    # mountaincity.com brewing page: 64 oz of water, 4 oz of coffee, 1.5 oz kept by each, 1.3 %: about 19 %
    # (18.85).
    assert percolated(1.3, 64 - 4 * 1.5, 4) == pytest.approx(18.85)


@pytest.mark.parametrize(("out_g", "strength", "extraction"), [(622, 1.105, 17.852), (625, 1.19, 19.318)])
def test_published_brew_logs(out_g: float, strength: float, extraction: float) -> None:
    # Two logs of gist thcipriani/dca1849f83e3fe62fdcc: 38.5 g of coffee, 700 g of water in.
    assert percolated(strength, out_g, 38.5) == pytest.approx(extraction, abs=5e-4)


@pytest.mark.parametrize(("dose_g", "out_g", "strength", "extraction"), [(18, 36, 10, 20), (20, 40, 11, 22)])
def test_espresso(dose_g: float, out_g: float, strength: float, extraction: float) -> None:
    # By the definition of extraction.
    assert percolated(strength, out_g, dose_g) == pytest.approx(extraction)


def test_immersion_counts_all_liquid_and_what_dissolved_in_it() -> None:
    # By the definition (Liang, Chan and Ristenpart 2021): 15 g, 250 g of water, 1.35 %: 22.81 %. Without the
    # dissolved
    # mass in the liquid it would be 22.5 %, and 19.8 % if only the 220 g in the cup counted.
    assert immersed(1.35, 250, 15) == pytest.approx(22.81, abs=0.005)
    assert percolated(1.35, 250, 15) == pytest.approx(22.5)
    assert percolated(1.35, 220, 15) == pytest.approx(19.8)


def test_lines_of_the_control_chart() -> None:
    # 55 g for each litre, 2.0 g kept by each g: E 55 / (1000 - 2 55).
    strengths = [percolated_strength(extraction, 1000 / 55) for extraction in (18, 20, 22)]
    assert strengths == pytest.approx([1.112, 1.236, 1.360], abs=5e-4)


@given(st.floats(1.0, 30.0), st.floats(5.0, 30.0))
def test_immersion_there_and_back(extraction: float, ratio: float) -> None:
    strength = immersed_strength(extraction, ratio)
    assert immersed(strength, 100.0 * ratio, 100.0) == pytest.approx(extraction)


def test_uncertainty_by_the_gum() -> None:
    # 18 g and 36 g by two readings each of a 0.1 g display, 10.0 ±0.1 % anywhere within: 20.00 ±0.126, by
    # the package
    # uncertainties 3.2.3.
    strength = Known(10.0, {Source("instrument"): rectangular(0.1)})
    cup = weigh_up("espresso", Weights(_weighed(18.0), None, _weighed(36.0), "noted"), strength)
    assert cup.extraction is not None
    assert cup.extraction.value == pytest.approx(20.0)
    assert cup.extraction.sd == pytest.approx(0.126, abs=5e-4)
    assert cup.ratio is not None and cup.ratio.value == pytest.approx(2.0)


def test_an_immersion_tells_both_balances() -> None:
    strength = Known(1.35)
    cup = weigh_up("immersion", Weights(_weighed(15.0), _weighed(250.0), _weighed(220.0), "noted"), strength)
    assert cup.balance == "immersion"
    assert cup.extraction is not None and cup.extraction.value == pytest.approx(22.81, abs=0.005)
    assert cup.extraction_in_cup is not None and cup.extraction_in_cup.value == pytest.approx(19.8)


def test_water_kept_by_the_grounds() -> None:
    """The beverage's solids came out of the coffee: what is gone of the water is less than the beverage."""
    weights = Weights(_weighed(15.0), _weighed(250.0), _weighed(220.0), "noted")
    held = weigh_up("pour-over", weights, Known(1.35)).held_g
    assert held is not None and held.value == pytest.approx(250.0 - 220.0 * (1 - 0.0135))
    without = weigh_up("pour-over", weights, None)
    assert without.held_g is not None and without.held_g.value == pytest.approx(30.0)
    assert without.held_per_dose is not None and without.held_per_dose.value == pytest.approx(2.0)


def test_one_scale_is_better_than_two_at_a_difference() -> None:
    one = Source("calibration")
    water, beverage = _weighed(250.0, calibration=one), _weighed(220.0, calibration=one)
    same = Weights(_weighed(15.0), water, beverage, "noted")
    apart = Weights(_weighed(15.0), water, _weighed(220.0, calibration=Source("other")), "noted")
    by_one, by_two = weigh_up("pour-over", same, None).held_g, weigh_up("pour-over", apart, None).held_g
    assert by_one is not None and by_two is not None
    assert by_one.sd < by_two.sd


@pytest.mark.parametrize(
    ("method", "weights", "strength", "words"),
    [
        ("pour-over", Weights(), 1.35, "without the dose and the beverage's weight"),
        ("immersion", Weights(Known(15.0)), 1.35, "without the water"),
        ("pour-over", Weights(Known(15.0), Known(200.0), Known(240.0), "noted"), 1.3, "More came out than"),
        (
            "pour-over",
            Weights(Known(15.0), Known(250.0), Known(220.0), "noted"),
            3.0,
            "No more than about 30 %",
        ),
        ("pour-over", Weights(Known(15.0), Known(250.0), Known(220.0), "estimated"), 1.3, "was not weighed"),
        ("immersion", Weights(Known(15.0), Known(250.0)), 1.3, "Water that steamed off"),
    ],
)
def test_what_the_reader_must_know(method: str, weights: Weights, strength: float, words: str) -> None:
    cup = weigh_up(method, weights, Known(strength))
    assert any(words in remark for remark in cup.remarks), cup.remarks


def test_an_estimate_of_the_beverage_says_nothing_of_the_grounds() -> None:
    weights = Weights(Known(15.0), Known(250.0), Known(220.0), "estimated")
    assert weigh_up("pour-over", weights, Known(1.3)).held_g is None
