"""How wide a pour's ranges are: what the readings leave possible of its edges, and what no reading shows."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from logger.curve.brew import Floats
from logger.curve.edges.believed import TIPS_S
from logger.curve.edges.choice import Known
from logger.curve.edges.edge import Edge
from logger.curve.edges.fading import ENDS_AT_G_S
from logger.curve.edges.tipping import SOFTEST_S

LATE_S = 0.02
"""A reading arrives after it was taken, by that at least (serial lines, radio): a time may
be so much earlier than it seems."""

FALL_SD_S = 0.045
"""A stream falls for nothing (a spout in the water) to 0.2 s (20 cm), and presses with its flow times that.
The fit takes 0.1 s. No reading tells it: one that falls 0.05 s longer is shown like one that ends 0.05 s
sooner, to 0.03 g at 6 g/s on a scale that lags by 0.1 s."""
SHOWN_LAG_SD_S = 0.02
"""Standard deviation of a lag that a vessel's step showed (see ``response``)."""
UNKNOWN_LAG_S, THIN_UNKNOWN_LAG_S = 0.1, 0.25
"""That of a time where nothing told the scale's lag; of an espresso, which fades as if through a lag, where
it has only just ended and may be a hand's, so that the usual one is assumed (0.15 to 0.8 s)."""


LEAST_FLOW_G_S = 0.5
"""Hardly a stream flows more thinly."""
HOLE_S, HOLE_TELLS_S = 0.7, 1.5
"""So long without a reading is no pace at which a scale sends; and how well the flow beside such a hole and
the levels on both sides tell an edge within it."""


@dataclass(frozen=True, slots=True)
class Width:
    """How wide the range of a time is.

    :param early: how much counts of what the readings leave possible before it
    :param late: and after it
    :param moves: by how much the time moves for each second of lag or of fall that is not known
    :param filters: standard deviation of what another filter than equal stages does, as a share of the lag
    :param unseen_s: standard deviation of what no reading shows on the quietest scale
    :param unseen_g: the same as water on the pan: the thinner the stream, the longer it takes for that
    :param coarse: how much counts of what the display rounds off, water as well
    :param misfits: how much counts of what the edge that fits best leaves of the readings, water as well
    :param fits_early: how much counts of by how much the edge that fits best lies earlier
    :param fits_late: and later
    :param later_s: like ``unseen_s``, of what may only be later
    :param slow: the same, as a share of what its ramp lasts longer than a hand tips
    :param fades: like ``unseen_s``, as a share of the time constant of what fades: what came after an end,
        over 0.1 g/s
    :param breaks_off: like ``unseen_s``, as a share of the ramp, of what may only be earlier
    """

    early: float
    late: float
    moves: float
    filters: float
    unseen_s: float = 0.0
    unseen_g: float = 0.0
    coarse: float = 0.0
    misfits: float = 0.0
    fits_early: float = 0.0
    fits_late: float = 0.0
    later_s: float = 0.0
    slow: float = 0.0
    fades: float = 0.0
    breaks_off: float = 0.0


STARTS = Width(0.46, 0.6, 0.6, 0.065, unseen_g=0.093, coarse=0.93, misfits=3.0, fits_late=0.93, slow=0.14)
"""A start is where the display leaves a level, and the lag moves it by 0.9 times itself at the most, by two
thirds as a rule. A scale creeps by 0.1 g, and a hand's first water is drops, thread and splash: some 0.1 g in
all come as no ramp has it, which is 0.01 s of a wide stream and 0.05 s of a thin one. What a
coarse display rounds off of the level that it leaves, and of the stream's, is not known either. What even the
start that fits best leaves of its readings tells how far they go their own way together, as those of a coarse
step do, or of a hand that falters: more readings do not average that out, and no ramp says how far it moves a
start. That one believes all its readings alike, the weighed one those before it more: where it lies later, as
after a level that creeps, the range reaches from one to the other; earlier ones are as likely as the readings
have them. And what seems to take longer than a hand that tips was drawn out by noise, by drops or by such a
level: the stream itself is later."""
ENDS = Width(
    0.66, 0.75, 1.4, 0.07, unseen_g=0.15, fits_early=0.5, fits_late=0.5, later_s=0.25, breaks_off=0.19
)
"""An end is where a bend settles: a lag taken too long makes its ramp shorter as well, and its time moves by
1.4 times as much in the median, by 3 times at the most. A thread of some tenths of a gram a second that runs
off the lip for half a second is less than a display shows: an end may be later by that, never earlier.
Earlier it may be where the flow fell slowly: near its end a thin stream breaks off, or falls faster than it
did before, and the longer its ramp, the longer that is. The one that fits best knows of no fade, and the
range reaches half-way to it."""
THIN_STARTS = Width(0.75, 0.75, 1.0, 0.05, unseen_s=0.06)
THIN_ENDS = Width(1.0, 1.0, 2.0, 0.05, unseen_s=0.08, later_s=0.2, fades=0.2)
"""An espresso's: the allowance for how it builds up is generous, and it stops in more ways than by two fades.
Where these fall below 0.1 g/s is known to a share of their time constant. A lag that is taken too long makes
its fade as much shorter, and the end comes after two or three time constants. A film on basket and spout
drains after it, slower than what fades and too thin to be told from single drops: as long as it brings 0.1
g/s the end is later than it seems, and never earlier."""

