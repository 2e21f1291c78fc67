"""What is seen of a cause, and what to do about it, in words that a brewer can act on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drivers.clock import clock_text
from logger.compare.practice.causes import Causes
from logger.compare.practice.chance import finite
from logger.compare.practice.estimates import (
    Estimate,
)
from logger.compare.practice.intervals import mean_estimate, sd_estimate
from logger.compare.practice.results import (
    Part,
)
from logger.compare.practice.table import INSIDE, OUTSIDE, WHOLE, Column, Table

# Verb, too much, too little, the noun that varies.
_SAYS = {
    "start_s": ("starts", "late", "early", "its start"),
    "end_s": ("ends", "late", "early", "its end"),
    "to_g": ("ends", "heavy", "light", "its weight"),
    "flow_g_s": ("runs", "too fast", "too slow", "its flow"),
    "water_c": ("has water", "too hot", "too cool", "its water"),
    "total_g": ("comes to", "too much", "too little", "its total"),
    "first_drip_s": ("drips first", "late", "early", "its first drip"),
    "strength_percent": ("is", "too strong", "too weak", "its strength"),
}

GRIND = (
    "A finer grind slows the water, a coarser one speeds it up (common practice); very fine grinds can clog "
    "and do the opposite (Cameron et al., Matter 2, 2020)."
)
EVEN_BED = (
    "The same dose and grind, a level bed and the same stirring keep the bed's resistance even; fines and "
    "channels do not (common practice)."
)
KETTLE = "A kettle off its base cools all the time: pour at the same moment after heating (common practice)."
RHYTHM = "Watch the clock before the pour, the scale during it (common practice)."

_GOES_OVER = 0.3
"""A figure of which such a share goes over into another, in their own units, is followed by it."""

_INHERITED = 0.3
"""From this share of its own on, what a figure takes over from before is worth a word."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known of one cause.

    :param name: whose it is: the stage's name, ``the brew`` or ``the shot``
    :param inherited: how far it is off on average because of what came before it
    :param sd: of its own rest, uncorrected
    :param capable: the standard deviation with which it would be capable
    :param n_told: brews for which inside or outside can be told; of these ``n_over`` above, ``n_under`` below
    :param n_following: brews in which it, or what follows from it, is outside
    :param flow_g_s: at its end; NaN where not known
    """

    column: Column
    name: str
    own_mean: Estimate
    own_sd: Estimate
    sd: float
    inherited: float
    capable: float
    n_told: int
    n_over: int
    n_under: int
    n_following: int
    flow_g_s: float

    @classmethod
    def of(cls, table: Table, columns: Sequence[Column], causes: Causes, number: int, capable: float) -> Seen:
        """Gather it.

        :param columns: of the causes
        :param number: its place among them
        """
        column = columns[number]
        following = [
            columns[int(place)] for place in np.flatnonzero(np.abs(causes.total[:, number]) > _GOES_OVER)
        ]
        own, own_mean = causes.own[:, number], float(causes.own_mean[number])
        at = table.columns.index(column)
        values, inside = table.values[:, at], table.inside[:, at]
        outside = inside == OUTSIDE
        off = float(np.nanmean(values)) - column.wanted
        return cls(
            column=column,
            name=column.name or ("the shot" if table.target.shot else "the brew"),
            own_mean=mean_estimate(own + own_mean, column.unit),
            own_sd=sd_estimate(own, column.unit),
            sd=float(causes.own_sd[number]),
            inherited=off - own_mean if np.isfinite(off) else 0.0,
            capable=capable,
            n_told=int((outside | (inside == INSIDE)).sum()),
            n_over=int((outside & (values > column.wanted)).sum()),
            n_under=int((outside & (values < column.wanted)).sum()),
            n_following=_outside_in_any(table, following),
            flow_g_s=_flow_at_end(table, column),
        )

    @property
    def is_over(self) -> bool:
        """Whether its own mean is above what is wanted."""
        return self.own_mean.value > 0

    @property
    def off(self) -> float:
        """How far its own mean is off."""
        return abs(self.own_mean.value)


def _outside_in_any(table: Table, columns: Sequence[Column]) -> int:
    places = [table.columns.index(column) for column in columns]
    return int((table.inside[:, places] == OUTSIDE).any(axis=1).sum())


def _flow_at_end(table: Table, column: Column) -> float:
    if column.stage != WHOLE:
        flows = finite(table.end_flow_g_s[:, column.stage])
        return float(np.median(flows)) if flows.size else float("nan")
    # An espresso: what came by the time that it took.
    took_s = [brew.analysis.pours[-1].end_s - brew.analysis.pours[0].start_s for brew in table.brews]
    return float(np.median([brew.analysis.total_g for brew in table.brews]) / max(np.median(took_s), 0.1))


def says_of(seen: Seen, part: Part) -> str:
    """What is seen, a clause: ``pour 3 ends 4.1 g heavy on average, outside in 8 of 10``."""
    verb, over, under, noun = _SAYS[seen.column.quantity]
    unit = seen.column.unit
    if part == "spread":
        outside = _outside(seen, seen.n_over + seen.n_under)
        return f"{seen.name}: {noun} varies by {seen.sd:.1f} {unit} (sd of {seen.own_sd.n} brews){outside}"
    side, count = (over, seen.n_over) if seen.is_over else (under, seen.n_under)
    clause = f"{seen.name} {verb} {seen.off:.1f} {unit} {side} on average{_outside(seen, count)}"
    if abs(seen.inherited) > _INHERITED * seen.off:
        late = over if seen.inherited > 0 else under
        clause += f" (and {abs(seen.inherited):.1f} {unit} {late} besides, from what came before it)"
    return clause


def _outside(seen: Seen, count: int) -> str:
    """In how many brews it is outside; of what is seldom outside itself, also how often what follows is."""
    if not seen.n_told:
        return ""
    clause = f", outside in {count} of {seen.n_told}"
    if 2 * count <= seen.n_following - count:
        clause += f", with what follows from it in {seen.n_following}"
    return clause


def change_of(seen: Seen, part: Part) -> str:
    """What to do about it, a sentence."""
    return _steady(seen) if part == "spread" else _shift(seen)


def _shift(seen: Seen) -> str:
    name, over, off, column = seen.name, seen.is_over, seen.off, seen.column
    match column.quantity:
        case "to_g" | "total_g":
            by = f"about {off / seen.flow_g_s:.1f} s ({off:.1f} g)" if seen.flow_g_s > 0 else f"{off:.1f} g"
            return f"Stop {name} {by} sooner." if over else f"Let {name} run {by} longer."
        case "start_s":
            when = f"about {off:.1f} s {'sooner' if over else 'later'}"
            before = "" if abs(seen.inherited) <= _INHERITED * off else " after the pour before it"
            return f"Start {name} {when}{before}: the plan says {clock_text(column.wanted)}."
        case "flow_g_s":
            pace = "slower" if over else "faster"
            by = f"it is {off:.1f} g/s {'more' if over else 'less'}"
            return f"Pour {pace} in {name}: {column.wanted:.1f} g/s, {by}."
        case "water_c":
            return f"{'Let the water cool by' if over else 'Heat the water by'} {off:.1f} °C before {name}."
        case "end_s" if column.kind == "hand":
            return (
                f"Close the pauses in {name}: be done {off:.1f} s sooner."
                if over
                else f"Do not hurry {name}."
            )
        case "strength_percent":
            dose, grind = ("less", "coarser") if over else ("more", "finer")
            return f"Use a little {dose} coffee for the same water, or grind a little {grind}."
        case _:
            grind = "coarser" if over else "finer"
            return (
                f"With pours like these, grind a little {grind}."
                if column.name or column.quantity == "end_s"
                else f"Grind a little {grind}."
            )


def _steady(seen: Seen) -> str:
    name, unit = seen.name, seen.column.unit
    aim = f"until it varies by less than {seen.capable:.1f} {unit}"
    match seen.column.quantity:
        case "to_g" | "total_g":
            return f"Practise stopping {name} alone, {aim}."
        case "start_s":
            return f"Practise starting {name} by the clock, {aim}."
        case "flow_g_s":
            return f"Practise an even stream in {name}, {aim}."
        case "water_c":
            return f"Take the water's temperature right before {name}, {aim}."
        case "end_s" if seen.column.kind == "hand":
            return f"Pour {name} in one go, {aim}."
        case _:
            return f"Make the bed the same each time, {aim}: dose, grind, level, stirring."


def rule_of(seen: Seen, part: Part) -> str:
    """The rule of thumb behind it, with where it comes from; empty where it is plain arithmetic."""
    quantity, kind = seen.column.quantity, seen.column.kind
    if kind == "bed" or quantity == "strength_percent":
        return GRIND if part == "mean" else EVEN_BED
    if quantity == "water_c":
        return KETTLE
    return RHYTHM if quantity == "start_s" else ""
