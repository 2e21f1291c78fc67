"""How well calls and cups agree over several cups, and tasters with each other, with the honest number of
cups.

A cup counts once, however many taste it: tasters of one cup do not make more cups of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

import numpy as np

from logger.cup.known import coverage_factor
from logger.cup.tasting import TastedCup, cups_with
from logger.recording.note_kinds import INTENSITIES, WORDS

LEAST_CUPS = 5
"""Below this neither a rank correlation nor a reliability says anything: with four cups every order of them
comes by chance in one of 24 cases."""

_RESAMPLED = 2000
_SEED = 20_261_125


@dataclass(frozen=True, slots=True)
class CallAgreement:
    """One attribute, called and tasted.

    :param n: cups in which it was both called and tasted
    :param mean: tasted less called, on the scale of 0 to 15; positive where the cup had more than was called
    :param between: the 95 % interval of that mean (Student's t); None below two cups
    :param typical: mean size of the difference, whatever its sign
    :param rank: Spearman's rank correlation over the cups; None where there are too few, or all alike
    """

    attribute: str
    n: int
    mean: float
    between: tuple[float, float] | None
    typical: float
    rank: float | None


@dataclass(frozen=True, slots=True)
class TasterAgreement:
    """One attribute between tasters.

    :param n: cups that at least two tasters gave it
    :param typical: mean size of the difference between two tasters of one cup
    :param alpha: Krippendorff's alpha for intervals: 1 where all agree, 0 as by chance; None where too few
    :param between: its 95 % interval, by drawing the cups again
    """

    attribute: str
    n: int
    typical: float
    alpha: float | None
    between: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class WordAgreement:
    """Words of one kind.

    :param n: cups of which words were both called and found
    :param overlap: mean of Jaccard's index, call against taster, 0 to 1
    :param n_tasters: cups of which at least two tasters gave words; ``tasters_overlap`` is theirs
    """

    kind: str
    n: int
    overlap: float | None
    n_tasters: int
    tasters_overlap: float | None


@dataclass(frozen=True, slots=True)
class Agreement:
    """Calls, cups and tasters of several cups.

    :param cups: those of which anything was tasted
    :param in_order: pairs of attributes that came in the order called, and of how many
    """

    cups: tuple[TastedCup, ...]
    calls: tuple[CallAgreement, ...]
    tasters: tuple[TasterAgreement, ...]
    words: tuple[WordAgreement, ...]
    in_order: tuple[int, int]


def agreement(cups: Sequence[TastedCup]) -> Agreement:
    """Hold what was called against what was tasted, and the tasters against each other."""
    tasted = tuple(cup for cup in cups if cup.called or cup.tasted)
    orders = [cup.in_order() for cup in tasted]
    return Agreement(
        cups=tasted,
        calls=tuple(call for name in INTENSITIES if (call := _calls(tasted, name)) is not None),
        tasters=tuple(pair for name in INTENSITIES if (pair := _tasters(tasted, name)) is not None),
        words=tuple(said for name in WORDS if (said := _words(tasted, name)) is not None),
        in_order=(sum(kept for kept, _ in orders), sum(of for _, of in orders)),
    )


def krippendorff_alpha(units: Sequence[Sequence[float]]) -> float | None:
    """Krippendorff's alpha with the difference function of an interval scale, (a - b)².

    Krippendorff 2011, Computing Krippendorff's Alpha-Reliability; units that one rater gave alone do not
    count.

    :param units: of each unit the values that were given, by whomever
    :returns: 1 - observed by expected disagreement; None where all values are alike, or no unit has two
    """
    paired = [values for values in units if len(values) > 1]
    if not paired:
        return None
    alpha = float(_alphas(_sums(paired), np.arange(len(paired))[None, :])[0])
    return alpha if math.isfinite(alpha) else None


def _sums(units: Sequence[Sequence[float]]) -> np.ndarray:
    """Of each unit: how many values, their sum, their squares' sum, their own disagreement; shape (n, 4).

    The sum of (a - b)² over all ordered pairs of n values is 2 n Σ(a - mean)².
    """
    level = fmean(value for values in units for value in values)
    rows = []
    for values in units:
        off = np.asarray(values, dtype=np.float64) - level
        n = len(off)
        rows.append((n, off.sum(), off @ off, 2.0 * n * float(np.sum((off - off.mean()) ** 2)) / (n - 1)))
    return np.asarray(rows, dtype=np.float64)


def _alphas(sums: np.ndarray, drawn: np.ndarray) -> np.ndarray:
    """Alpha of each draw of units, shape (draws,); NaN where all its values are alike.

    :param drawn: numbers of units, shape (draws, n)
    """
    n, total, squares, within = sums[drawn].sum(axis=1).T
    observed = within / n
    expected = 2.0 * (n * squares - total**2) / (n * (n - 1.0))
    told = expected > 1e-9
    return np.where(told, 1.0 - observed / np.where(told, expected, 1.0), np.nan)


def _calls(cups: Sequence[TastedCup], attribute: str) -> CallAgreement | None:
    with_both = cups_with(cups, attribute)
    if not with_both:
        return None
    called = [cup.called_at(attribute) or 0.0 for cup in with_both]
    tasted = [cup.tasted_at(attribute) or 0.0 for cup in with_both]
    off = [more - less for more, less in zip(tasted, called, strict=True)]
    n, mean = len(off), fmean(off)
    reach = coverage_factor(n - 1.0) * stdev(off) / math.sqrt(n) if n > 1 else None
    return CallAgreement(
        attribute,
        n,
        mean,
        None if reach is None else (mean - reach, mean + reach),
        fmean(abs(one) for one in off),
        rank_correlation(called, tasted) if n >= LEAST_CUPS else None,
    )


def _tasters(cups: Sequence[TastedCup], attribute: str) -> TasterAgreement | None:
    units = [
        [note.intensities[attribute] for note in cup.tasted.values() if attribute in note.intensities]
        for cup in cups
    ]
    units = [values for values in units if len(values) > 1]
    if not units:
        return None
    typical = fmean(fmean(abs(a - b) for i, a in enumerate(unit) for b in unit[:i]) for unit in units)
    if len(units) < LEAST_CUPS:
        return TasterAgreement(attribute, len(units), typical, None, None)
    return TasterAgreement(attribute, len(units), typical, krippendorff_alpha(units), _alpha_between(units))


def _alpha_between(units: Sequence[Sequence[float]]) -> tuple[float, float] | None:
    """The 95 % interval of alpha, from cups drawn again with replacement."""
    drawn = np.random.default_rng(_SEED).integers(0, len(units), (_RESAMPLED, len(units)))
    alphas = _alphas(_sums(units), drawn)
    told = alphas[np.isfinite(alphas)]
    if len(told) < _RESAMPLED / 2:
        return None
    low, high = np.percentile(told, [2.5, 97.5])
    return float(low), float(high)


def _words(cups: Sequence[TastedCup], kind: str) -> WordAgreement | None:
    overlaps = [share for cup in cups if (share := cup.overlap(kind)) is not None]
    between = [share for cup in cups if (share := cup.tasters_overlap(kind)) is not None]
    if not overlaps and not between:
        return None
    return WordAgreement(
        kind,
        len(overlaps),
        fmean(overlaps) if overlaps else None,
        len(between),
        fmean(between) if between else None,
    )


def rank_correlation(one: Sequence[float], other: Sequence[float]) -> float | None:
    """Spearman's rank correlation, ties by their mean rank; None where one side is all alike."""
    a, b = ranks(one), ranks(other)
    a, b = a - a.mean(), b - b.mean()
    size = math.sqrt(float(a @ a) * float(b @ b))
    return float(a @ b) / size if size > 0 else None


def ranks(values: Sequence[float]) -> np.ndarray:
    """Ranks from 1, ties by their mean, shape (n,)."""
    array = np.asarray(values, dtype=np.float64)
    below = (array[:, None] > array[None, :]).sum(axis=1)
    alike = (array[:, None] == array[None, :]).sum(axis=1)
    return np.asarray(below + (alike + 1) / 2.0, dtype=np.float64)
