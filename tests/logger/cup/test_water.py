"""Water by mass and by volume."""

from __future__ import annotations

import pytest
from iapws import IAPWS95

from logger.cup import millilitres, water_density_kg_m3


@pytest.mark.parametrize("celsius", [1, 4, 10, 15, 20, 25, 40, 60, 65, 70, 80, 85, 90, 93, 96, 98])
def test_density_agrees_with_iapws_95(celsius: float) -> None:
    # IAPWS-95 at 101 325 Pa, as computed by the iapws package; Kell 1975 differs by at most 0.015 kg/m3.
    reference = IAPWS95(T=celsius + 273.15, P=0.101325).rho
    assert water_density_kg_m3(celsius) == pytest.approx(reference, abs=0.02)


def test_density_is_kells_own() -> None:
    # Kell (1975), computed from the published equation: 998.2041 at 20 °C, 961.9004 at 95 °C.
    assert water_density_kg_m3(20) == pytest.approx(998.2041, abs=1e-4)
    assert water_density_kg_m3(95) == pytest.approx(961.9004, abs=1e-4)


def test_hot_water_takes_more_room() -> None:
    # From the IAPWS-95 densities 963.2708 and 998.2072 kg/m3.
    assert millilitres(100, 93) == pytest.approx(103.81, abs=0.01)
    assert millilitres(100, 20) == pytest.approx(100.18, abs=0.01)


@pytest.mark.parametrize("celsius", [-0.1, 100.1, float("nan")])
def test_ice_and_steam_are_refused(celsius: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 100"):
        water_density_kg_m3(celsius)
