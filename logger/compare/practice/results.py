"""What a practice set says: the results, and nothing that works them out.

Every figure carries its unit and the number of brews behind it. What cannot be said is NaN, None or an empty
tuple, and a sentence beside it says why.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from logger.compare.comparison import Quantity
from logger.compare.practice.estimates import ControlChart, Estimate, Floats, ToleranceInterval
from logger.target import Stage, Target

Kind = Literal["hand", "bed", "water", "cup"]
"""Whose doing a figure is: ``hand`` timing, weight, flow; ``bed`` drawdown and resistance (grind, fines,
channelling); ``water`` temperature; ``cup`` what came out of all of them."""

Part = Literal["mean", "spread"]


@dataclass(frozen=True, slots=True)
class Scatter:
    """One figure over the brews.

    :param stage: the stage's name; ``""`` for the whole brew
    :param wanted: the target's value; the middle where it is a window; NaN where the target says nothing
    :param limits: least and most that count as inside; NaN where there are none or they differ from brew to
        brew: such a figure counts for nothing
    :param n: brews in which it was measured
    :param n_inside: of these, inside
    :param n_told: of these, those for which inside or outside can be told
    :param n_over: of these, above the upper limit; ``n_under``: below the lower one
    :param step: the finest difference that could be told, the median over the brews; 0 where none is known
    :param mean: NaN where n is 0
    :param sd: standard deviation of a sample, uncorrected; NaN where n is below 2
    :param likely: where the next brew falls nine times in ten (prediction interval, taking the brews for
        independent and normally spread); NaN below 3 brews
    :param average: the mean with its interval (Student)
    :param spread: ``sd`` over c4(n), unbiased, with its interval (chi-squared)
    :param trend: change from one brew to the next (least squares over their order)
    :param trend_p: how likely so steep a slope is by chance, Holm's correction over all figures
    :param cp: capability: the width of the limits in 6 standard deviations
    :param cpk: the nearer limit's distance from the mean in 3 standard deviations
    :param tolerance: where nine in ten of all brews fall
    :param chart: None below ``evenness_words.ENOUGH`` brews
    :param inside: probability that the next brew is inside in this figure
    :param judged: whether the target says anything of it
    """

    stage: str
    quantity: Quantity
    unit: str
    kind: Kind
    wanted: float
    limits: tuple[float, float]
    n: int
    n_inside: int
    n_told: int
    n_over: int
    n_under: int
    step: float
    mean: float
    sd: float
    likely: tuple[float, float]
    average: Estimate
    spread: Estimate
    trend: Estimate
    trend_p: float
    cp: Estimate
    cpk: Estimate
    tolerance: ToleranceInterval
    chart: ControlChart | None
    inside: Estimate
    judged: bool

    @property
    def counts(self) -> bool:
        """Whether the target says what is inside."""
        return all(math.isfinite(limit) for limit in self.limits)

    @property
    def likely_inside(self) -> bool:
        """Whether the next brew falls inside nine times in ten."""
        return self.limits[0] <= self.likely[0] and self.likely[1] <= self.limits[1]

    @property
    def bias(self) -> float:
        """How far the brews are off on average."""
        return self.mean - self.wanted


@dataclass(frozen=True, slots=True)
class StageSpread:
    """One stage over the brews.

    :param n: brews
    :param n_inside: inside in all that the target says of the stage
    :param n_missing: brews in which it is missing or ran together with another
    :param inside: probability that the next brew is inside on this stage, in all its figures together
    """

    stage: Stage
    figures: tuple[Scatter, ...]
    n: int
    n_inside: int
    n_missing: int
    inside: Estimate


@dataclass(frozen=True, slots=True)
class NextCup:
    """The number that matters: is the next cup inside on every stage?

    :param inside: the probability, with its interval
    :param worst: of each brew the figure that is furthest off, in tolerances: 1 is the limit; NaN where a
        figure that counts was not measured or a pour was skipped. Shape (n,), as ``Practice.brews``
    :param worst_figure: whose that is: ``(stage, quantity)``, or None where it is NaN
    :param n: brews whose every figure that counts is known
    :param n_inside: of these, inside
    :param n_skipped: brews in which a pour was skipped, ran into another, or there was one too many: outside
        whatever the figures
    :param n_cut_off: brews left out, since a figure that counts is not known
    :param counted: figures that count: ``(stage, quantity)``
    :param uncounted: figures of the target that do not, each with a clause that says why
    :param says: one sentence
    """

    inside: Estimate
    worst: Floats
    worst_figure: tuple[tuple[str, Quantity] | None, ...]
    n: int
    n_inside: int
    n_skipped: int
    n_cut_off: int
    counted: tuple[tuple[str, Quantity], ...]
    uncounted: tuple[tuple[str, Quantity, str], ...]
    says: str


@dataclass(frozen=True, slots=True)
class Fix:
    """What would change if one thing were put right: the mean of one figure, or its spread.

    What a figure takes over from others (a late start from the pour before) is not its own: it is left out.

    :param part: whether its mean or its spread is put right
    :param own: its own share: how far it is off on average (with sign), or its standard deviation
    :param now: probability that the next cup is inside, as it is
    :param then: the same with this put right and all else as it is, what follows from it included
    :param carried: whether the brews carry the advice
    :param brews_needed: how many more brews it takes until they may; 0 where they do; None where no number
        of brews that anybody makes would
    :param first_share: share of resampled practice sets in which this fix comes first; NaN below 4 brews
    :param says: what is seen, a clause: ``pour 3 ends 4.1 g heavy in 8 of 10``
    :param change: what to do about it, a sentence; empty where the data do not carry it
    :param rule: a rule of thumb behind it with its source, or empty
    """

    stage: str
    quantity: Quantity
    unit: str
    kind: Kind
    part: Part
    own: Estimate
    now: float
    then: float
    carried: bool
    brews_needed: int | None
    first_share: float
    says: str
    change: str
    rule: str

    @property
    def gain(self) -> float:
        """By how much the probability would rise."""
        return self.then - self.now


@dataclass(frozen=True, slots=True)
class OddPosition:
    """A cup of a round that differs from the others of its round beyond chance.

    :param position: 1 for the first cup of a round
    :param difference: this cup less the mean of the others of its round; ``n`` counts rounds
    :param p: by permutation within rounds, corrected for all cups and figures looked at (max T)
    :param says: ``cups 1-3 agree, cup 4 is always 1.4 g heavy``
    """

    stage: str
    quantity: Quantity
    position: int
    difference: Estimate
    p: float
    says: str


@dataclass(frozen=True, slots=True)
class Positions:
    """Cups made in one go, by their place in the round.

    :param rounds: of each round the positions in ``Practice.brews``, in order of start
    :param odd: cups that differ, the surest first
    :param says: one sentence, also where nothing can be told
    """

    rounds: tuple[tuple[int, ...], ...]
    odd: tuple[OddPosition, ...]
    says: str


@dataclass(frozen=True, slots=True)
class PracticeBrew:
    """One brew of the set.

    :param started: None where nobody knows
    :param inside: as ``Comparison.inside``
    :param round: number of the round, from 1; 0 where starts are not known
    :param position: its place in the round, from 1; 0 where starts are not known
    """

    name: str
    started: datetime | None
    inside: bool | None
    round: int
    position: int


@dataclass(frozen=True, slots=True)
class Practice:
    """A practice set: brews of one target, in the order in which they were brewed.

    :param brews: in order of start where that is known of all, else as given
    :param given: of each of these its place among the brews given to ``study``
    :param stages: in the target's order; empty for espresso
    :param whole: figures of the whole brew
    :param next_cup: the probability that the next one is inside
    :param fixes: what would help, the most first
    :param positions: cups by their place in a round
    :param n: brews that hold a brew
    :param enough: whether they are enough to speak of even
    :param why: one sentence: what so many brews can and cannot say
    :param verdict: one sentence: how even they are, so far as can be told
    :param change: one sentence: what to change first, or empty
    :param notes: what the reader must know besides
    """

    target: Target
    brews: tuple[PracticeBrew, ...]
    given: tuple[int, ...]
    stages: tuple[StageSpread, ...]
    whole: tuple[Scatter, ...]
    next_cup: NextCup
    fixes: tuple[Fix, ...]
    positions: Positions
    n: int
    enough: bool
    why: str
    verdict: str
    change: str
    notes: tuple[str, ...]

    @property
    def figures(self) -> tuple[Scatter, ...]:
        """All figures, stage by stage, then the whole brew's."""
        return (*(one for stage in self.stages for one in stage.figures), *self.whole)