DROPS_G, AFTER = 0.03, 1.5
"""A spout's last drop, of 0.03 to 0.1 g, falls unseen: what was poured until the end may be less by that,
never more. What was seen to come after it may have been half as much again."""
LEVELS, WALKS = 0.5, 0.8
"""How much counts of what the readings leave open of the levels on both sides, and of what the scale may have
walked meanwhile (see ``drying``): in the seconds beside an edge a walk makes the readings restless as well,
and would count twice."""
NINETY = 1.645
"""Standard deviations to either side that hold nine tenths of a normal distribution."""

COARSE = math.sqrt(2.0 / 12.0)
"""Standard deviation of the difference of two levels on a quiet display, in its steps: each is rounded, and
what that hides is not averaged out (GUM, JCGM 100:2008, F.2.2.1)."""


def coarse_sd_g(step_g: float, noise_g: float) -> float:
    """How much of the difference of two levels the display's rounding hides, standard deviation.

    A restless display is no coarse one: noise carries a level over the roundings to either side, and the mean
    of many tells where between them it is. What is left of the rounding's saw-tooth, smoothed by normal noise
    of ``s``, is its first wave, less by ``exp(-2 pi^2 s^2 / step^2)``.

    :param step_g: of the display; 0 where it has none
    :param noise_g: standard deviation of one reading, its rounding included
    """
    if step_g <= 0.0:
        return 0.0
    carried2 = max((noise_g / step_g) ** 2 - 1.0 / 12.0, 0.0)
    return COARSE * step_g * math.exp(-2.0 * math.pi**2 * carried2)


@dataclass(frozen=True, slots=True)
class Late:
    """By how much the display is late: the scale's lag less the stream's press.

    :param delay_s: the lag
    :param sd_s: how well all of it is known, if the scale's filter is equal stages
    """

    delay_s: float
    sd_s: float

    @classmethod
    def of(cls, delay_s: float, lag_sd_s: float | None, *, thin: bool) -> Late:
        """Say how well it is known.

        :param lag_sd_s: how well the lag is known where the edges told it, 0 where a step showed it; None
            where nothing did
        :param thin: of an espresso's edges
        """
        if lag_sd_s is None:
            lag_sd_s = THIN_UNKNOWN_LAG_S if thin else UNKNOWN_LAG_S
        return cls(delay_s, math.hypot(lag_sd_s, SHOWN_LAG_SD_S, 0.0 if thin else FALL_SD_S))


def between_times(
    known: Known, time_s: float, width: Width, late: Late, fitted: Edge, rounded_g: float = 0.0
) -> tuple[float, float]:
    """Widen an interval by what else is not known.

    :param known: between which times the readings leave the edge
    :param time_s: of the edge, as it is told
    :param fitted: the edge that fits best
    :param rounded_g: how much the display's rounding hides of the levels beside it, standard deviation
    """
    fades_s = known.after_g / ENDS_AT_G_S
    # One that was put where a stretch ends, as too few readings were left to fit any, says nothing of those.
    misfit_g = math.sqrt(fitted.misfit_g2) if math.isfinite(fitted.misfit_g2) else 0.0
    unseen_g = math.hypot(width.unseen_g, width.coarse * rounded_g, width.misfits * misfit_g)
    unseen_s = math.hypot(width.unseen_s, unseen_g / max(fitted.flow_g_s, LEAST_FLOW_G_S))
    late_s = math.hypot(width.moves * late.sd_s, width.filters * late.delay_s)
    else_s = NINETY * math.hypot(unseen_s, late_s, width.fades * fades_s)
    sooner_s = NINETY * width.breaks_off * min(fitted.ramp_s, SOFTEST_S)
    later_s = NINETY * math.hypot(width.later_s, width.slow * max(fitted.ramp_s - TIPS_S, 0.0))
    fits_sooner_s = width.fits_early * max(time_s - fitted.time_s, 0.0)
    fits_later_s = width.fits_late * max(fitted.time_s - time_s, 0.0)
    below_s = math.hypot(width.early * (time_s - known.low_s), else_s, sooner_s, fits_sooner_s)
    above_s = math.hypot(width.late * (known.high_s - time_s), else_s, later_s, fits_later_s)
    return time_s - below_s - LATE_S, time_s + above_s


def in_hole(known: Known, measured_s: Floats) -> Known:
    """Let an edge of which a knock, stirring or a gap left no reading be anywhere in there, not far away.

    :param measured_s: when the readings were taken that are left, shape (n,)
    """
    after = int(measured_s.searchsorted(known.time_s))
    if not 0 < after < measured_s.size or measured_s[after] - measured_s[after - 1] < HOLE_S:
        return known
    low_s = max(float(measured_s[after - 1]), known.time_s - HOLE_TELLS_S)
    high_s = min(float(measured_s[after]), known.time_s + HOLE_TELLS_S)
    return replace(known, low_s=min(known.low_s, low_s), high_s=max(known.high_s, high_s))


def between_grams(gained_g: float, sd_g: float, after_g: float, *, thin: bool) -> tuple[float, float]:
    """Say between which weights a pour lies, nine times in ten.

    :param gained_g: the level after it less the level before
    :param sd_g: standard deviation of that
    :param after_g: how much of it may have come when the flow was below 0.1 g/s: it rests there with the rest
    :param thin: whether it is an espresso's
    """
    off_g, fewer_g = NINETY * sd_g, AFTER * after_g + (0.0 if thin else DROPS_G)
    return max(gained_g - off_g - fewer_g, 0.0), gained_g + off_g
