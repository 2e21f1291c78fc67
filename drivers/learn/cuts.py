"""The same number in frames that begin elsewhere, where frames were cut out of a stream."""

from __future__ import annotations

import math

from drivers.learn.captures.capture import Capture
from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.outside.headers import MOST_KINDS, places_of
from drivers.learn.outside.turning import SAME_SLOPE, ends_before_check
from drivers.learn.packets.kinds import beginning, fixed_bytes
from drivers.learn.weight.choosing import Choice, holds_in_rest, settled, whole_count
from drivers.learn.weight.laggards import are_same_of_stream

_MOST_CUTS = 4
"""Cuts that are looked at closely, those that look most like messages first."""

_SAME_STEP, _AS_GOOD, _AS_MANY = 0.01, 0.02, 0.95
"""Shares by which a step may differ, by which fewer packets may fit, and of the frames that must be there."""


def cut_elsewhere(choice: Choice, capture: Capture) -> list[Fit]:
    """Give the chosen number in all cuts that hold it as well, the chosen one among them.

    :returns: settled, those that look most like messages first; the chosen one alone where nothing was cut
    """
    best = choice.best
    assert best is not None
    if not best.kind.is_cut:
        return [best]
    cuts = [best, *(one for one, how in choice.copies if how == "copy" and _is_same(one, best, capture))]
    cuts.sort(key=lambda one: -beginning(one.kind.frames) - 3.0 * math.log(len(one.kind.frames)))
    full = [settled(one, capture.loads, capture.quantity) for one in cuts[:_MOST_CUTS]]
    most = max(whole_count(one.kind) for one in full)
    return [
        one for one in full
        if one.inside > best.inside - _AS_GOOD and whole_count(one.kind) > _AS_MANY * most
    ] or [best]  # fmt: skip


def in_shorter_frames(choice: Choice) -> list[Fit]:
    """Give the same bytes of a stream in shorter frames that come no less often, if any, the likeliest first.

    What was taken for a frame has another message before it, which is as long as this one, told from it by a
    byte, and damaged or left out now and then. One that has a check is none of two.
    """
    best = choice.best
    assert best is not None
    shorter = [
        one for one, _ in choice.copies
        if best.kind.is_cut and one.kind.is_cut and not one.kind.terminator and one.kind.selectors
        and one.kind.length < best.kind.length and len(one.kind.frames) >= len(best.kind.frames)
        and one.inside > best.inside - _AS_GOOD
        and are_same_of_stream(one, best) and beginning(one.kind.frames) > 0.0
        and (fixed_bytes(one.kind.frames)[0] or 0) > MOST_KINDS  # a small number may be a clock's upper byte
    ]  # fmt: skip
    if not shorter or find_check(best.kind.frames[rows_in_place(best)], places_of(best), 0) is not None:
        return []
    return sorted(shorter, key=lambda one: -beginning(one.kind.frames))[:_MOST_CUTS]


def _is_same(one: Fit, best: Fit, capture: Capture) -> bool:
    """Say whether a copy is the number itself in frames of the same length that begin elsewhere."""
    alike = (one.number.encoding, one.scale, one.kind.length, one.kind.stream)
    if alike != (best.number.encoding, best.scale, best.kind.length, best.kind.stream):
        return False
    if ends_before_check(one, best):
        return True
    is_same_scale = abs(one.slope / best.slope - 1.0) <= SAME_SLOPE
    is_same_step = abs(one.step - best.step) <= _SAME_STEP * best.step
    is_cut_apart = one.kind.whole is not best.kind.whole and not holds_in_rest(one, capture.loads)
    return is_cut_apart and is_same_scale and is_same_step
