"""What the bed did, from a recording's second scale; and how that changes from practice to practice."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from drivers.reading import GRAM
from logger.compare.comparison import Brew
from logger.curve import Analysis, Arrangement, Bed, Drawdown, analyse, drawdown_by_one_scale, read_bed
from logger.curve.bed.resistance import untold
from logger.target import served_s

if TYPE_CHECKING:
    from logger.recording import Recording

SERVERS = ("server", "cup")
"""Channels that weigh what comes out of the bed."""

DRIPPER = "dripper"
"""The channel of a scale that carries the dripper alone."""

DRY_MARK, SERVED_MARK = "dry", "served"

SURELY = 2.0
"""In standard deviations: a smaller change of tau may be the fits' own."""

KnownResponse = Callable[["Recording", str], float | None]


@dataclass(frozen=True, slots=True)
class TwoScales:
    """The two channels that tell what a bed did.

    :param arrangement: what their names say of it, None where the curves must
    """

    first: str
    second: str
    arrangement: Arrangement | None


@dataclass(frozen=True, slots=True)
class BedChange:
    """The bed's resistance from practice to practice.

    :param brews: those whose drawdown tells tau, in order
    :param taus_s: theirs
    :param change_s: from the first to the last
    :param change_sd_s: its standard deviation
    """

    brews: tuple[Brew, ...]
    taus_s: tuple[float, ...]
    change_s: float
    change_sd_s: float

    @property
    def is_sure(self) -> bool:
        """Whether the change is more than the fits are unsure of."""
        return abs(self.change_s) > SURELY * self.change_sd_s


def two_scales(recording: Recording) -> TwoScales | None:
    """Find the two channels by their names; None where there is one scale alone."""
    weights, pan = recording.channels(GRAM), recording.weight_channel
    server = next((name for name in SERVERS if name in weights), None)
    if server and DRIPPER in weights and "scale" not in weights:
        return TwoScales(DRIPPER, server, "dripper-server")
    if server and pan == server:
        pan = next((name for name in weights if name not in SERVERS), None)
    if pan is None or pan == DRIPPER:
        return None
    if server:
        return TwoScales(pan, server, None)
    return TwoScales(pan, DRIPPER, "everything-dripper") if DRIPPER in weights else None


def bed_of(
    recording: Recording, scales: TwoScales | None, analysis: Analysis, response: KnownResponse
) -> Bed | None:
    """Read the bed of a brew; None without a second scale, or where there is no bed that drips.

    :param response: a scale's response time, where it is known
    """
    if scales is None or analysis.start_s is None or analysis.method == "espresso":
        return None
    try:
        return read_bed(
            recording.sampled(scales.first),
            recording.sampled(scales.second),
            arrangement=scales.arrangement,
            dose_g=recording.meta.dose_g,
            dry_s=recording.meta.marks.get(DRY_MARK),
            response_s=(response(recording, scales.first), response(recording, scales.second)),
        )
    except ValueError as error:
        return untold(f"channel {scales.second} cannot be analysed: {error}")


def of_all_water(analysis: Analysis, bed: Bed | None) -> Analysis:
    """Give the analysis of the water itself, where the scale that was read carries the dripper alone.

    That scale shows water less beverage; the two together show what was poured.
    """
    if bed is None or bed.why or bed.arrangement != "dripper-server":
        return analysis
    water = analyse(bed.time_s, bed.water_g, method=analysis.method, response_s=0.0)
    return replace(water, events=analysis.events, step_g=bed.step_g, response_s=analysis.response_s)


def drawdown_of(recording: Recording, analysis: Analysis, bed: Bed | None) -> Drawdown | None:
    """Say when the bed ran dry: by its own flow where a second scale saw it, else by lift or mark."""
    if bed is not None and bed.drawdown is not None:
        return bed.drawdown
    marks = recording.meta.marks
    return drawdown_by_one_scale(analysis, marks.get(DRY_MARK), marks.get(SERVED_MARK))


def end_marks(recording: Recording, analysis: Analysis, drawdown: Drawdown | None) -> Mapping[str, float]:
    """Give the brewer's marks, and where neither mark nor lift says how the brew ended, the bed run dry."""
    marks = recording.meta.marks
    if drawdown is None or drawdown.dry_s is None or drawdown.by != "flow":
        return marks
    if DRY_MARK in marks or SERVED_MARK in marks or served_s(analysis) is not None:
        return marks
    return {**marks, DRY_MARK: drawdown.dry_s}


def bed_change(brews: Sequence[Brew]) -> BedChange | None:
    """Compare the resistance of beds from the first practice to the last; None below two that tell it.

    :param brews: of one target, in the order in which they are to be compared
    """
    tails = [
        (brew, brew.bed.drawdown.tail)
        for brew in brews
        if brew.bed is not None and brew.bed.drawdown is not None and brew.bed.drawdown.tail is not None
    ]
    if len(tails) < 2:
        return None
    first, last = tails[0][1], tails[-1][1]
    return BedChange(
        tuple(brew for brew, _ in tails),
        tuple(tail.tau_s for _, tail in tails),
        last.tau_s - first.tau_s,
        math.hypot(first.tau_sd_s, last.tau_sd_s),
    )
