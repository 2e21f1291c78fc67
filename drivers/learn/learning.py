"""From a capture to a description: which bytes hold the load, what they mean, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from drivers.described import Description
from drivers.learn.captures.capture import UNIT_OF, Capture, Load
from drivers.learn.description.proving import Proof, are_pieces, prove, reads_more
from drivers.learn.doubts.further import beyond_end
from drivers.learn.doubts.how_sure import judged
from drivers.learn.doubts.mistakes import mistyped, odd_one_out
from drivers.learn.doubts.refused import doubt_of_refused
from drivers.learn.doubts.unread import unread
from drivers.learn.left_open import left_open
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.following import Tried
from drivers.learn.outside.framed import Outside
from drivers.learn.packets.kinds import Kind, settled_rows
from drivers.learn.rewriting import best_written
from drivers.learn.signs.below_zero import has_been_negative, undamaged
from drivers.learn.streams import NOTHING, Packets, fits_of, in_pieces, plainest, streams_of
from drivers.learn.ways import best_way
from drivers.learn.weight.choosing import Choice, choose
from drivers.learn.written import read_by_marks, written_if_told

FEWEST_LOADS = 3
_HARDLY_ANY = 0.1
_IN_PIECES = "Another characteristic sends pieces of messages that hold the weight as well."
_NOT_TOLD = "The weight is seen, but nothing tells where its messages begin: they cannot be described."
_BY_MARKS = (
    "Its messages begin with nothing that stays. They are read from bytes that stay inside of them, and not "
    "checked: what is damaged may be read as well."
)
_NOUGHT_BELOW = "For loads below zero it shows 0."
_NOTHING = 1e-6
"""More than what an empty pan's display shows, g or °C."""

_SIGMAS = 3.0
"""Standard uncertainties by which the counts of nothing may be off."""

_FEWEST_STEPS = 30.0
"""Steps between the loads, by which a round scale is no chance."""


@dataclass(frozen=True, eq=False)
class Learned:
    """What a capture has taught.

    :param toml: the description; empty where there is none
    :param description: the same, read
    :param is_sure: whether it may be used without a further look
    :param reasons: why it is sure, or is not, in sentences
    :param findings: what else the packets hold, in words
    :param mistakes: what looks wrong with the loads that were typed, in sentences
    :param further_g: a load that would decide between readings that are left; None where none is needed
    :param never_negative: whether nothing below zero has been seen, so that the sign is the customary one
    """

    toml: str = ""
    description: Description | None = None
    is_sure: bool = False
    reasons: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    mistakes: tuple[str, ...] = ()
    further_g: float | None = None
    never_negative: bool = False
    choice: Choice = field(default_factory=lambda: Choice(None))
    outside: Outside | None = None
    proof: Proof | None = None


def learn(capture: Capture, name: str = "learned device") -> Learned:
    """Work out a description.

    :param capture: with at least three loads
    :param name: what the device is to be called
    :returns: a description that the decoder of described devices reads, and how sure it is; never raises for
        a capture that holds nothing
    """
    if len(capture.loads) < FEWEST_LOADS:
        return Learned(
            reasons=(f"{len(capture.loads)} known loads are too few: at least {FEWEST_LOADS} are needed.",)
        )
    if not capture.arrivals:
        return Learned(reasons=("Nothing has arrived at all.",))
    capture = capture.bounded()
    streams = streams_of(capture)
    learned = _with_loads_as_typed(name, capture, streams)
    if learned is not None and learned.is_sure:
        return learned
    return _with_nought_below(name, capture) or _with_mistakes(learned, name, capture, streams)


def _with_loads_as_typed(name: str, capture: Capture, streams: Sequence[Packets]) -> Learned | None:
    """Work out a description, no load being typed wrongly; None where nothing follows the loads."""
    fits = fits_of(streams, capture, capture.loads)
    learned = _best_of(name, capture, fits, streams)
    if _are_whole(learned) or not (pieces := in_pieces(capture)):
        return learned
    joined = streams_of(capture, joined=pieces)
    of_pieces = [one if at in pieces else NOTHING for at, one in enumerate(joined)]
    fits = [one for one in fits if one.kind.stream not in pieces]
    fits += fits_of(of_pieces, capture, capture.loads)
    return _better(learned, _best_of(name, capture, fits, joined))


