"""What is in the cup of a brew: its weights as the scales and the brewer's notes tell them, and its
balance.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logger.cup.agreeing import Agreement, agreement
from logger.cup.balance import (
    KEPT_PER_DOSE,
    KEPT_PER_DOSE_DOUBT,
    BeverageFrom,
    Cup,
    Weights,
    weigh_up,
)
from logger.cup.known import Known, Source, combined, rectangular, rounded_to
from logger.cup.patterns import GoesWith, going_together
from logger.cup.refractometer import strength_of
from logger.cup.tasting import TastedCup, tasted_cup
from logger.curve.shot.shots import main_shot
from logger.recording.note_kinds import INTENSITIES

if TYPE_CHECKING:
    from logger.compare.comparison import Brew
    from logger.recording.note_kinds import WeighedNote

CALIBRATION_SHARE = 0.001
"""How far a bench scale may show all weights too high or too low, to either side (common practice; a class
III scale of OIML R 76-1 in service: 0.2 g at 200 g)."""

_USUAL_STEP_G = 0.1


@dataclass(frozen=True, slots=True)
class CupOfBrew:
    """The cup of one recording.

    :param tasted: what was called and tasted
    """

    brew: Brew
    cup: Cup
    tasted: TastedCup

    @property
    def name(self) -> str:
        """The recording's."""
        return self.brew.recording.name


@dataclass(frozen=True, slots=True)
class Cups:
    """Several cups side by side.

    :param patterns: which figures of the brew go with which taste, among cups of the method tasted most
    :param n_alike: how many those are
    """

    cups: tuple[CupOfBrew, ...]
    agreement: Agreement
    patterns: tuple[GoesWith, ...]
    n_alike: int


def cups_of(brews: Sequence[Brew]) -> Cups:
    """Put cups side by side, in the order given."""
    cups = tuple(cup_of(brew) for brew in brews)
    alike = _of_one_method(cups)
    tastes: dict[str, list[float | None]] = {
        name: [cup.tasted.tasted_at(name) for cup in alike] for name in INTENSITIES
    }
    rows = [figures_of(cup) for cup in alike]
    figures = {name: [row.get(name) for row in rows] for name in _names(rows)}
    return Cups(cups, agreement([cup.tasted for cup in cups]), going_together(figures, tastes), len(alike))


def cup_of(brew: Brew) -> CupOfBrew:
    """Make up the balance of one brew."""
    note = brew.recording.noted.strength
    strength = strength_of(note) if note is not None else None
    # One scale weighed all that it shows; what makes it show too much drops out of its ratios and
    # differences.
    calibration = Source("the scale's calibration")
    dose = _dose(brew)
    water = _water(brew, calibration)
    beverage, told_by = _beverage(brew, calibration, water, dose)
    weights = Weights(dose, water, beverage, told_by)
    cup = weigh_up(brew.analysis.method, weights, strength)
    return CupOfBrew(brew, cup, tasted_cup(brew.recording.name, brew.recording.noted))


def figures_of(cup: CupOfBrew) -> dict[str, float]:
    """The figures of a brew that may go with a taste, by name; those that are not known left out."""
    brew, analysis = cup.brew, cup.brew.analysis
    found: dict[str, float | None] = {
        "strength, %": _value(cup.cup.strength),
        "extraction, %": _value(cup.cup.extraction),
        "brew ratio": _value(cup.cup.ratio),
        "time in all, s": None
        if analysis.start_s is None or analysis.end_s is None
        else analysis.end_s - analysis.start_s,
        "drawdown, s": brew.drawdown.lasts_s if brew.drawdown else None,
        "water, °C": _first_water_c(brew),
    }
    return {name: value for name, value in found.items() if value is not None and math.isfinite(value)}


