"""Strength from what a refractometer showed."""

from __future__ import annotations

import math

import pytest
from iapws import IAPWS95
from iapws._iapws import _Refractive

from logger.cup import strength_of
from logger.cup.known import combined
from logger.cup.refraction import refractive_index, temperature_correction_bx
from logger.recording.note_kinds import StrengthNote


@pytest.mark.parametrize("celsius", [5, 10, 15, 20, 25, 30, 40, 60])
def test_the_index_of_water_is_that_of_iapws(celsius: float) -> None:
    # IAPWS R9-97 as computed by the package iapws; 589.3 nm.
    density = IAPWS95(T=celsius + 273.15, P=0.101325).rho
    assert refractive_index(celsius) == pytest.approx(
        _Refractive(density, celsius + 273.15, 0.5893), abs=5e-6
    )


def test_the_index_of_water_as_printed() -> None:
    # 1.3330 at 20 °C: table of the CRC handbook.
    assert refractive_index(20.0) == pytest.approx(1.3330, abs=5e-4)


@pytest.mark.parametrize(("celsius", "correction"), [(10, -0.59), (15, -0.32)])
def test_the_correction_at_ten_brix(celsius: float, correction: float) -> None:
    # OIV-MA-AS2-02, table I, to 20 °C, at 10 °Bx; coffee is not sugar, and a tenth is what is claimed.
    assert temperature_correction_bx(10.0, celsius) == pytest.approx(correction, rel=0.1)


def test_zeroed_at_the_samples_temperature_there_is_nothing_to_correct() -> None:
    assert temperature_correction_bx(1.6, 27.0, 27.0) == 0.0
    note = StrengthNote((1.35,), corrected=False, sample_c=27.0, zero_c=27.0)
    assert strength_of(note).value == pytest.approx(1.35)


def test_a_warm_sample_reads_low_where_nothing_corrects() -> None:
    warm = strength_of(StrengthNote((1.35,), corrected=False, sample_c=25.0))
    # Water at 25 °C reads 0.33 °Bx low (International temperature correction table 1936, from memory), 0.85
    # % each.
    assert warm.value == pytest.approx(1.35 + 0.33 * 0.85, abs=0.03)
    assert warm.sd > 2.0 * strength_of(StrengthNote((1.35,))).sd


def test_an_unknown_temperature_is_doubt_not_a_correction() -> None:
    unknown = strength_of(StrengthNote((1.35,), corrected=False))
    assert unknown.value == 1.35
    assert unknown.give_or_take > 0.3


def test_one_reading() -> None:
    known = strength_of(StrengthNote((1.35,), step=0.01))
    # ±0.03 anywhere within, and a step of 0.01.
    assert known.sd == pytest.approx(math.hypot(0.03 / math.sqrt(3), 0.01 / math.sqrt(12)))
    strong = strength_of(StrengthNote((10.0,), step=0.1))
    assert strong.sd == pytest.approx(math.hypot(0.1 / math.sqrt(3), 0.1 / math.sqrt(12)))


def test_several_readings_are_averaged_and_their_scatter_counts() -> None:
    even = strength_of(StrengthNote((1.35, 1.35, 1.35)))
    uneven = strength_of(StrengthNote((1.25, 1.35, 1.45)))
    assert even.value == pytest.approx(1.35) and uneven.value == pytest.approx(1.35)
    assert even.sd < uneven.sd
    assert math.isinf(even.dof) and uneven.dof < 4.0


def test_brix_is_converted_with_its_doubt() -> None:
    known = strength_of(StrengthNote((1.60,), unit="°Bx", coefficient=0.85, coefficient_sd=0.02))
    assert known.value == pytest.approx(1.36)
    assert known.share_of("the Brix coefficient") > 0.5
    own = strength_of(StrengthNote((1.60,), unit="°Bx", coefficient=0.83, coefficient_sd=0.001))
    assert own.value == pytest.approx(1.328)
    assert own.sd < known.sd


def test_two_cups_by_one_coefficient_differ_more_surely_than_either_is_known() -> None:
    one = strength_of(StrengthNote((1.60,), unit="°Bx", coefficient_sd=0.05))
    other = strength_of(StrengthNote((1.70,), unit="°Bx", coefficient_sd=0.05))
    assert combined(lambda a, b: b - a, one, other).sd < one.sd
