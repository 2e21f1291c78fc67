"""Where the words beside marks go, so that none lies on another and none is cut off at the edge.

Places are worked out for a phone's width; on anything wider there is only more room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

PHONE_PX = 320  # what a phone's width leaves for the curves
PX_PER_LETTER = 7
_MARK_PX = 12
_LINE_PX = 16
_MOST_DOWN = 6

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a word stands.

    :param side: of its mark
    :param down: so many lines below the mark's own
    """

    side: Side
    down: int


def lanes(at: Sequence[float], words: Sequence[str]) -> tuple[list[int], list[Side]]:
    """Spread words along one axis over as many lanes as it takes, the first lane wherever there is room.

    :param at: where their marks are, as shares of the axis, rising
    :return: each one's lane, from 0, and the side of its mark on which it stands
    """
    taken: list[list[tuple[float, float]]] = []
    places: list[int] = []
    sides: list[Side] = []
    for share, text in zip(at, words, strict=True):
        side, span = _span(share, text)
        lane = next((n for n, spans in enumerate(taken) if _is_free(span, spans)), len(taken))
        if lane == len(taken):
            taken.append([])
        taken[lane].append(span)
        places.append(lane)
        sides.append(side)
    return places, sides


def below(marks: Sequence[tuple[float, float, str]], height_px: float) -> list[Place]:
    """Place words below marks of a panel, each as high as the words before it leave room.

    :param marks: of each where it is, as shares of the panel from the left and from the top, and its word
    """
    taken: list[tuple[float, float, int]] = []  # from, to, line
    places = []
    for across, from_top, text in marks:
        side, (from_px, to_px) = _span(across, text)
        line = round(from_top * height_px / _LINE_PX) + 1
        down = next((n for n in range(_MOST_DOWN) if _is_clear(from_px, to_px, line + n, taken)), 0)
        taken.append((from_px, to_px, line + down))
        places.append(Place(side, 1 + down))
    return places


def _span(share: float, text: str) -> tuple[Side, tuple[float, float]]:
    """The side on which a word fits, and from where to where mark and word reach, in pixels."""
    at_px, long_px = share * PHONE_PX, PX_PER_LETTER * (len(text) + 1) + _MARK_PX
    if at_px + long_px > PHONE_PX and at_px > PHONE_PX / 2:
        return "left", (at_px - long_px, at_px + _MARK_PX)
    return "right", (at_px - _MARK_PX, at_px + long_px)


def _is_free(span: tuple[float, float], spans: Sequence[tuple[float, float]]) -> bool:
    return all(span[1] <= start or span[0] >= end for start, end in spans)


def _is_clear(from_px: float, to_px: float, line: int, taken: Sequence[tuple[float, float, int]]) -> bool:
    return all(
        to_px <= other_from or from_px >= other_to or abs(line - other) >= 1
        for other_from, other_to, other in taken
    )
