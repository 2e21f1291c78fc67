"""The drawdown: how a bed runs dry, and how slowly.

Darcy's law makes the flow through a bed proportional to the head of water on it. In a bed of steady section
the head falls as the free water m above it does, so without inflow ``dm/dt = -m / tau``, and what has come
through is ``end - a exp(-t / tau)``, with a the free water at the beginning. Tau is the bed's depth by its
hydraulic conductivity (the falling-head permeameter of soil mechanics, ``k = L / t ln(h1 / h2)``), so it
measures the bed's resistance without any geometry: the time in which the head falls to 37 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from logger.curve.brew import Analysis, Floats

DRY_FLOW_G_S = 0.2
"""A bed that lets less through has run dry: four drops a second of about 0.05 g (common practice)."""

DRIFT_G_MIN = 0.4
"""What drift and drying may do within a minute, a hot server on the scale; tau's deviation allows for it."""

SHORTEST_TAU_S, LONGEST_TAU_S = 0.5, 600.0
FEWEST_POINTS = 10
MOST_UNSURE = 0.25
"""A tau whose relative standard deviation is larger is not told."""

_TAUS = 48
_ZOOMS = 3

DryBy = Literal["flow", "lift", "mark"]


@dataclass(frozen=True, slots=True)
class Tail:
    """What came through a bed without inflow: ``end_g - free_g * exp(-(t - start_s) / tau_s)``.

    :param start_s: where the fit begins
    :param tau_s: in which flow and head fall to 37 %
    :param tau_sd_s: its standard deviation, an allowance for the scale's drift in it
    :param end_g: beverage when all has come through
    :param end_sd_g: its standard deviation; 0 where the end was known beforehand
    :param free_g: free water at ``start_s``
    :param misfit_g: root mean square of what the fit leaves
    """

    start_s: float
    tau_s: float
    tau_sd_s: float
    end_g: float
    end_sd_g: float
    free_g: float
    misfit_g: float

    @property
    def unsure(self) -> float:
        """Tau's relative standard deviation."""
        return self.tau_sd_s / self.tau_s

    def left_g(self, time_s: float) -> float:
        """What has not come through yet at a time."""
        return float(self.free_g * np.exp(-(time_s - self.start_s) / self.tau_s))

    def falls_below_s(self, flow_g_s: float) -> float:
        """When the flow falls below a value; ``start_s`` where it never reached it."""
        first_g_s = self.free_g / self.tau_s
        return self.start_s + self.tau_s * float(np.log(max(first_g_s / flow_g_s, 1.0)))


@dataclass(frozen=True, slots=True)
class Drawdown:
    """From the end of the last pour to the bed running dry.

    :param start_s: the end of the last pour
    :param dry_s: when the bed had run dry, None where it cannot be told
    :param by: what says so: the ``flow`` into the server, the vessel's ``lift``, or the brewer's ``mark``
    :param at_latest: whether the bed may have run dry earlier
    :param tail: the exponential tail, None where it cannot be told
    :param why: one clause where ``dry_s`` is None
    """

    start_s: float
    dry_s: float | None
    by: DryBy | None
    at_latest: bool = False
    tail: Tail | None = None
    why: str = ""

    @property
    def lasts_s(self) -> float | None:
        """How long it took, None where that cannot be told."""
        return None if self.dry_s is None else self.dry_s - self.start_s


def drawdown_by_one_scale(
    analysis: Analysis, dry_s: float | None = None, served_s: float | None = None
) -> Drawdown | None:
    """Say what one scale, or the brewer's mark, tells of the drawdown.

    A scale under everything does not see the bed run dry. It sees dripper or server lifted afterwards, which
    bounds the end; so does the moment of serving. The brewer's mark of the bed run dry is that moment.

    :param dry_s: when the brewer marked that the bed had run dry, on the analysis' axis
    :param served_s: when the brewer marked that the cup was served
    :returns: None where there is no pour-over
    """
    if not analysis.pours or analysis.method != "pour-over":
        return None
    start_s = analysis.pours[-1].end_s
    if dry_s is not None and dry_s >= start_s:
        return Drawdown(start_s, dry_s, "mark")
    lifts_s = [
        each.start_s for each in analysis.events if each.kind == "vessel-off" and each.start_s > start_s
    ]
    if served_s is not None and served_s >= start_s and (not lifts_s or served_s < lifts_s[0]):
        return Drawdown(start_s, served_s, "mark", at_latest=True)
    if lifts_s:
        return Drawdown(start_s, lifts_s[0], "lift", at_latest=True)
    return Drawdown(start_s, None, None, why="nothing was lifted off after the last pour, and nothing marked")