def _best_of(name: str, capture: Capture, fits: Sequence[Fit], streams: Sequence[Packets]) -> Learned | None:
    choice = choose(fits, capture.loads, capture.quantity)
    return _described(name, capture, choice, streams) if choice.best is not None else None


def _with_nought_below(name: str, capture: Capture) -> Learned | None:
    """Learn without the loads below nought, where the device shows nought; None where it does not.

    What such a load was to tell stays open then, and is asked of a heavy one.
    """
    below = [load for load in capture.loads if load.value < 0.0]
    rest = tuple(load for load in capture.loads if load.value >= 0.0)
    if not below or len(rest) < FEWEST_LOADS:
        return None
    some = capture
    for load in below:
        some = _without(some, load)
    some = replace(some, loads=rest)
    learned = _with_loads_as_typed(name, some, streams_of(some))
    if learned is None or learned.description is None or learned.choice.best is None:
        return None
    if not learned.is_sure and (learned.further_g is None or learned.further_g >= 0.0):
        return None
    levels = prove(learned.description, replace(capture, loads=tuple(below)), math.inf).levels
    if not all(abs(level) < _nothing(learned.choice.best) for level in levels):
        return None
    further_g = None if learned.is_sure else beyond_end(learned.choice.best)
    return replace(learned, reasons=(*learned.reasons, _NOUGHT_BELOW), further_g=further_g)


def _nothing(one: Fit) -> float:
    """Give what is less than anything on the pan, g or °C: of bare counts, nought is known from the loads."""
    return max(_NOTHING, _SIGMAS * abs(one.offset_error / one.slope)) if one.is_bare else _NOTHING


def _are_whole(learned: Learned | None) -> bool:
    """Say whether notifications are whole messages: each has a check, which pieces have by chance at most."""
    if learned is None or learned.outside is None or learned.proof is None:
        return False
    check, proof = learned.outside.check, learned.proof
    if check is None or proof.rejected > _HARDLY_ANY * proof.readings:
        return False
    return learned.is_sure or check.poly != 0


def _better(apart: Learned | None, joined: Learned | None) -> Learned | None:
    """Take notifications for pieces of a stream where that is better: more is read so, or pieces are joined.

    Joined frames that were chosen beside a number of another characteristic are the better ones of the two.
    """
    if apart is None or apart.proof is None or joined is None or joined.proof is None:
        return apart if joined is None or not (joined.is_sure or apart is None) else joined
    if _stream_of(apart) == _stream_of(joined):
        is_checked = joined.outside is not None and joined.outside.check is not None
        return joined if reads_more(joined.proof, apart.proof, is_checked=is_checked) else apart
    if not are_pieces(joined.proof):
        return apart
    return joined if joined.is_sure else replace(apart, is_sure=False, reasons=(_IN_PIECES, *joined.reasons))


def _stream_of(learned: Learned) -> int:
    return learned.choice.best.kind.stream if learned.choice.best is not None else -1


def _with_mistakes(
    learned: Learned | None, name: str, capture: Capture, streams: Sequence[Packets]
) -> Learned:
    """Look whether a slip in typing explains that nothing fits well."""
    streams = _plainest(streams)
    tried: dict[Kind, Tried] = {}

    def best_of(loads: tuple[Load, ...], left_out: Load | None) -> Fit | None:
        if left_out is None:
            fits = fits_of(streams, capture, loads, tried)
        else:
            fits = fits_of(_plainest(streams_of(_without(capture, left_out))), capture, loads)
        return choose(fits, loads, capture.quantity, is_final=False).best

    def read_at(one: Fit, load: Load) -> float:
        return _read_at(streams[one.kind.stream], one, load)

    fits_well = learned is not None and _lies_on_a_line(learned.choice.best)
    slip = None if fits_well else mistyped(capture.loads, best_of, read_at, UNIT_OF[capture.quantity])
    if slip is None:
        return learned or Learned(reasons=(_nothing_follows(capture),))
    text, values = slip
    right = capture.with_loads(values)
    choice = choose(fits_of(streams, right, right.loads), right.loads, right.quantity)
    found = _described(name, right, choice, streams) if choice.best is not None else Learned()
    return replace(found, is_sure=False, mistakes=(text,), reasons=(text, *found.reasons))


