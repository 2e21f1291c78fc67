"""What live has told so far: the pours that are over, and the events, each reading again put in its place."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from logger.curve.brew import Event, Pour
from logger.curve.drift import drifts_of
from logger.curve.water import Read

CLEAR_S = 3.0
FINAL_S = 12.0
"""A tare that comes later after a rise is not the one that follows dry coffee."""
GROWN_S = 1.0
"""Read again, no end moves by so much; one that does has run on."""

LATEST_EVENTS = 20

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
        self._cut_s = -math.inf
        self._another_from_g = 0.0

    @property
    def pours(self) -> tuple[Pour, ...]:
        """All pours so far, in order."""
        return (*self._earlier, *self.recent)

    @property
    def forgotten_g(self) -> float:
        """What the pours of this brew brought whose readings are not kept any more."""
        return self._done_g - self._another_from_g

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
        return [*self._take_events(read, kept, since_s, until_s), *self._take_pours(read, kept)]

    def clear_before(self, time_s: float) -> float:
        """Give the last time, up to that one, at which nothing went on: up to it readings may go.

        Cut in two, a vessel looks like a dose, and a tare like nothing.
        """
        spans = [(pour.start_s, pour.end_s) for pour in self.recent]
        events = self.events[-LATEST_EVENTS:]
        spans += [(event.start_s, event.end_s) for event in events if event.kind != "drift"]
        for start_s, end_s in sorted(spans, reverse=True):
            if start_s - CLEAR_S < time_s <= end_s + CLEAR_S:
                time_s = start_s - CLEAR_S
        return time_s

    def cut(self, from_s: float, now_s: float) -> None:
        """Know that the readings before a time are forgotten from now on."""
        settled = [pour for pour in self.recent if pour.end_s < from_s]
        self._earlier.extend(settled)
        self.recent = self.recent[len(settled) :]
        self._cut_s = now_s

    def brews_anew(self) -> None:
        """Know that what comes now belongs to another brew than what was cut."""
        self._another_from_g = self._done_g

    def _kept(self, read: Read, now_s: float) -> list[Pour]:
        """Which pours stay what they are though the reading takes them for something else: it does not see
        any more what came before them, and no tare came after them as after a dose.
        """
        tares_s = [event.start_s for event in read.events if event.kind == "tare"]
        return [
            pour
            for pour in self.recent
            if pour.end_s < min(now_s - FINAL_S, self._cut_s)
            and not any(_overlap(pour, other) for other in read.pours)
            and not any(-2.0 < tare_s - pour.end_s < FINAL_S for tare_s in tares_s)
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


def _overlap(one: Pour | Event, other: Pour | Event) -> bool:
    return min(one.end_s, other.end_s) > max(one.start_s, other.start_s)


def _same(one: Pour, other: Pour) -> bool:
    """Whether a pour is another one, read again, and not one that has run on since."""
    return _overlap(one, other) and one.end_s < other.end_s + GROWN_S
