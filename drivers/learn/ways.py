"""The ways to cut frames out of a stream and to tell where they begin: the one that somebody has designed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Capture, Load, Quantity
from drivers.learn.checks.check import Check
from drivers.learn.cuts import cut_elsewhere, in_shorter_frames
from drivers.learn.doubts.sign_columns import with_sign_in_column
from drivers.learn.doubts.sign_doubts import without_chance_sign
from drivers.learn.lines_of_any_length import by_pattern, with_columns_that_grow, with_room_for_sign
from drivers.learn.numbers.factors import with_factor_of_copy
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.halves import with_lower_digits
from drivers.learn.numbers.neighbours import NOT_NEEDED
from drivers.learn.outside.framed import (
    Outside,
    count_in_order,
    is_explained,
    is_weakly_marked,
    likelihood_of,
    outside_of,
)
from drivers.learn.outside.headers import is_clear_mark
from drivers.learn.outside.messages import closed_messages, own_message
from drivers.learn.outside.picking import frames_at, goes_on, picked_out, places_found
from drivers.learn.outside.turning import (
    from_blocks,
    from_first_whole,
    from_mark_of_others,
    from_run,
    turned,
    with_its_header,
    without_check_bytes,
)
from drivers.learn.packets.arrays import Frames
from drivers.learn.packets.kinds import Kind
from drivers.learn.packets.pauses import begin_after_pauses
from drivers.learn.signs.below_zero import settle_sign_again, undamaged
from drivers.learn.streams import Packets
from drivers.learn.weight.choosing import Choice, holds_in_rest, settled
from drivers.learn.widths.capacity import with_room, without_sign_below_nought
from drivers.learn.widths.needless_top import with_top_as_sign, without_needless_top
from drivers.learn.widths.upper_bits import with_its_sign_bit, with_upper_bits
from drivers.learn.widths.wider import settle_width

Way = tuple[Fit, Outside]
"""A number in frames of one cut, and what stands around it there."""

_AS_LIKELY = 3.0
"""How much less a beginning may look like one that other messages have as well."""

_UNDAMAGED, _HOLD = 0.9, 0.9
"""Of the packets that were picked out, a check is right for so many; so many others go on with them."""

_CLEARLY_MORE = 0.03
"""By how many more frames a header finds than were cut out, as a share."""

_SEEN = 10.0
"""How much likelier a beginning is that more frames have, for the natural logarithm of how many."""


def best_way(choice: Choice, stream: Packets, capture: Capture) -> Way:
    """Give the best number in the frames that look most as if somebody had designed them, with its sign."""
    one, outside = _as_designed(choice, stream, capture)
    return with_sign_in_column(one, capture, stream.joined), outside


def _as_designed(choice: Choice, stream: Packets, capture: Capture) -> Way:
    if (one := by_pattern(choice, stream.kinds)) is not None:
        return _way_of(one, stream, capture)
    way = _with_its_check(_likeliest(choice, stream, capture), stream, capture)
    way = _from_its_beginning(way, stream, capture)
    way = _checked_in_part(_seen_in_order(way, stream, capture), stream, capture)
    one, outside = _with_its_ends(_signed_again(way, stream, capture), capture)
    if outside.check is None and (loose := with_room_for_sign(choice, one)) is not None:
        return _way_of(loose, stream, capture)
    if (grown := with_columns_that_grow(choice, one, outside.check, stream.joined)) is not None:
        return _way_of(grown, stream, capture)
    copies = [each for each, how in choice.copies if how == "copy"]  # what lags may be on its way yet
    return with_factor_of_copy(one, copies, capture.loads, capture.quantity), outside


def _likeliest(choice: Choice, stream: Packets, capture: Capture) -> Way:
    """Give the number in messages of its own, where there are any; else in frames as they were cut."""
    loads, quantity = capture.loads, capture.quantity
    cut = [_with_filled(each, loads, quantity) for each in cut_elsewhere(choice, capture)]
    single = [each for one in cut if (each := own_message(one, loads, quantity))]
    if choice.best is not None and not single:
        copies = [one for one, how in choice.copies if how == "copy"]
        single = closed_messages(choice.best, copies) or in_shorter_frames(choice)
    ways = [_way_of(each, stream, capture) for each in single]
    # What begins with anything is no message: the upper bytes of two numbers begin alike as well.
    ways = [each for each in ways if each[1].header or each[1].terminator] or [
        _with_outside(each, stream, capture) for each in cut
    ]
    return max(ways, key=lambda way: likelihood_of(way[1]) + _SEEN * math.log(count_in_order(*way)))


def _with_its_check(way: Way, stream: Packets, capture: Capture) -> Way:
    """Turn frames without a check that explains itself, and take bytes for one, where that is likelier."""
    (one, outside), loads, quantity = way, capture.loads, capture.quantity
    if outside.check is not None and is_explained(outside.check, one):
        return way
    # Fixed bytes that a check covers and a frame leaves out look like a start value of its own.
    others = [settled(each, loads, quantity) for each in turned(one, loads, quantity)]
    others += [_in_all(each, loads, quantity) for each in without_check_bytes(one, loads, quantity)]
    ways = [way, *(_with_outside(each, stream, capture) for each in others)]
    return max(ways, key=lambda way: likelihood_of(way[1]))


def _from_its_beginning(way: Way, stream: Packets, capture: Capture) -> Way:
    """Let frames begin with all of the bytes that stay, and with the header before them."""
    (one, outside), loads, quantity = way, capture.loads, capture.quantity
    data = stream.joined.data if stream.joined else None
    for earlier in (from_first_whole, from_mark_of_others):
        if outside.check is None and (whole := earlier(one, data, loads, quantity)) is not None:
            one, outside = _way_of(whole, stream, capture)
    paused = is_paused(one, stream, capture)
    if not paused and (whole := _from_run(one, outside, stream, loads, quantity)) is not None:
        one, outside = _way_of(whole, stream, capture)
    whole = from_blocks(one, stream.joined, loads, quantity) if outside.check is None else None
    if whole is not None:
        one, outside = _way_of(whole, stream, capture)
    longer = with_its_header(one, outside.check, data, loads, quantity)
    if longer is None:
        return one, outside
    way = _way_of(longer, stream, capture)
    is_as_likely = likelihood_of(way[1]) > likelihood_of(outside) - _AS_LIKELY
    return way if way[1].check is not None and is_as_likely else (one, outside)


def _seen_in_order(way: Way, stream: Packets, capture: Capture) -> Way:
    """Look again at all frames that are in order, which show bits that damage had hidden."""
    (one, outside), loads, quantity = way, capture.loads, capture.quantity
    if (whole := _all_in_order(one, outside.check, loads, quantity)) is not None:
        one, outside = _way_of(whole, stream, capture)
    if (read := _as_read(one, outside, stream, loads, quantity)) is not None:
        one, outside = _way_of(read, stream, capture)
    wide = _wide_again(one, outside, loads, quantity)
    return (one, outside) if wide.number == one.number else _with_outside(wide, stream, capture)


def _checked_in_part(way: Way, stream: Packets, capture: Capture) -> Way:
    """Take a check that leaves out some of the number, where none covers all of it."""
    one, outside = way
    if outside.check is not None or one.kind.terminator or one.kind.make is not None:
        return way
    in_part = _outside(one, stream, capture, is_in_part=True)
    return way if in_part.check is None else (one, in_part)


def _signed_again(way: Way, stream: Packets, capture: Capture) -> Way:
    """Settle the sign by the frames that are in order, and take it off where there is no room beside it."""
    one, outside = way
    signed = signed_in_order(one, outside, capture)
    if signed.number == one.number:
        return way
    return _checked_in_part(_with_outside(signed, stream, capture), stream, capture)


def _with_its_ends(way: Way, capture: Capture) -> Way:
    """Take the highest byte of a number for its sign, or off, where it is none of it or is not needed; and
    digits below the lowest one for its own.
    """
    (one, outside), loads, quantity = way, capture.loads, capture.quantity
    if one.kind.make is not None:
        return way
    one = with_top_as_sign(one, outside.check, loads, quantity)
    taken = outside.check.places if outside.check is not None else frozenset[int]()
    one = with_lower_digits(without_needless_top(one, loads, quantity), taken, loads, quantity)
    return one, outside


def signed_in_order(one: Fit, outside: Outside, capture: Capture) -> Fit:
    """Settle a number's sign by the frames that are in order, and take it off where it has no room."""
    loads, quantity = capture.loads, capture.quantity
    signed = settle_sign_again(one, outside.check, outside.certain, loads, quantity)
    clean = undamaged(signed, outside.check, outside.certain, loads, quantity)
    signed = without_chance_sign(signed, clean, loads, quantity)
    with_bit = with_room(with_its_sign_bit(signed, loads, quantity), loads, quantity)
    return without_sign_below_nought(with_bit, loads, quantity)


