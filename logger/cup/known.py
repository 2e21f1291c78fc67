"""Numbers with what they are not known to, carried through by the law of propagation (GUM, JCGM 100:2008,
5.1).

Each number keeps its independent sources of uncertainty by name, with their sign. Two numbers that share a
source are correlated by it (GUM 5.2.2, example 1), so that a scale which shows everything 0.1 % high spoils
no ratio of two of its weights. It is the first order, as the package ``uncertainties`` does it, and held
against that in the tests; what is ours besides is the degrees of freedom: two readings of a refractometer
tell little of its scatter, and the interval must say so (Welch and Satterthwaite, GUM G.4.1).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count
from statistics import NormalDist

COVERAGE = 0.95
_STEP = 1e-4
_numbers = count(1)


@dataclass(frozen=True, slots=True)
class Source:
    """One thing that is not known exactly, independent of every other.

    :param name: for the reader: ``reading``, ``scale's step`` ...
    :param dof: degrees of freedom of its estimate; infinite where it is not estimated from a few readings
    :param number: what tells it from another of the same name
    """

    name: str
    dof: float = math.inf
    number: int = field(default_factory=lambda: next(_numbers))


@dataclass(frozen=True, slots=True)
class Known:
    """A number and what it is not known to.

    :param by: by source how far the number moves when the source moves by its standard uncertainty
    """

    value: float
    by: Mapping[Source, float] = field(default_factory=dict)

    @property
    def sd(self) -> float:
        """The combined standard uncertainty."""
        return math.sqrt(sum(part**2 for part in self.by.values()))

    @property
    def dof(self) -> float:
        """The effective degrees of freedom (Welch-Satterthwaite); infinite where no source has few."""
        few = sum(part**4 / source.dof for source, part in self.by.items() if math.isfinite(source.dof))
        return self.sd**4 / few if few > 0 else math.inf

    @property
    def give_or_take(self) -> float:
        """Half the width of the interval that holds the truth in 95 of 100 cases."""
        return self.sd * coverage_factor(self.dof)

    def share_of(self, name: str) -> float:
        """How much of the variance the sources of a name bring, 0 to 1."""
        variance = self.sd**2
        named = sum(part**2 for source, part in self.by.items() if source.name == name)
        return named / variance if variance else 0.0

    def plus(self, source: Source, sd: float) -> Known:
        """The same number with one more source."""
        return Known(self.value, {**self.by, source: self.by.get(source, 0.0) + sd}) if sd else self


def rectangular(half_width: float) -> float:
    """The standard uncertainty of what lies anywhere within so much to either side (GUM 4.3.7)."""
    return half_width / math.sqrt(3.0)


def rounded_to(step: float) -> float:
    """The standard uncertainty of a number that was rounded to a step (GUM F.2.2.1)."""
    return step / math.sqrt(12.0)


def combined(function: Callable[..., float], *numbers: Known) -> Known:
    """A function of numbers, each source carried through; slopes by central differences.

    :param function: of as many floats, smooth about their values
    """
    values = [number.value for number in numbers]
    by: dict[Source, float] = {}
    for place, number in enumerate(numbers):
        if not number.by:
            continue
        slope = _slope(function, values, place, number.sd)
        for source, part in number.by.items():
            by[source] = by.get(source, 0.0) + slope * part
    return Known(float(function(*values)), by)


def covariance(one: Known, other: Known) -> float:
    """By how much two numbers move together: the sources that they share."""
    return sum(part * other.by.get(source, 0.0) for source, part in one.by.items())


def coverage_factor(dof: float, coverage: float = COVERAGE) -> float:
    """How many standard uncertainties make the interval: the normal's, or Student's for few degrees of
    freedom.
    """
    beyond = (1.0 + coverage) / 2.0
    if not math.isfinite(dof) or dof > 1e6:
        return NormalDist().inv_cdf(beyond)
    from scipy.special import stdtrit

    return float(stdtrit(max(dof, 1.0), beyond))


def _slope(function: Callable[..., float], values: Sequence[float], place: int, sd: float) -> float:
    """A partial derivative; the step is small against the uncertainty, and against the value."""
    step = _STEP * max(abs(values[place]), sd)
    above, below = list(values), list(values)
    above[place] += step
    below[place] -= step
    return (function(*above) - function(*below)) / (2.0 * step)
