"""What is in the cup, as plain data for the line of JSON; ``docs/the-cup.md`` documents the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from logger.compare.cups import cup_of
from logger.cup.threshold import TASTED_PERCENT, could_be_told
from logger.recording.note_kinds import facts_of
from logger.show.plain_data.json_numbers import number, span

if TYPE_CHECKING:
    from logger.compare import Brew
    from logger.compare.cups import CupOfBrew, Cups
    from logger.cup.agreeing import Agreement
    from logger.cup.known import Known
    from logger.cup.patterns import GoesWith
    from logger.recording.notes import Noted


def noted_json(noted: Noted) -> list[dict[str, Any]]:
    """Give what counts now, in the order of the file, with the same fields as there."""
    return [
        {"noted": note.noted.isoformat().replace("+00:00", "Z"), **facts_of(note.what)}
        for note in noted.in_force
    ]


def cup_json(one: CupOfBrew) -> dict[str, Any]:
    """Give one cup; None for what cannot be told."""
    cup, weights = one.cup, one.cup.weights
    return {
        "strength_percent": known_json(cup.strength),
        "extraction_percent": known_json(cup.extraction),
        "balance": cup.balance if cup.extraction else None,
        "extraction_in_cup_percent": known_json(cup.extraction_in_cup),
        "dose_g": known_json(weights.dose_g),
        "water_g": known_json(weights.water_g),
        "beverage_g": known_json(weights.beverage_g),
        "beverage_from": weights.beverage_from or None,
        "held_g": known_json(cup.held_g),
        "held_per_dose": known_json(cup.held_per_dose),
        "brew_ratio": known_json(cup.ratio),
        "remarks": list(cup.remarks),
        "noted": noted_json(one.brew.recording.noted),
    }


def cup_json_of(brew: Brew) -> dict[str, Any] | None:
    """Give the cup of a brew; None where nothing was noted of it."""
    return cup_json(cup_of(brew)) if brew.recording.noted.notes else None


def cups_json(cups: Cups) -> dict[str, Any]:
    """Give several cups, what tasters could tell, how calls agree with cups, and what goes with what."""
    return {
        "cups": [
            {"recording": one.name, "method": one.brew.analysis.method, **cup_json(one)} for one in cups.cups
        ],
        "threshold_percent": TASTED_PERCENT,
        "pairs": _pairs(cups),
        **agreement_json(cups.agreement),
        "patterns": [_pattern(one) for one in cups.patterns],
    }


def known_json(known: Known | None) -> dict[str, Any] | None:
    """Give a number, its standard uncertainty, half its 95 % interval, and what brings the variance."""
    if known is None:
        return None
    names = sorted({source.name for source in known.by})
    return {
        "value": number(known.value),
        "uncertainty": number(known.sd),
        "give_or_take": number(known.give_or_take),
        "degrees_of_freedom": number(known.dof, 1),
        "shares": {name: number(known.share_of(name), 3) for name in names},
    }


def agreement_json(agreement: Agreement) -> dict[str, Any]:
    """Give how calls, cups and tasters agree."""
    return {
        "calls": [
            {
                "attribute": one.attribute,
                "n": one.n,
                "mean_difference": number(one.mean),
                "mean_difference_between": span(one.between),
                "typical_difference": number(one.typical),
                "rank_correlation": number(one.rank),
            }
            for one in agreement.calls
        ],
        "in_order": {"kept": agreement.in_order[0], "of": agreement.in_order[1]},
        "tasters": [
            {
                "attribute": one.attribute,
                "n": one.n,
                "typical_difference": number(one.typical),
                "alpha": number(one.alpha),
                "alpha_between": span(one.between),
            }
            for one in agreement.tasters
        ],
        "words": [
            {
                "kind": one.kind,
                "n": one.n,
                "overlap": number(one.overlap),
                "n_tasters": one.n_tasters,
                "tasters_overlap": number(one.tasters_overlap),
            }
            for one in agreement.words
        ],
    }


def _pairs(cups: Cups) -> list[dict[str, Any]]:
    """Give every two cups of filter coffee whose strength is known."""
    known = [
        (one.name, one.cup.strength)
        for one in cups.cups
        if one.cup.strength is not None and one.cup.method != "espresso"
    ]
    pairs = []
    for place, (name, strength) in enumerate(known):
        for other_name, other in known[place + 1 :]:
            told = could_be_told(strength, other)
            pairs.append(
                {
                    "recordings": [name, other_name],
                    "difference_percent": known_json(told.difference),
                    "could_be_told": told.answer,
                }
            )
    return pairs


def _pattern(one: GoesWith) -> dict[str, Any]:
    return {
        "figure": one.figure,
        "taste": one.taste,
        "rank_correlation": number(one.rho),
        "n": one.n,
        "p": number(one.p, 5),
        "p_of_all": number(one.p_of_all, 5),
        "is_claimed": one.is_claimed,
        "cups_more": one.cups_more,
    }