def _plainest(streams: Sequence[Packets]) -> list[Packets]:
    return [replace(stream, kinds=plainest(stream.kinds)) for stream in streams]


def _without(capture: Capture, left_out: Load) -> Capture:
    """Leave out what arrived while a load was there, and on the way to it and from it."""
    first_s = max((load.end_s for load in capture.loads if load.end_s < left_out.end_s), default=-math.inf)
    last_s = min(
        (load.start_s for load in capture.loads if load.start_s > left_out.start_s), default=math.inf
    )
    arrivals = tuple(one for one in capture.arrivals if not first_s < one.time_s < last_s)
    return replace(capture, arrivals=arrivals)


def _read_at(stream: Packets, one: Fit, load: Load) -> float:
    """Read a number at a load that was left out when the number was found; NaN where it cannot be."""
    alike = (one.kind.length, one.kind.selectors, one.kind.make)
    kind = next((each for each in stream.kinds if (each.length, each.selectors, each.make) == alike), None)
    if kind is None:
        return math.nan
    values = one.loads_of(one.number.values(kind.frames[settled_rows(kind.time_s, load)]))
    return float(np.nanmedian(values)) if np.isfinite(values).any() else math.nan


def _lies_on_a_line(best: Fit | None) -> bool:
    """Say whether all loads agree, so that none can have been typed wrongly."""
    if best is None:
        return False
    if best.scale is not None:
        return best.span > _FEWEST_STEPS * best.step
    return best.worst < 0.004 * best.span and best.span > 100.0 * best.step and best.inside > 0.95


def _nothing_follows(capture: Capture) -> str:
    """Say what may be wrong where nothing follows the loads."""
    if capture.link == "ble" and not capture.written:
        return (
            "Nothing that arrives follows the loads. Some devices send the weight only after something has "
            "been written to them; if you know what, give it with --write."
        )
    return "Nothing that arrives follows the loads."


def _described(name: str, capture: Capture, choice: Choice, streams: Sequence[Packets]) -> Learned:
    assert choice.best is not None
    stream = streams[choice.best.kind.stream]
    one, outside = best_way(choice, stream, capture)
    told = written_if_told(name, capture, stream, one, outside)
    found = (one, outside, told) if told else read_by_marks(name, capture, stream, one)
    if found is None:
        return Learned(reasons=(_NOT_TOLD,), choice=choice, outside=outside)
    length = found[0].kind.length
    one, outside, written = best_written(name, capture, stream, found)
    left_out = unread(capture, one, outside, written.proof, stream.joined)
    clean = undamaged(one, outside.check, outside.certain, capture.loads, capture.quantity)
    verdict = judged(capture, choice, one, clean, written.proof, left_out, outside, stream.joined)
    slip = odd_one_out(one, capture.loads, UNIT_OF[capture.quantity])
    if slip:
        verdict = replace(
            verdict, is_sure=False, reasons=(slip, *(() if verdict.is_sure else verdict.reasons))
        )
    if told is None:
        verdict = replace(verdict, is_sure=False, reasons=(_BY_MARKS,))
    if verdict.is_sure and (
        left := left_open(capture, choice, one, outside, stream, length - outside.length)
    ):
        verdict = replace(verdict, is_sure=False, reasons=(left,))
    if verdict.is_sure and (
        left := doubt_of_refused(written.description, capture, one, outside, stream.joined)
    ):
        verdict = replace(verdict, is_sure=False, reasons=(left,))
    return Learned(
        written.text,
        written.description,
        verdict.is_sure,
        verdict.reasons,
        tuple(each.words for each in written.others),
        mistakes=(slip,) if slip else (),
        further_g=verdict.further_g,
        never_negative=not has_been_negative(one),
        choice=replace(choice, best=one),
        outside=outside,
        proof=written.proof,
    )