def fit_tail(time_s: Floats, through_g: Floats, noise_g: float, end_g: float | None = None) -> Tail | None:
    """Fit the exponential tail to what has come through.

    For given tau, end and free water follow by least squares; tau is searched, coarse to fine. The standard
    deviations are those of the linearised fit, widened by the autocorrelation of what it leaves (a lag-one
    process, variance times ``(1 + r) / (1 - r)``), with an allowance for the scale's drift.

    :param time_s: rising, shape (n,)
    :param through_g: shape (n,)
    :param noise_g: standard deviation of one value, at the least
    :param end_g: what comes through in all, where that is known
    :returns: None where the values do not show a tail
    """
    if time_s.size < FEWEST_POINTS or through_g[-1] - through_g[0] <= 0.0:
        return None
    since = time_s - time_s[0]
    tau_s = _best_tau_s(since, through_g, end_g)
    if tau_s is None:
        return None
    found_g, free_g = _linear(since, through_g, tau_s, end_g)
    if free_g <= 0.0:
        return None
    falls = np.exp(-since / tau_s)
    left = through_g - found_g + free_g * falls
    # How the curve answers to end, free water and tau, in this order.
    answers = [np.ones_like(since), -falls, -free_g * falls * since / tau_s**2]
    answers = answers[1:] if end_g is not None else answers
    variances = _variances(np.stack(answers, axis=1), left, noise_g)
    if variances is None:
        return None
    drift_s, drift_end_g = _by_drift(since, through_g, tau_s, found_g, end_g)
    return Tail(
        float(time_s[0]),
        tau_s,
        float(np.hypot(np.sqrt(variances[-1]), drift_s)),
        found_g,
        0.0 if end_g is not None else float(np.hypot(np.sqrt(variances[0]), drift_end_g)),
        free_g,
        float(np.sqrt(np.mean(left**2))),
    )


def _best_tau_s(since: Floats, through_g: Floats, end_g: float | None) -> float | None:
    """Search tau; None where the best one lies at an end of what is searched."""
    low, high = SHORTEST_TAU_S, LONGEST_TAU_S
    for zoom in range(_ZOOMS):
        taus = np.geomspace(low, high, _TAUS)
        misfits = [_misfit(since, through_g, float(tau), end_g) for tau in taus]
        best = int(np.argmin(misfits))
        if zoom == 0 and best in (0, _TAUS - 1):
            return None
        low, high = float(taus[max(best - 1, 0)]), float(taus[min(best + 1, _TAUS - 1)])
    return float(np.sqrt(low * high))


def _misfit(since: Floats, through_g: Floats, tau_s: float, end_g: float | None) -> float:
    found_g, free_g = _linear(since, through_g, tau_s, end_g)
    return float(np.sum((through_g - found_g + free_g * np.exp(-since / tau_s)) ** 2))


def _linear(since: Floats, through_g: Floats, tau_s: float, end_g: float | None) -> tuple[float, float]:
    """End and free water by least squares for a given tau."""
    falls = np.exp(-since / tau_s)
    if end_g is not None:
        return end_g, float(falls @ (end_g - through_g) / (falls @ falls))
    mean_g, mean_fall = float(through_g.mean()), float(falls.mean())
    centred = falls - mean_fall
    power = float(centred @ centred)
    free_g = -float(centred @ through_g) / power if power > 0.0 else 0.0
    return mean_g + free_g * mean_fall, free_g


def _variances(answers: Floats, left: Floats, noise_g: float) -> Floats | None:
    """Variances of the fitted values; None where they cannot be told apart."""
    count, fitted = answers.shape
    scale = np.sqrt((answers**2).sum(axis=0))
    if not (scale > 0.0).all():
        return None
    normal = (answers / scale).T @ (answers / scale)
    if np.linalg.cond(normal) > 1e12:
        return None
    variance = max(float(left @ left) / max(count - fitted, 1), noise_g**2)
    power = max(float(left @ left), 1e-12)
    alike = float(np.clip(float(left[1:] @ left[:-1]) / power, 0.0, 0.98))
    spread = np.diag(np.linalg.inv(normal)) / scale**2
    return np.asarray(np.maximum(spread, 0.0) * variance * (1.0 + alike) / (1.0 - alike))


def _by_drift(
    since: Floats, through_g: Floats, tau_s: float, found_g: float, end_g: float | None
) -> tuple[float, float]:
    """By how much tau and the end would change with the scale's drift: standard deviations of a rectangle."""
    drifted = through_g + DRIFT_G_MIN / 60.0 * since
    other_s = _best_tau_s(since, drifted, end_g)
    if other_s is None:
        return tau_s, abs(found_g)
    other_g, _ = _linear(since, drifted, other_s, end_g)
    return abs(other_s - tau_s) / float(np.sqrt(3.0)), abs(other_g - found_g) / float(np.sqrt(3.0))
