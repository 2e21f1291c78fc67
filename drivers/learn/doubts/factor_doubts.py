"""Factors that are not round: how well one is known, and whether it may come of other bytes."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from drivers.learn.captures.capture import UNIT_OF, Capture
from drivers.learn.doubts.further import between_or_beyond, heavier
from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit
from drivers.learn.weight.costs import counts_too_finely

HEAVY = {"weight": 700.0, "temperature": 100.0}
"""A dripper with its server and the water, g; boiling water, °C."""

NEARLY_ROUND = 3e-4
"""Share of itself by which a factor is off a power of ten only for bytes of another number."""

_AGREES = 2.0
"""Standard uncertainties of a factor by which it may be a round one."""

_CLEARLY, _HARDLY, _UNUSUAL, _SEEN = 4.0, 1.5, 4.0, 0.1
"""Standard uncertainties by which a factor is not round, and not one that is as unusual as this, a natural
logarithm; g or °C by which it matters on a heavy load."""

OUNCE_G = 28.349523125

_BETWEEN = 0.03
"""Share of the span of all loads by which a number is clearly off each."""


_MANY_STEPS = 500.0
"""Steps between loads that no counter goes from one load to the next."""

_OFF_LINE = 0.004
"""Share of their span by which loads may be off a line that nothing else speaks for."""

_WELL_KNOWN = 0.1
"""By how much a factor that is measured may leave a heavy load unsure: what scales that are brewed with show,
g, or °C; or by half a step."""

_COARSE = 0.5
"""The coarsest step that noise alone makes likely, g or °C: it may be of the table, and not of the scale."""


def doubts_of_factor(one: Fit, capture: Capture) -> Iterator[tuple[str, float | None]]:
    """Doubt what a step stands for, where that has been measured and is no round figure.

    :returns: why, a sentence, and the load that would tell, g or °C
    """
    loads, unit, heavy = capture.loads, UNIT_OF[capture.quantity], HEAVY[capture.quantity]
    if len(loads) <= 3 and one.worst > 0.003 * one.span + one.step:
        text = "With three loads, a factor that is not round cannot be told from chance."
        yield text, between_or_beyond(loads)
    # Half of a step says nothing, however coarse it is.
    if one.worst > _OFF_LINE * one.span + max(0.5 * one.step, min(one.step, 0.005 * one.span)):
        yield f"The loads are up to {one.worst:.2g} {unit} off a straight line, which is too much.", None
    if not is_seen_between(one):
        yield "It jumps from one load to the next with nothing between, as a counter may.", heavy
    if counts_too_finely(one):
        yield "It counts more finely than a converter can: its lowest bytes may be another number.", None
    if is_check_of_round(one):
        yield "It falls as the load grows, by round steps: so does a check of the number itself.", None
    if 0.0 < from_round(one.slope) < NEARLY_ROUND:
        text = "The factor is nearly round and is not: its lowest bytes may belong to another number."
        yield text, None
    # A display is given steps in which it stands still: half of one is no less than half of its noise.
    display = max(one.step, min(one.noise_units, _COARSE))
    if (off := error_at_most(one, capture)) > max(0.5 * display, _WELL_KNOWN):
        further = heavier(one, loads, heavy, is_weight=capture.quantity == "weight")
        tells = "; a heavier one would tell" if further is not None else ""
        yield f"The factor may be off by {off:.2g} {unit} on a heavy load{tells}.", further


def error_at_most(one: Fit, capture: Capture) -> float:
    """Give how far off a reading of a heavy load may be for want of a better factor, g or °C."""
    heavy = max(max(abs(load.value) for load in capture.loads), HEAVY[capture.quantity])
    return abs(one.slope_error / one.slope) * heavy


def is_odd_beside_round(one: Fit, capture: Capture) -> bool:
    """Say whether a factor of its own fits clearly better than halves, fifths and such, which few count in.

    What is as unusual as quarters must fit about as well, and so must hundred thousandths of a pound.

    Tenths, hundredths and thousandths of a gram are so common that an instrument is rather a little out of
    calibration, and so is one that counts in ounces.
    """
    scale = one.scale
    if scale is None or one.zero_kind not in KNOWN_ZEROS:
        return False
    if scale.unit != "g" and scale.cost < _UNUSUAL:
        return False
    if one.number.encoding not in ("integer", "bcd") or is_power_of_ten(one.per_unit):
        return False
    off = abs(one.slope / one.per_unit - 1.0)
    heavy = max(max(abs(load.value) for load in capture.loads), HEAVY[capture.quantity])
    clearly = _CLEARLY if scale.cost < _UNUSUAL else _HARDLY
    return off > clearly * abs(one.slope_error / one.slope) and off * heavy > max(0.5 * one.step, _SEEN)


def from_round(value: float) -> float:
    """Give by what share of itself a factor is off a power of ten."""
    return abs(abs(value) / 10.0 ** round(math.log10(abs(value))) - 1.0)


def may_be_off_by(one: Fit) -> float:
    """Give by what share of itself a factor may be off a round one and be that one."""
    return max(_AGREES * abs(one.slope_error / one.slope), NEARLY_ROUND)


def is_check_of_round(one: Fit) -> bool:
    """Say whether a number falls as the load grows, by a tenth of a gram or of an ounce and such for a step.

    A check that makes a sum nought falls by one for each step of the number that it guards.
    """
    if one.slope >= 0.0:
        return False
    return min(from_round(one.slope), from_round(one.slope * OUNCE_G)) < may_be_off_by(one)


def is_seen_between(one: Fit) -> bool:
    """Say whether a number has ever been clearly between two loads, or ends otherwise at each.

    Upper bytes alone that go up by one from load to load are those of a counter.
    """
    if one.number.encoding == "integer" and np.ptp(np.round(one.levels) % 256.0) > 0.0:
        return True
    if one.number.encoding == "ascii" and one.span > _MANY_STEPS * one.step:
        return True
    values, span = one.number.values(one.kind.frames), float(np.ptp(one.levels))
    with np.errstate(invalid="ignore"):
        between = (values > one.levels.min()) & (values < one.levels.max())
        for level in one.levels:
            between &= np.abs(values - level) > _BETWEEN * span
    return bool(between.any())


def is_power_of_ten(value: float) -> bool:
    """Say whether a factor is 1, 10, 0.1 ... as closely as loads can tell."""
    if value <= 0:
        return False
    exponent = np.log10(value)
    return bool(abs(exponent - round(exponent)) < 0.0006)
