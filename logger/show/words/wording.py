"""Numbers, times and findings in the words that every screen and page shows them in."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime, tzinfo

    from logger.compare import Deviation, Quantity, StageResult
    from logger.curve import EventKind, Method

NOT_MEASURED = "not measured"
NBSP = "\u00a0"
LEAST_VAGUE = 9.95
"""What is off by as much needs no tenths."""
LOPSIDED = 3.0
"""What may be so many times as far off to one side is not as far off to both."""

_UNITS: dict[Quantity, str] = {
    "start_s": "s",
    "end_s": "s",
    "first_drip_s": "s",
    "to_g": "g",
    "poured_g": "g",
    "total_g": "g",
    "flow_g_s": "g/s",
    "water_c": "°C",
    "drawdown_s": "s",
    "resistance_s": "s",
    "strength_percent": "%",
}
_NAMES: dict[Quantity, str] = {
    "start_s": "start",
    "end_s": "end",
    "first_drip_s": "first drip",
    "to_g": "weight",
    "poured_g": "poured",
    "total_g": "in all",
    "flow_g_s": "flow",
    "water_c": "water",
    "drawdown_s": "drawdown",
    "resistance_s": "bed's resistance",
    "strength_percent": "strength",
}
_MORE_OR_LESS = {
    "s": ("late", "early"),
    "g": ("heavy", "light"),
    "g/s": ("fast", "slow"),
    "°C": ("hot", "cool"),
    "%": ("strong", "weak"),
}
_EVENTS: dict[EventKind, str] = {
    "tare": "tare",
    "vessel-on": "vessel on",
    "vessel-off": "vessel off",
    "dose": "dose",
    "knock": "knock",
    "stir": "stir",
    "gap": "gap in the data",
    "press": "press",
    "drift": "drift",
    "unit": "unit switched",
}


def clock(seconds: float, decimals: int = 0) -> str:
    """Write a time as minutes and seconds, ``2:05`` or ``0:46.3``; from one hour on, ``1:02:05``."""
    if not math.isfinite(seconds):
        return NOT_MEASURED
    whole = round(abs(seconds) * 10**decimals)
    minutes, rest = divmod(whole, 60 * 10**decimals)
    sign = "-" if seconds < 0 and whole else ""
    width = 3 + decimals if decimals else 2
    tail = f"{rest / 10**decimals:0{width}.{decimals}f}"
    if minutes >= 60:
        return f"{sign}{minutes // 60}:{minutes % 60:02d}:{tail}"
    return f"{sign}{minutes}:{tail}"


def short_clock(seconds: float) -> str:
    """Write a time without the tenths where they are nought."""
    is_whole = math.isfinite(seconds) and abs(seconds - round(seconds)) < 0.05
    return clock(seconds, 0 if is_whole else 1)


def amount(value: float, unit: str, decimals: int = 1) -> str:
    """Write a number with its unit, or that it was not measured."""
    if not math.isfinite(value):
        return NOT_MEASURED
    rounded = round(value, decimals) + 0.0  # + 0.0: no "-0.0"
    return f"{rounded:.{decimals}f}{NBSP}{unit}"


def grams(value: float) -> str:
    """Write a weight."""
    return amount(value, "g")


def give_or_take(value: str, between: tuple[float, float] | None, was: float) -> str:
    """Write beside a value how far it may be off, the farther of both ways: ``0:46.3 ±0.2``.

    What may be far lower and hardly higher, as an espresso's first drip, says both: ``0:05.2 −2.3 +0.2``.
    The space is one at which a narrow cell may break.
    """
    if between is None:
        return value
    lower, higher = was - between[0], max(between[1] - was, 0.1)
    if lower >= max(LOPSIDED * higher, 1.0):
        return f"{value} −{_off(lower)} +{_off(higher)}"
    return f"{value} ±{_off(max(lower, higher))}"


def _off(off: float) -> str:
    return f"{off:.1f}" if off < LEAST_VAGUE else f"{off:.0f}"


def unit_of(quantity: Quantity) -> str:
    """Name the unit of a quantity."""
    return _UNITS[quantity]


def quantity_words(quantity: Quantity, method: Method | None = None) -> str:
    """Name a quantity; what arrives in all is for espresso the yield."""
    if quantity == "total_g" and method == "espresso":
        return "yield"
    return _NAMES[quantity]


def value_words(quantity: Quantity, value: float) -> str:
    """Write a value of a quantity: a time on the clock, anything else with its unit."""
    unit = unit_of(quantity)
    return short_clock(value) if unit == "s" else amount(value, unit)


def wanted_words(deviation: Deviation) -> str:
    """Write what was wanted and how far off still counts as inside; of a window, its edges."""
    if deviation.window is not None:
        return "–".join(value_words(deviation.quantity, edge) for edge in deviation.window)
    value = value_words(deviation.quantity, deviation.wanted)
    if not deviation.tolerance > 0:
        return value
    return f"{value} ±{deviation.tolerance:.3g}"


def difference_words(deviation: Deviation) -> str:
    """Write a difference as a brewer would say it: ``4.2 g heavy``, ``1.3 s late``."""
    difference = deviation.difference
    if not math.isfinite(difference):
        return ""
    unit = unit_of(deviation.quantity)
    decimals = 1
    if is_outside(deviation.inside) and round(abs(difference), 1) <= round(deviation.tolerance, 1):
        decimals = 2  # "3.0 g heavy, outside" of a 3 g tolerance would look like a mistake
    if round(difference, decimals) == 0:
        return "as wanted"
    more, less = _MORE_OR_LESS[unit]
    return f"{amount(abs(difference), unit, decimals)} {more if difference > 0 else less}"


def is_outside(inside: bool | None) -> bool:
    """Say whether a figure is outside for certain; numpy's truth values, which are no ``bool``, pass too."""
    return inside is not None and not inside


