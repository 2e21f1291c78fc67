"""Which edges of a reading stay what they are, however many readings come after."""

from __future__ import annotations

from logger.curve.brew import Pour
from logger.curve.pours.certainty import LEVEL_SD_G, Sure
from logger.curve.pours.finding import Rise
from logger.curve.pours.seen_around import end_tells_until_s, start_tells_until_s
from logger.curve.pours.settled import Settled
from logger.curve.pours.water_curve import Curve
from logger.curve.water import Read

SURE_S, SURE_G = 1.2, 0.5
"""An end and a weight whose ranges are narrower gain nothing by being read again."""


def edges_seen_whole(read: Read, until_s: float) -> Settled:
    """Keep the edges that were fitted, and weighed where they are water's, with all readings that help.

    :param until_s: what was read up to then, a later reading finds as it is
    """
    starts, ends, ones = {}, {}, {}
    weighed = {id(rise): edges for rise, edges in zip(read.rises, read.edges, strict=True)}
    for rise in read.fitted:
        sure = weighed.get(id(rise))
        if sure and max(sure.start.level_sd_g, sure.end.level_sd_g) >= LEVEL_SD_G:
            continue
        begins, ceases = rise.seen
        if _start_shows_until_s(read.curve, rise) <= until_s:
            starts[begins] = rise.start
        if end_tells_until_s(read.curve, rise) <= until_s:
            ends[ceases] = rise.end
        if begins in starts and ceases in ends:
            ones[begins] = ceases
    whole = {*starts.values(), *ends.values()}
    known = {
        edge: each
        for rise, sure in zip(read.rises, read.edges, strict=True)
        for edge, each in ((rise.start, sure.start), (rise.end, sure.end))
        if edge in whole
    }
    return Settled(read.curve.response, starts, ends, known, ones)


def _start_shows_until_s(curve: Curve, rise: Rise) -> float:
    """Until when readings tell of a start; of one whose pour is shorter than that its end tells, too."""
    until_s = start_tells_until_s(curve, rise)
    is_long = until_s < 0.5 * (rise.start.time_s + rise.end.time_s)
    return until_s if is_long else end_tells_until_s(curve, rise)


def is_sure(pour: Pour, edges: Sure) -> bool:
    """Whether what comes after a pour would tell no more of it; after a thin one drops fall for long."""
    if edges.thin or pour.end_between_s is None or pour.poured_between_g is None:
        return False
    (low_s, high_s), (low_g, high_g) = pour.end_between_s, pour.poured_between_g
    return high_s - low_s < SURE_S and high_g - low_g < SURE_G
