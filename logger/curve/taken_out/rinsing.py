"""Water that rinses the filter and warms the vessel: it is thrown away before the brew, and is none of it."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import takewhile

from logger.curve.brew import Event
from logger.curve.taken_out.carried_away import is_step

EMPTIED_WITHIN_S = 60.0
PAPER_KEEPS_G, PAPER_KEEPS = 8.0, 0.15
"""What stays in the paper and on the walls, in g or as a share: it comes back with the vessel."""
MOST_OF_IT, STEP_UNSURE = 0.6, 0.06
"""So much is emptied of no brew. Where the tare key is pressed then, that is enough: on a slow scale the
rinse runs into a vessel's step or the key cuts one short, and its weight is known to that share alone."""


def is_rinse(end_s: float, gained_g: float, later_s: Iterable[float], events: Iterable[Event]) -> bool:
    """Whether what was poured in leaves with its vessel, which comes back lighter by it, and a brew follows.

    :param end_s: until when it arrived
    :param gained_g: how much it was
    :param later_s: when else begins to arrive what came after it, in order of time
    :param events: in order of time
    """
    after = [event for event in events if is_step(event) and event.start_s > end_s - 1.0]
    brew_s = (each_s for each_s in later_s if not any(_takes(event, each_s) for event in after))
    until_s = next(brew_s, end_s)
    moved = list(takewhile(lambda event: event.kind != "tare" and event.start_s < until_s, after))
    if len(moved) < 2 or (moved[0].kind, moved[-1].kind) != ("vessel-off", "vessel-on"):
        return False
    thrown_g = -sum(event.change_g for event in moved)
    kept_g = max(PAPER_KEEPS_G, PAPER_KEEPS * gained_g)
    soon = moved[0].start_s - end_s < EMPTIED_WITHIN_S
    if any(event.kind == "tare" for event in after[len(moved) : len(moved) + 1]):
        most_g = gained_g + max(kept_g, STEP_UNSURE * -moved[0].change_g)
        return soon and max(gained_g * MOST_OF_IT, kept_g) < thrown_g < most_g
    return soon and abs(thrown_g - gained_g) < kept_g < thrown_g


def _takes(step: Event, rises_s: float) -> bool:
    """Whether what begins to rise is a hand's that takes the vessel."""
    return step.start_s - 1.0 < rises_s < step.end_s