def _of_one_method(cups: Sequence[CupOfBrew]) -> list[CupOfBrew]:
    """The tasted cups of the method that was tasted most: an espresso and a filter differ in everything at
    once.
    """
    tasted = [cup for cup in cups if cup.tasted.tasted]
    counted = Counter(cup.cup.method for cup in tasted)
    most = counted.most_common(1)[0][0] if counted else None
    return [cup for cup in tasted if cup.cup.method == most]


def _names(rows: Sequence[Mapping[str, float]]) -> list[str]:
    return list(dict.fromkeys(name for row in rows for name in row))


def _value(known: Known | None) -> float | None:
    return None if known is None else known.value


def _first_water_c(brew: Brew) -> float | None:
    """The kettle at the first pour, where it was read."""
    for thermometer in brew.thermometers.values():
        if thermometer.at_pours:
            return thermometer.at_pours[0][0].value_c
    return None


def _dose(brew: Brew) -> Known | None:
    """The dry coffee: as noted or recorded, else as the target wants it."""
    noted, grams = brew.recording.noted.dose, brew.recording.meta.dose_g
    if noted is not None:
        return _typed(noted)
    if grams is None and brew.comparison is not None:
        grams = brew.comparison.target.dose_g
    return None if grams is None else _weighed(grams, _USUAL_STEP_G, Source("the dose scale's calibration"))


def _water(brew: Brew, calibration: Source) -> Known | None:
    """The water that was poured on, as the scale saw it."""
    analysis = brew.analysis
    if analysis.method == "espresso" or analysis.start_s is None or not analysis.total_g > 0:
        return None
    water = _weighed(analysis.total_g, analysis.step_g or _USUAL_STEP_G, calibration)
    return water.plus(Source("the scale's scatter"), analysis.noise_g)


def _beverage(
    brew: Brew, calibration: Source, water: Known | None, dose: Known | None
) -> tuple[Known | None, BeverageFrom]:
    """The beverage: as noted, else as a scale saw it, else as a drained bed usually leaves it."""
    noted = brew.recording.noted.beverage
    if noted is not None:
        return _typed(noted), "noted"
    if brew.analysis.method == "espresso":
        return (_of_shot(brew, calibration), "shot") if brew.shots else (None, "")
    served = _of_server(brew)
    if served is not None:
        return served, "server"
    if brew.analysis.method == "pour-over" and water is not None and dose is not None:
        kept = Known(KEPT_PER_DOSE, {Source("the water kept by the bed"): rectangular(KEPT_PER_DOSE_DOUBT)})
        left = combined(lambda w, d, k: w - d * k, water, dose, kept)
        return (left, "estimated") if left.value > 0 else (None, "")
    return None, ""


def _of_shot(brew: Brew, calibration: Source) -> Known:
    shot = main_shot(brew.shots) or brew.shots[0]
    by = {Source("the scale's scatter"): shot.yield_uncertainty_g, calibration: _off(shot.yield_at_rest_g)}
    return Known(shot.yield_at_rest_g, by)


def _of_server(brew: Brew) -> Known | None:
    """What a second scale saw come out, until the brew was over."""
    bed = brew.bed
    if bed is None or bed.why or bed.end_s is None or bed.held_end_g is None:
        return None
    water_g = float(bed.water_g[bed.time_s <= bed.end_s][-1])
    grams = water_g - bed.held_end_g
    if grams <= 0:
        return None
    server = _weighed(grams, bed.step_g or _USUAL_STEP_G, Source("the server scale's calibration"))
    return server.plus(Source("the scale's scatter"), bed.held_sd_g or 0.0)


def _typed(note: WeighedNote) -> Known:
    return _weighed(note.grams, note.step_g, Source(f"the {note.what} scale's calibration"))


def _weighed(grams: float, step_g: float, calibration: Source) -> Known:
    """A weight by two readings of a scale, empty and loaded, each rounded to its step."""
    rounded = math.sqrt(2.0) * rounded_to(step_g)
    return Known(grams, {Source("the scale's step"): rounded, calibration: _off(grams)})


def _off(grams: float) -> float:
    return rectangular(CALIBRATION_SHARE * grams)
