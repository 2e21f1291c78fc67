from __future__ import annotations

from dataclasses import replace

import pytest

from logger.compare import Brew
from logger.show.words.certainty import how_sure, reading_uncertainty_g
from tests.logger.show.conftest import ranged


def test_a_displays_step_counts_as_029_of_itself(brew: Brew) -> None:
    # JCGM 100:2008 (GUM), F.2.2.1: a resolution of δx has the standard uncertainty 0.29 δx; doubled here
    still = replace(brew.analysis, noise_g=0.0, step_g=1.0)
    assert reading_uncertainty_g(still) == pytest.approx(2 * 0.29, abs=0.005)


def test_one_brew_never_speaks_for_all(brew: Brew) -> None:
    assert how_sure(brew)[0].startswith("One brew shows what happened this time")
    assert "±0.13 g" in how_sure(brew)[1]


def test_nothing_is_said_of_a_step_that_is_not_known(brew: Brew) -> None:
    blind = Brew(brew.recording, replace(brew.analysis, step_g=0.0), brew.comparison, {})
    assert len(how_sure(blind)) == 1


def test_how_well_the_pours_are_known_is_said_once_for_all(brew: Brew, shot: Brew) -> None:
    assert how_sure(ranged(brew))[-1] == (
        "A pour's start is good to about ±0.2 s, its end to ±0.4 s and what was poured to ±0.3 g, "
        "nine times in ten."
    )
    assert how_sure(ranged(shot))[-1].startswith(
        "The first drip may have fallen up to 0.2 s before it shows on the scale; the end is good to about "
        "±0.4 s"
    )
    assert not any("nine times" in sentence for sentence in how_sure(brew))
