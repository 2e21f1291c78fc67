"""One line for what has become known while a brew runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.show.words.wording import clock, event_words

if TYPE_CHECKING:
    from logger.curve import Change


def change_words(change: Change, start_s: float | None) -> str:
    """One line for what has become known; empty for what is not worth one.

    :param start_s: the first water, from which the clock counts; None before
    """
    event, pour = change.event, change.pour
    if change.kind == "pour-ended" and pour is not None:
        lasted_s = pour.end_s - pour.start_s
        return (
            f"{_at(pour.start_s, start_s)}  poured {pour.poured_g:.1f} g in {lasted_s:.1f} s, "
            f"{pour.to_g:.1f} g in all"
        )
    if change.kind == "pour-withdrawn" and pour is not None:
        return f"{_at(pour.start_s, start_s)}  those {pour.poured_g:.1f} g were no water after all"
    if change.kind == "event" and event is not None and event.kind not in ("knock", "stir"):
        return f"{_at(event.start_s, start_s)}  {event_words(event.kind)}"
    return ""


def _at(time_s: float, start_s: float | None) -> str:
    """When, on the brew's clock; nothing while that has not begun."""
    return f"{'' if start_s is None else clock(time_s - start_s):>6}"
