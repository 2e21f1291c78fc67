"""Many fits by elimination against numpy's least squares, one candidate at a time."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from logger.curve.edges.around import Around, Seen
from logger.curve.edges.edge import Edge
from logger.curve.edges.linear import Fits, Priors, fit_all
from tests.benchmarks.curve_suite import Floats

TIMES, SAMPLES, RAMPS, FADES = 4, 30, 2, 2
NOISE_G, WAVERING, FADING, EXPECTED_G_S = 0.05, 0.7, 2.5, 0.4


class Case:
    """Columns and weights of some candidates, and numpy's answer for each of them."""

    def __init__(self, seed: int, noise_g: float = NOISE_G) -> None:
        drawn = np.random.default_rng(seed)
        at = np.linspace(0.0, 3.0, SAMPLES)
        since = at - np.linspace(0.5, 2.0, TIMES)[:, None]
        self.shapes = [np.maximum(since - 0.3 * ramp, 0.0) for ramp in range(RAMPS)]
        self.waverings = [0.5 * shape**2 for shape in self.shapes]
        self.fades = [-np.exp(-np.maximum(since, 0.0) / fade_s) for fade_s in (0.2, 0.8)]
        self.weight_g = 212.0 + 6.0 * self.shapes[0][1] + drawn.normal(0.0, NOISE_G, SAMPLES)
        self.noise_g = noise_g

    def fits(self, dripped: Floats | None = None, drips_g_s: tuple[float, ...] = (0.0,)) -> Fits:
        edge = Edge(1.0, 212.0, 6.0, 0.4, 0.0)
        around = Around.of([Seen(np.linspace(0.0, 3.0, SAMPLES), self.weight_g, edge, self.noise_g)])
        priors = Priors(*(np.array([[known]]) for known in (WAVERING, FADING, EXPECTED_G_S)))
        shapes, waverings = np.array([self.shapes]), np.array([self.waverings])
        fades, of_drips = [fade[None] for fade in self.fades], None if dripped is None else dripped[None]
        fits = fit_all(shapes, waverings, fades, around, priors, of_drips, drips_g_s)
        return Fits(*(getattr(fits, each.name)[0] for each in fields(fits)))

    def columns(self, fade: int, ramp: int, time: int) -> Floats:
        """Level, flow, wavering and, unless there is none, the fade; shape (samples, 3 or 4)."""
        chosen = [np.ones(SAMPLES), self.shapes[ramp][time], self.waverings[ramp][time]]
        return np.stack([*chosen, self.fades[fade - 1][time]] if fade else chosen, axis=1)

    def by_lstsq(self, fade: int, ramp: int, time: int) -> tuple[Floats, float, Floats]:
        """Coefficients, misfit and normal matrix: a prior is one more row, which should be its middle."""
        columns = self.columns(fade, ramp, time)
        priors = self.noise_g * np.sqrt(np.diag([0.0, 0.0, WAVERING, FADING][: columns.shape[1]]))
        rows = np.vstack([columns, priors])
        wanted = np.concatenate([self.weight_g, priors @ [0.0, 0.0, 0.0, EXPECTED_G_S][: columns.shape[1]]])
        solved, *_ = np.linalg.lstsq(rows, wanted, rcond=None)
        rest = wanted - rows @ solved
        return solved, float(rest @ rest), rows.T @ rows


EVERY = [(fade, ramp, time) for fade in range(FADES + 1) for ramp in range(RAMPS) for time in range(TIMES)]


@pytest.mark.parametrize("seed", [0, 1])
def test_every_candidate_is_fitted_as_numpy_fits_it(seed: int) -> None:
    case = Case(seed)
    fits = case.fits()
    assert fits.score.shape == (FADES + 1, RAMPS, TIMES)
    for place in EVERY:
        solved, _, _ = case.by_lstsq(*place)
        assert fits.level_g[place] == pytest.approx(solved[0], abs=1e-5)
        assert fits.flow_g_s[place] == pytest.approx(solved[1], abs=1e-5)
        assert fits.fading_g_s[place] == pytest.approx(solved[3] if place[0] else EXPECTED_G_S, abs=1e-5)


@pytest.mark.parametrize("noise_g", [0.08, 0.002], ids=["less noise than was said", "more"])
def test_the_level_is_as_sure_as_the_normal_matrix_says(noise_g: float) -> None:
    """The variance of one sample is what was said, or what the best candidate leaves if that is more."""
    case = Case(2, noise_g)
    fits = case.fits()
    least = min(case.by_lstsq(*place)[1] for place in EVERY)
    variance = max(noise_g**2, least / (SAMPLES - 5))
    assert (variance > noise_g**2) == (noise_g < NOISE_G)
    for place in EVERY:
        _, _, normal = case.by_lstsq(*place)
        assert fits.level_sd_g[place] == pytest.approx(
            np.sqrt(variance * np.linalg.inv(normal)[0, 0]), rel=1e-4
        )


def test_what_fades_is_as_sure_as_the_normal_matrix_says() -> None:
    case = Case(5)
    fits = case.fits()
    least = min(case.by_lstsq(*place)[1] for place in EVERY)
    variance = max(NOISE_G**2, least / (SAMPLES - 5))
    for place in EVERY:
        _, _, normal = case.by_lstsq(*place)
        if place[0]:
            expected = np.sqrt(variance * np.linalg.inv(normal)[3, 3])
            assert fits.fading_sd_g_s[place] == pytest.approx(expected, rel=1e-4)


def test_the_score_is_the_evidence_of_what_has_a_prior() -> None:
    """Of the Bayesian linear model: half the misfit, and half the logarithm of by how much the samples
    narrow what has a prior (the Occam factor); level and flow, which have none, are left out.
    """
    case = Case(3)
    fits = case.fits()
    priors = np.array([WAVERING, FADING]) * NOISE_G**2
    least = min(case.by_lstsq(*place)[1] for place in EVERY)
    variance = max(NOISE_G**2, least / (SAMPLES - 5))
    for place in EVERY:
        _, misfit, normal = case.by_lstsq(*place)
        narrowed = np.linalg.slogdet(normal[1:, 1:])[1] - np.log(normal[1, 1])
        narrowed -= np.log(priors[: normal.shape[0] - 2]).sum()
        assert fits.score[place] == pytest.approx(-0.5 * (misfit / variance + narrowed), rel=1e-4, abs=1e-3)


def test_what_drips_besides_is_taken_out_of_the_weights() -> None:
    """One after the other: the fits of the weights as they are, then of those without what drips."""
    case, without = Case(6), Case(6)
    dripped = np.maximum(np.linspace(0.0, 3.0, SAMPLES) - np.linspace(0.5, 2.0, TIMES)[:, None], 0.0)
    fits = case.fits(dripped, (0.0, 0.04))
    assert fits.level_g.shape == (2 * (FADES + 1), RAMPS, TIMES)
    assert fits.level_g[: FADES + 1] == pytest.approx(case.fits().level_g)
    without.weight_g = case.weight_g - 0.04 * dripped[2]
    expected = without.fits()
    assert fits.level_g[FADES + 1 :, :, 2] == pytest.approx(expected.level_g[..., 2], abs=1e-6)
    assert fits.fading_g_s[FADES + 1 :, :, 2] == pytest.approx(expected.fading_g_s[..., 2], abs=1e-6)


def test_the_candidate_that_made_the_weights_is_the_likeliest() -> None:
    fits = Case(4).fits()
    assert np.unravel_index(int(np.argmax(fits.score)), fits.score.shape)[1:] == (0, 1)
