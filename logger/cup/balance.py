"""Where the coffee went: extraction by the balance of masses, and the water that the grounds keep.

Everything that dissolved is either in the cup or in the liquid that stays in the grounds. A percolation
rinses the grounds, so what stays is nearly water, and only the beverage counts. In an immersion all liquid
has the same strength, that in the grounds too, so all of it counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from logger.cup.known import Known, combined

Balance = Literal["percolation", "immersion"]
BeverageFrom = Literal["noted", "server", "shot", "estimated", ""]

KEPT_PER_DOSE, KEPT_PER_DOSE_DOUBT = 2.0, 0.3
"""What a drained bed keeps, g for each g of coffee, and how far it may be off, to either side. Two published
brew logs give 2.03 and 1.95, a published formula 2.08, old charts 1.5 and 1.76; about 2 g/g is common
practice."""

MOST_EXTRACTED = 30.0
"""Per cent of roasted coffee that water can dissolve at all (from memory; Liang, Chan and Ristenpart 2021,
Emax)."""


def percolated(strength: float, beverage_g: float, dose_g: float) -> float:
    """Extraction of a percolation, %: dissolved in the cup, of the dose.

    Lockhart, The Coffee Brewing Institute, 1957; Batali, Ristenpart and Guinard 2020, Sci. Rep. 10:16450.

    :param strength: per cent of the beverage's mass
    """
    return strength * beverage_g / dose_g


def immersed(strength: float, water_g: float, dose_g: float) -> float:
    """Extraction of an immersion at equilibrium, %: dissolved in all of the liquid, of the dose.

    The liquid is the water and what dissolved in it: ``m = S W / (1 - S)``. Liang, Chan and Ristenpart 2021,
    Sci. Rep. 11:6904, in outline.

    :param strength: per cent of the liquid's mass
    """
    return strength * water_g / (1.0 - strength / 100.0) / dose_g


def percolated_strength(extraction: float, ratio: float, kept_per_dose: float = KEPT_PER_DOSE) -> float:
    """The strength that an extraction gives at a brew ratio, %, where the bed keeps so much of the water.

    :param ratio: water per dose
    """
    return extraction / (ratio - kept_per_dose)


def immersed_strength(extraction: float, ratio: float) -> float:
    """The same of an immersion: the inverse of :func:`immersed`.

    :param ratio: water per dose
    """
    return 100.0 * extraction / (100.0 * ratio + extraction)


@dataclass(frozen=True, slots=True)
class Weights:
    """What was weighed of a brew; None where it was not.

    :param water_g: what was poured on; None for an espresso, where nobody knows it
    :param beverage_from: what says the beverage's mass
    """

    dose_g: Known | None = None
    water_g: Known | None = None
    beverage_g: Known | None = None
    beverage_from: BeverageFrom = ""


@dataclass(frozen=True, slots=True)
class Cup:
    """What is in the cup; None where it cannot be told.

    :param strength: per cent of the beverage's mass
    :param extraction: per cent of the dose, by ``balance``
    :param extraction_in_cup: of an immersion that part which was poured off into the cup
    :param held_g: water that stays in the grounds: poured less the water in the beverage
    :param held_per_dose: the same for each g of coffee
    :param ratio: water, or for an espresso beverage, for each g of coffee
    :param remarks: what the reader must know, a sentence each
    """

    method: str | None
    balance: Balance
    weights: Weights
    strength: Known | None = None
    extraction: Known | None = None
    extraction_in_cup: Known | None = None
    held_g: Known | None = None
    held_per_dose: Known | None = None
    ratio: Known | None = None
    remarks: tuple[str, ...] = ()


def weigh_up(method: str | None, weights: Weights, strength: Known | None) -> Cup:
    """Make up the balance of a brew from what is known of it.

    :param method: ``immersion`` goes by the immersion balance, all else by that of percolation
    """
    balance: Balance = "immersion" if method == "immersion" else "percolation"
    dose, water, beverage = weights.dose_g, weights.water_g, weights.beverage_g
    held = _held(weights, strength)
    ratio_of = beverage if method == "espresso" else water
    extraction, in_cup = None, None
    if strength and dose:
        if beverage:
            in_cup = combined(percolated, strength, beverage, dose)
        if balance == "percolation":
            extraction, in_cup = in_cup, None
        elif water:
            extraction = combined(immersed, strength, water, dose)
    return Cup(
        method,
        balance,
        weights,
        strength,
        extraction,
        in_cup,
        held,
        combined(lambda g, d: g / d, held, dose) if held and dose else None,
        combined(lambda g, d: g / d, ratio_of, dose) if ratio_of and dose else None,
        tuple(_remarks(method, weights, strength, extraction)),
    )


def _held(weights: Weights, strength: Known | None) -> Known | None:
    """Water that stayed in the grounds: the beverage took its solids from the coffee, not from the water."""
    water, beverage = weights.water_g, weights.beverage_g
    if water is None or beverage is None or weights.beverage_from == "estimated":
        return None
    if strength is None:
        return combined(lambda w, b: w - b, water, beverage)
    return combined(lambda w, b, s: w - b * (1.0 - s / 100.0), water, beverage, strength)


def _remarks(
    method: str | None, weights: Weights, strength: Known | None, extraction: Known | None
) -> list[str]:
    remarks = []
    water, beverage = weights.water_g, weights.beverage_g
    if weights.beverage_from == "estimated":
        remarks.append(
            f"The beverage was not weighed: it is taken for the water less {KEPT_PER_DOSE:g} "
            f"±{KEPT_PER_DOSE_DOUBT:g} g for each g of coffee (common practice). Weigh it and note it."
        )
    if water and beverage and beverage.value > water.value + water.give_or_take + beverage.give_or_take:
        remarks.append(
            "More came out than was poured on: one of the two weights is not what it is taken for."
        )
    if extraction and extraction.value - extraction.give_or_take > MOST_EXTRACTED:
        remarks.append(
            f"No more than about {MOST_EXTRACTED:g} % of roasted coffee dissolves (from memory): "
            f"strength, dose "
            "or beverage is not what it is taken for."
        )
    if strength and extraction is None:
        wanted = _lacking(method, weights)
        remarks.append(f"The extraction cannot be told without the {wanted}." if wanted else "")
    if extraction and method == "immersion":
        remarks.append("Water that steamed off counts as if it were still there: cover the brewer.")
    return [remark for remark in remarks if remark]


def _lacking(method: str | None, weights: Weights) -> str:
    lacks = [] if weights.dose_g else ["dose"]
    if method == "immersion":
        lacks += [] if weights.water_g else ["water"]
    else:
        lacks += [] if weights.beverage_g else ["beverage's weight"]
    return " and the ".join(lacks)
