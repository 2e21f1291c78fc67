"""What live has told so far: the pours that are over, and the events, each reading again put in its place."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from logger.curve.brew import Event, Pour
from logger.curve.drift import drifts_of
from logger.curve.edges.edge import Edge
from logger.curve.pours.finding import Rise
from logger.curve.taken_out.carried_away import LONGEST_DOSING_S, is_step
from logger.curve.taken_out.dosing import LARGE_DOSE_G, TARED_AT_LAST_S, Before, is_coffee
from logger.curve.taken_out.rinsing import is_rinse
from logger.curve.water import Read

CLEAR_S = 3.0
FINAL_S = 12.0
"""A tare that comes later after a rise is not the one that follows dry coffee."""
GROWN_S = 1.0
"""Read again, no end moves by so much; one that does has run on."""

LATEST_EVENTS = 20
_TELL_OF_COFFEE = ("dose", "tare", "vessel-off")
"""What comes before the first water and tells whether a rise is water: where none of it is forgotten, nor any
water, the readings that are left tell as much as all of them."""

ChangeKind = Literal["pour-began", "pour-withdrawn", "pour-ended", "event"]


@dataclass(frozen=True, slots=True)
class Change:
    """What has just become known.

    ``pour-began``: water is running, since about ``time_s``. ``pour-withdrawn``: it was no water after all.
    ``pour-ended``: ``pour`` is over; said again of one that has run on. ``event``: ``event`` happened.
    """

    kind: ChangeKind
    time_s: float
    pour: Pour | None = None
    event: Event | None = None


class Told:
    """Pours and events; give it each reading of the readings kept, and it says what is new."""

    def __init__(self) -> None:
        self._earlier: list[Pour] = []
        self.recent: list[Pour] = []
        """The pours whose readings are still kept."""
        self.events: list[Event] = []
        """All events so far, in order."""
        self._cut_s = self._kept_from_s = -math.inf
        self._another_from_s = -math.inf

    @property
    def pours(self) -> tuple[Pour, ...]:
        """All pours so far, in order."""
        return (*self._earlier, *self.recent)

    @property
    def forgotten(self) -> Before:
        """What came in this brew whose readings are not kept any more."""
        gone = [event for event in self._of_this_brew() if event.start_s < self._kept_from_s]
        tared_s = max((event.start_s for event in gone if event.kind == "tare"), default=-math.inf)
        doses_g = [event.change_g for event in gone if event.kind == "dose" and event.start_s < tared_s]
        poured_g = sum(pour.poured_g for pour in self._earlier if pour.start_s > self._another_from_s)
        return Before(sum(doses_g), poured_g)

    @property
    def _done_g(self) -> float:
        return self._earlier[-1].to_g if self._earlier else 0.0

    def has(self, pour: Pour) -> bool:
        """Whether a pour was told already, and has not run on since."""
        return any(_same(pour, other) for other in self.recent)

    def take(self, read: Read, since_s: float, now_s: float, until_s: float = math.inf) -> list[Change]:
        """Put a reading in the place of what was told of the same time.

        :param since_s: the first reading that is kept, with ``now_s`` the last one
        :param until_s: events that began later are left to a later reading
        """
        kept = self._kept(read, now_s)
        changes = [*self._take_events(read, kept, since_s, until_s), *self._take_pours(read, kept)]
        return [*changes, *self._withdraw_rinses(), *self._withdraw_dose()]

    def clear_before(self, time_s: float) -> float:
        """Give the last time, up to that one, at which nothing went on: up to it readings may go.

        Cut in two, a vessel looks like a dose, a tare like nothing; coffee without its tare is like water.
        """
        spans = [(pour.start_s, pour.end_s) for pour in self.recent]
        if spans and self._may_be_coffee(self.recent[0]):
            spans[0] = (spans[0][0], spans[0][1] + TARED_AT_LAST_S)
        events = self.events[-LATEST_EVENTS:]
        spans += [(event.start_s, _tared_s(event, events)) for event in events if event.kind != "drift"]
        for start_s, end_s in sorted(spans, reverse=True):
            if start_s - CLEAR_S < time_s <= end_s + CLEAR_S:
                time_s = start_s - CLEAR_S
        return time_s

    def cut(self, from_s: float, now_s: float) -> None:
        """Know that the readings before a time are forgotten from now on."""
        settled = [pour for pour in self.recent if pour.end_s < from_s]
        self._earlier.extend(settled)
        self.recent = self.recent[len(settled) :]
        self._kept_from_s = from_s
        told = any(event.kind in _TELL_OF_COFFEE and event.start_s < from_s for event in self.events)
        if self._earlier or told:
            self._cut_s = now_s

    def brews_anew(self, from_s: float) -> None:
        """Know that what comes from a time on belongs to another brew than what was cut."""
        self._another_from_s = self._kept_from_s = from_s

    def _kept(self, read: Read, now_s: float) -> list[Pour]:
        """Which pours stay what they are though the reading takes them for something else: it does not see
        any more what came before them, and no tare came after them as after a dose.
        """
        return [
            pour
            for pour in self.recent
            if pour.end_s < min(now_s - FINAL_S, self._cut_s)
            and not any(_overlap(pour, other) for other in read.pours)
            and not _is_tared_soon(pour, read)
            and not _leaves_as_dose(pour, read)
        ]

    def _take_events(self, read: Read, kept: list[Pour], since_s: float, until_s: float) -> list[Change]:
        found = sorted((*read.events, *drifts_of(read, is_over=False)), key=lambda event: event.start_s)
        mistaken = [solid for solid in read.solids if any(_overlap(pour, solid) for pour in kept)]
        fresh = [event for event in found if since_s <= event.start_s < until_s and event not in mistaken]
        told = [event for event in self.events if event.start_s >= since_s]
        before = [event for event in self.events if event.start_s < since_s]
        self.events = [*before, *fresh, *(event for event in told if event.start_s >= until_s)]
        return [
            Change("event", event.end_s, event=event)
            for event in fresh
            if not any(
                other.kind == event.kind and abs(other.start_s - event.start_s) < 1.0 for other in told
            )
        ]

    def _take_pours(self, read: Read, kept: list[Pour]) -> list[Change]:
        before, self.recent = self.recent, []
        done_g = self._done_g
        changes = []
        for pour in sorted((*read.pours, *kept), key=lambda pour: pour.start_s):
            counted = replace(pour, from_g=done_g, to_g=done_g + pour.poured_g)
            done_g = counted.to_g
            self.recent.append(counted)
            if not any(_same(counted, other) for other in before):
                changes.append(Change("pour-ended", counted.end_s, pour=counted))
        gone = [pour for pour in before if not any(_overlap(pour, other) for other in self.recent)]
        return [*(Change("pour-withdrawn", pour.start_s, pour=pour) for pour in gone), *changes]

    def _withdraw_rinses(self) -> list[Change]:
        """Take back what was poured first, and forgotten, where it has been thrown away since."""
        changes = []
        while (first := self._first_forgotten()) is not None:
            others_s = [pour.start_s for pour in self.pours if pour.start_s > first.start_s]
            doses_s = [event.start_s for event in self._of_this_brew() if event.kind == "dose"]
            if min(doses_s, default=math.inf) < first.start_s:  # nobody rinses a filter with coffee in it
                break
            if not is_rinse(first.end_s, first.poured_g, sorted((*others_s, *doses_s)), self.events):
                break
            changes.append(self._withdrawn(first))
        return changes

    def _withdraw_dose(self) -> list[Change]:
        """Take back what came first, and is forgotten, where so much has come since that it was coffee."""
        first = self._first_forgotten()
        if first is None:
            return []
        events = tuple(self._of_this_brew())
        dosed = [event for event in events if event.kind == "dose" and event.start_s < first.start_s]
        rises = [_as_rise(pour) for pour in self.pours if pour.start_s >= first.start_s]
        if not is_coffee(rises[0], rises, dosed, events):
            return []
        dose = Event("dose", first.start_s, first.end_s, first.poured_g)
        self.events = sorted((*self.events, dose), key=lambda event: event.start_s)
        return [self._withdrawn(first), Change("event", dose.end_s, event=dose)]

    def _withdrawn(self, first: Pour) -> Change:
        """Take back a forgotten pour, and count those after it without it."""
        self._earlier = [_less(pour, first) for pour in self._earlier if pour is not first]
        self.recent = [_less(pour, first) for pour in self.recent]
        return Change("pour-withdrawn", first.start_s, pour=first)

    def _may_be_coffee(self, pour: Pour) -> bool:
        """Whether nothing came before it in this brew, and it arrived as coffee may: its tare would tell."""
        lasts_s = pour.end_s - pour.start_s
        is_first = self._first_forgotten() is None
        return is_first and pour.poured_g < LARGE_DOSE_G and lasts_s < LONGEST_DOSING_S

    def _of_this_brew(self) -> list[Event]:
        return [event for event in self.events if event.start_s > self._another_from_s]

    def _first_forgotten(self) -> Pour | None:
        return next((pour for pour in self._earlier if pour.start_s > self._another_from_s), None)


def _less(pour: Pour, gone: Pour) -> Pour:
    """Give a pour as it is counted without one that came before it."""
    if pour.start_s < gone.start_s:
        return pour
    return replace(pour, from_g=pour.from_g - gone.poured_g, to_g=pour.to_g - gone.poured_g)


def _as_rise(pour: Pour) -> Rise:
    """Give what rose, as far as a pour tells it."""
    start = Edge(pour.start_s, pour.from_g, pour.mean_flow_g_s, 0.0, 0.0)
    end = Edge(pour.end_s, pour.to_g, pour.mean_flow_g_s, 0.0, 0.0)
    return Rise(start, end, pour.peak_flow_g_s, ((pour.start_s, pour.from_g), (pour.end_s, pour.to_g)))


def _is_tared_soon(pour: Pour, read: Read) -> bool:
    """Whether a tare comes soon after a pour, or after the last portion of the dose that it was a part of."""
    doses = [solid for solid in read.solids if solid.kind == "dose"]
    portions_s = [dose.end_s for dose in doses] if any(_overlap(pour, dose) for dose in doses) else []
    tares_s = [event.start_s for event in read.events if event.kind == "tare"]
    return any(-2.0 < tare_s - end_s < FINAL_S for tare_s in tares_s for end_s in (pour.end_s, *portions_s))


def _leaves_as_dose(pour: Pour, read: Read) -> bool:
    """Whether a reading takes a pour for coffee that leaves with its vessel: what tells so comes after it."""
    after = (event for event in read.events if is_step(event) and event.end_s > pour.end_s)
    leaves = next(after, None)
    doses = (solid for solid in read.solids if solid.kind == "dose")
    return leaves is not None and leaves.kind == "vessel-off" and any(_overlap(pour, dose) for dose in doses)


def _tared_s(event: Event, events: list[Event]) -> float:
    """Give the end of an event; of dry coffee, that of the tare that follows it."""
    if event.kind != "dose":
        return event.end_s
    tares_s = (other.end_s for other in events if other.kind == "tare" and other.start_s > event.start_s)
    return max(event.end_s, next(tares_s, event.end_s))


def _overlap(one: Pour | Event, other: Pour | Event) -> bool:
    return min(one.end_s, other.end_s) > max(one.start_s, other.start_s)


def _same(one: Pour, other: Pour) -> bool:
    """Whether a pour is another one, read again, and not one that has run on since."""
    return _overlap(one, other) and one.end_s < other.end_s + GROWN_S
