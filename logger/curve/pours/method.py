"""Which kind of brew a curve shows, from its pours and from what is done after the last of them."""

from __future__ import annotations

from typing import Protocol

from logger.curve.brew import Event, Method, Pour

ESPRESSO_FLOW_G_S = 3.6
ESPRESSO_TOTAL_G, LUNGO_G = 90.0, 130.0
"""So little is an espresso's; so little of one stream alone, as no hand fills a brewer as thinly as that."""


class Expectation(Protocol):
    """What of a target the live analysis can make use of."""

    @property
    def method(self) -> Method:
        """The kind of brew."""

    @property
    def total_g(self) -> float:
        """Water in all."""


def find_method(pours: tuple[Pour, ...], events: tuple[Event, ...]) -> Method:
    """Tell espresso, immersion and pour-over apart.

    Espresso arrives slowly and there is little of it. An immersion has its water in one or two pours, most
    of it in one, and stays, under a lid or until it is pressed; a pour-over has several, or a bloom and one
    long pour, and stands open (common practice).
    """
    main = max(pours, key=lambda pour: pour.poured_g)
    total = pours[-1].to_g if len(pours) > 1 else main.poured_g
    if flows_like_espresso(total, main.poured_g, main.mean_flow_g_s):
        return "espresso"
    if len(pours) <= 2 and _is_closed(pours[-1], events):
        return "immersion"
    if len(pours) == 1 or (len(pours) == 2 and main.poured_g > 0.65 * total and main.mean_flow_g_s > 7.0):
        return "immersion"
    return "pour-over"


def flows_like_espresso(total_g: float, main_g: float, flow_g_s: float) -> bool:
    """Whether it comes from a machine: little in all, most of it in one thin stream.

    :param main_g: what the largest pour brought, ``flow_g_s`` its mean flow
    """
    most_g = ESPRESSO_TOTAL_G if main_g < total_g else LUNGO_G
    return total_g < most_g and flow_g_s < ESPRESSO_FLOW_G_S and main_g > 0.8 * total_g


def _is_closed(last: Pour, events: tuple[Event, ...]) -> bool:
    """Whether a lid was laid on after the last water, or a plunger pressed, before anything was lifted."""
    after = [event.kind for event in events if event.start_s >= last.end_s]
    lifted = after.index("vessel-off") if "vessel-off" in after else len(after)
    return "vessel-on" in after[:lifted] or "press" in after
