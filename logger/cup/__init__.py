"""What is in the cup: water by mass and volume, strength, extraction, taste.

The names are loaded when first used: some bring numpy with them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.lazy import loaded_from

if TYPE_CHECKING:
    from logger.cup.agreeing import Agreement, agreement
    from logger.cup.balance import Cup, Weights, weigh_up
    from logger.cup.boiling import air_pressure_pa, boiling_point_at_c, boiling_point_c
    from logger.cup.known import Known, Source, combined
    from logger.cup.patterns import GoesWith, going_together
    from logger.cup.refractometer import strength_of, strength_percent
    from logger.cup.settings import Settings, read_settings, settings_file
    from logger.cup.tasting import TastedCup, tasted_cup
    from logger.cup.threshold import could_be_told
    from logger.cup.water import millilitres, water_density_kg_m3

_PUBLIC = {
    "Agreement": "logger.cup.agreeing",
    "Cup": "logger.cup.balance",
    "GoesWith": "logger.cup.patterns",
    "Known": "logger.cup.known",
    "Settings": "logger.cup.settings",
    "Source": "logger.cup.known",
    "TastedCup": "logger.cup.tasting",
    "Weights": "logger.cup.balance",
    "agreement": "logger.cup.agreeing",
    "air_pressure_pa": "logger.cup.boiling",
    "boiling_point_at_c": "logger.cup.boiling",
    "boiling_point_c": "logger.cup.boiling",
    "combined": "logger.cup.known",
    "could_be_told": "logger.cup.threshold",
    "going_together": "logger.cup.patterns",
    "millilitres": "logger.cup.water",
    "read_settings": "logger.cup.settings",
    "settings_file": "logger.cup.settings",
    "strength_of": "logger.cup.refractometer",
    "strength_percent": "logger.cup.refractometer",
    "tasted_cup": "logger.cup.tasting",
    "water_density_kg_m3": "logger.cup.water",
    "weigh_up": "logger.cup.balance",
}

__all__ = [
    "Agreement",
    "Cup",
    "GoesWith",
    "Known",
    "Settings",
    "Source",
    "TastedCup",
    "Weights",
    "agreement",
    "air_pressure_pa",
    "boiling_point_at_c",
    "boiling_point_c",
    "combined",
    "could_be_told",
    "going_together",
    "millilitres",
    "read_settings",
    "settings_file",
    "strength_of",
    "strength_percent",
    "tasted_cup",
    "water_density_kg_m3",
    "weigh_up",
]

__getattr__ = loaded_from(__name__, _PUBLIC)
