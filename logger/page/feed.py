"""What the viewers of one recorder are shown: the newest cue, and the curve that led there.

Nothing queues here. A viewer has a position, and is given what has changed since; one that was asleep is
given the newest state like any other, and never what it missed in between.
"""

from __future__ import annotations

import json
import re
import secrets
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from logger.guide import Cue
from logger.guide.cue import plain
from logger.page.curve_line import CurveLine, Row

LINES_KEPT = 6
BACK_S = 1.0
"""Readings' times that go back as far as this belong to another brew."""

_POSITION = re.compile(r"([0-9a-f]{8})\.(\d{1,9})\.(\d{1,12})\.(\d{1,6})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Position:
    """How far a viewer has come.

    :param epoch: of the feed: another program that serves at the same address has another
    :param generation: of the curve
    :param version: of the state
    :param rows: of the curve
    """

    epoch: str
    generation: int
    version: int
    rows: int

    def __str__(self) -> str:
        return f"{self.epoch}.{self.generation}.{self.version}.{self.rows}"

    @classmethod
    def read(cls, text: str) -> Position | None:
        """Read what a viewer says of itself; None for anything that is no position."""
        match = _POSITION.fullmatch(text)
        return cls(match[1], int(match[2]), int(match[3]), int(match[4])) if match else None


class Feed:
    """Takes cues, gives what has changed; a :class:`logger.guide.CueListener`.

    :param title: what is brewed, until a cue says it
    """

    def __init__(self, title: str = "") -> None:
        self._epoch = secrets.token_hex(4)
        self._curve = CurveLine()
        self._parts: dict[str, str] = {}
        self._changed: dict[str, int] = {}
        self._version, self._take = 0, 0
        self._shown_brew, self._shown_s = 0, 0.0
        self._newest: Cue | None = None
        self._encoded: Cue | None = None
        self._last: tuple[Position | None, Position, str] | None = None
        self._lines: deque[str] = deque(maxlen=LINES_KEPT)
        self.on_change: Callable[[], None] = lambda: None
        """Called whenever there is something new to be seen."""
        self._put({"title": title, "take": 0, "told": []})

    def begin(self) -> None:
        """A brew begins, or is looked at anew: what was called so far is forgotten with the curve."""
        self._take += 1
        self._newest = self._encoded = None
        self._curve.clear()
        self._lines.clear()
        self._put({"take": self._take, "told": []})

    def show(self, cue: Cue) -> None:
        """Take the newest cue; it is written out only once somebody looks."""
        self.pass_by(cue)
        self._newest = cue
        self.on_change()

    def pass_by(self, cue: Cue) -> None:
        """Take a cue of a moment that is past: it belongs to the curve, and nothing is called any more."""
        if cue.brew != self._shown_brew or cue.time_s < self._shown_s - BACK_S:
            self.begin()
        self._shown_brew, self._shown_s = cue.brew, cue.time_s
        if cue.clock_s > 0.0:
            self._curve.push(_row(cue))

    def tell(self, text: str) -> None:
        """Take one line about something that has become known."""
        if not text:
            return
        self._lines.append(text.strip())
        self._put({"told": list(self._lines)})
        self.on_change()

    def apply(self, parts: Mapping[str, Any], rows: list[Row], first: int | None) -> None:
        """Take what another feed gave: this one then shows the same.

        :param parts: the state's parts that changed, by name
        :param rows: of the curve
        :param first: where in the curve they go; None where they are all of it
        """
        self._put(parts)
        if first is None or first != len(self._curve.rows):
            self._curve.replace(rows)
        else:
            self._curve.rows.extend(rows)
        self.on_change()

    def since(self, position: Position | None) -> tuple[str, Position]:
        """Give what has changed since a position as the inside of a JSON object, and the new position.

        :param position: None for a viewer that has nothing yet
        """
        self._encode()
        now = Position(self._epoch, self._curve.generation, self._version, len(self._curve.rows))
        # Nearly all viewers are one step behind: they are given the same text.
        if self._last is not None and self._last[:2] == (position, now):
            return self._last[2], now
        text = self._written(position, now)
        self._last = (position, now, text)
        return text, now

    def _written(self, position: Position | None, now: Position) -> str:
        if position is not None and (position.epoch != now.epoch or position.version > now.version):
            position = None
        version = position.version if position else -1
        parts = ",".join(
            f'"{name}":{part}' for name, part in self._parts.items() if self._changed[name] > version
        )
        continues = position is not None and position.generation == now.generation
        first = position.rows if position and continues else 0
        rows = json.dumps(self._curve.rows[first:], separators=(",", ":"))
        return f'"set":{{{parts}}},"first":{first if continues else "null"},"rows":{rows}'

    def _encode(self) -> None:
        if self._newest is not None and self._newest is not self._encoded:
            self._encoded = self._newest
            self._put(plain(self._newest))

    def _put(self, parts: Mapping[str, Any]) -> None:
        self._version += 1
        for name, value in parts.items():
            text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
            if self._parts.get(name) != text:
                self._parts[name], self._changed[name] = text, self._version


def _row(cue: Cue) -> Row:
    """A point of the curve, with the corridor as it stood at its moment."""
    point = (round(cue.clock_s, 2), round(cue.poured_g, 2))
    for sooner, later in pairwise(cue.ahead[:3]):
        if sooner.clock_s <= cue.clock_s <= later.clock_s:
            share = (cue.clock_s - sooner.clock_s) / max(later.clock_s - sooner.clock_s, 1e-6)
            low_g = sooner.low_g + share * (later.low_g - sooner.low_g)
            plan_g = sooner.plan_g + share * (later.plan_g - sooner.plan_g)
            high_g = sooner.high_g + share * (later.high_g - sooner.high_g)
            return (*point, round(low_g, 2), round(plan_g, 2), round(high_g, 2))
    return (*point, None, None, None)