def is_paused(one: Fit, stream: Packets, capture: Capture) -> bool:
    """Say whether a serial line waits before each frame of a number, which is seen to begin there."""
    begins, joined = one.kind.begins, stream.joined
    if capture.link != "serial" or begins is None or joined is None:
        return False
    return begin_after_pauses(begins, one.kind.length, joined.time_s)


def _from_run(
    one: Fit, outside: Outside, stream: Packets, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give a number in frames that begin with all of the bytes that stay, where weak ones do now."""
    first = outside.header[0] if outside.header else None
    if stream.joined is None or outside.check is not None or outside.terminator or first is None:
        return None
    if is_clear_mark(first) and not is_weakly_marked(outside, one):
        return None
    return from_run(one, places_found(outside, stream.joined), stream.joined, loads, quantity)


def _way_of(one: Fit, stream: Packets, capture: Capture) -> Way:
    """Settle a number in other frames, and see what stands around it there."""
    return _with_outside(settled(one, capture.loads, capture.quantity), stream, capture)


def _with_outside(one: Fit, stream: Packets, capture: Capture) -> Way:
    """Work out the outside of a number's packets, without those of another kind that share their check."""
    outside = _outside(one, stream, capture)
    picked = picked_out(one, outside, stream.joined, capture.loads, capture.quantity)
    if picked is one:
        return one, outside
    unsigned = replace(picked.number, sign=None, decimals_at=-1)
    again = fit(picked.kind, unsigned, capture.loads, capture.quantity) or picked
    picked = settled(again, capture.loads, capture.quantity)
    return picked, _outside(picked, stream, capture)


def _outside(one: Fit, stream: Packets, capture: Capture, *, is_in_part: bool = False) -> Outside:
    data = stream.joined.data if stream.joined else None
    return outside_of(one, _others(one, stream, capture.loads), data, is_in_part=is_in_part)


def _with_filled(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give a number in the packets too where another one, whose upper byte picked it out, is below nought."""
    is_upper = len(one.kind.selectors) == 1 and one.kind.selectors[0][1] in NOT_NEEDED
    return _in_all(one, loads, quantity) if is_upper else one


def _in_all(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give a number in the packets that it was not picked out of as well, where those hold the load."""
    if not holds_in_rest(one, loads) or not isinstance(one.kind.whole, Kind):
        return one
    seen = one.kind.whole.seen_with(loads)
    again = fit(seen, one.number, loads, quantity) if seen is not None else None
    return one if again is None else settled(again, loads, quantity)


def _all_in_order(one: Fit, check: Check | None, loads: Sequence[Load], quantity: Quantity) -> Fit | None:
    """Give a number in all packets in order, where those that it was not picked out of hold the load as well.

    A flag, or a sign, that hardly ever was another one picks out nearly all packets that are not damaged.
    """
    whole = one.kind.whole
    if check is None or not one.kind.selectors or not isinstance(whole, Kind):
        return None
    rows = check.holds(whole.frames)
    kind = replace(
        whole, frames=whole.frames[rows], time_s=whole.time_s[rows], selectors=(), part_of=None,
        begins=None if whole.begins is None else whole.begins[rows],
    ).seen_with(loads)  # fmt: skip
    if kind is None or len(kind.frames) < len(one.kind.frames) * _UNDAMAGED:
        return None
    others = ~np.isin(kind.time_s, one.kind.time_s)
    bare = replace(one.number, sign=None, signed="") if one.number.signed else one.number
    again = fit(kind, bare, loads, quantity)
    if again is None or (others.any() and goes_on(kind, again)[others].mean() <= _HOLD):
        return None
    return again


def _as_read(
    one: Fit, outside: Outside, stream: Packets, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give a number in all frames that are found by their outside; None where those are hardly more.

    A flag among the first bytes, by which they were cut, leaves out those in which it is another one.
    """
    if stream.joined is None or outside.check is None or one.kind.terminator:
        return None
    begins = places_found(outside, stream.joined)
    every = frames_at(begins, outside.length, one.kind, stream.joined, loads)
    others = ~np.isin(every.time_s, one.kind.time_s)
    if others.sum() < _CLEARLY_MORE * len(one.kind.frames) or goes_on(every, one)[others].mean() <= _HOLD:
        return None
    bare = replace(one.number, sign=None, signed="") if one.number.signed else one.number
    return fit(replace(every, selectors=(), part_of=None), bare, loads, quantity)


def _wide_again(one: Fit, outside: Outside, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give a number its full width by the packets in order: frames that slipped by some bytes hide it."""
    clean = undamaged(one, outside.check, outside.certain, loads, quantity)
    if clean is None or outside.check is None or one.number.sign is not None:
        return one
    wide = settle_width(clean, loads, quantity, outside.check.may_take)
    wide = with_upper_bits(wide, loads, quantity, fewest=1)  # no packet in order fills them by chance
    return one if wide.number == one.number else fit(one.kind, wide.number, loads, quantity) or one


def _others(one: Fit, stream: Packets, loads: Sequence[Load]) -> Frames | None:
    """Give the packets of the same length that are of other kinds: a clear part of all."""
    kind = one.kind
    if kind.is_cut:
        return None
    whole = next((each for each in stream.kinds if each.length == kind.length and not each.selectors), None)
    if whole is None:
        return None
    seen = whole.seen_with(loads)
    if seen is None:
        return None
    frames = whole.frames[~rows_in_place(one, seen)]
    return frames if len(frames) >= 3 else None
