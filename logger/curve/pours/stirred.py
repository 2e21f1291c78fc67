"""Who stirs has put the kettle down: a pour does not end in the stirring after it, but as that begins.

No reading of a stirred brew tells an end, and what is drawn through it ends the pour anywhere in there. But
the hand that stirs is the one that poured. Only where so much water came within the stirring that it must
have run on for seconds did two hands do both.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from logger.curve.brew import Event
from logger.curve.edges.choice import Known

FROM_S, UNTIL_S = 0.5, 2.5
"""Stirring is seen to begin half a second before it does, as the bend of a pour's end is taken for its first
turn. An end that is read later than the other after that was no end before the stirring."""


def stirred_end(end: Known, stirs: Iterable[Event]) -> Known:
    """Take an end that was read within stirring back to where that begins; its range reaches to both.

    :param stirs: events of that kind
    """
    for stir in stirs:
        ended_s = stir.start_s + FROM_S
        if ended_s < end.time_s < min(stir.end_s, stir.start_s + UNTIL_S):
            sooner_s = end.time_s - ended_s
            share = end.share and end.share.sooner(sooner_s)
            return replace(end, time_s=ended_s, low_s=min(end.low_s, stir.start_s), share=share)
    return end
