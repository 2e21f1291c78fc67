"""What is in the cup: for now the water, by mass and by volume."""

from logger.cup.water import millilitres, water_density_kg_m3

__all__ = ["millilitres", "water_density_kg_m3"]