def inside_words(inside: bool | None) -> str:
    """Say whether a figure is inside its tolerance."""
    return {True: "inside", False: "outside", None: "cannot be told"}[inside]


def inside_mark(inside: bool | None, plain: bool = False) -> str:
    """Give the mark that stands before those words; ``plain`` keeps to ASCII."""
    if plain:
        return {True: "=", False: "!", None: "?"}[inside]
    return {True: "✓", False: "✗", None: "?"}[inside]


def marked(inside: bool | None, plain: bool = False) -> str:
    """Give mark and words together."""
    return f"{inside_mark(inside, plain)}{NBSP}{inside_words(inside)}"


def finding_words(result: StageResult) -> str:
    """Say how a stage was found in the curve, or nothing where one pour matched it."""
    if result.finding == "missing":
        return "no pour found"
    if result.finding == "unseen":
        return "the readings end before it"
    if result.finding == "merged":
        return "ran together with another pour"
    if result.finding == "split":
        return f"{len(result.pours)} pours where one was planned"
    return ""


def event_words(kind: EventKind) -> str:
    """Name an event."""
    return _EVENTS[kind]


def sentence(text: str) -> str:
    """Begin with a capital what may begin with a stage's name."""
    return text[:1].upper() + text[1:]


def brews(count: int) -> str:
    """Count brews."""
    return "1 brew" if count == 1 else f"{count} brews"


def when(moment: datetime | None, zone: tzinfo | None = None) -> str:
    """Write the start of a recording on the reader's clock.

    :param zone: the time zone to show it in; None for this machine's
    """
    if moment is None:
        return "start not known"
    local = moment.astimezone(zone)
    return f"{local.day} {local:%B %Y, %H:%M}"


def shortened(text: str, length: int) -> str:
    """Cut a text to a length, with an ellipsis where something is missing."""
    text = " ".join(text.split())
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"
