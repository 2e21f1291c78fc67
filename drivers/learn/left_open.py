"""What about the packets themselves is left open by a description that reads them, in a sentence."""

from __future__ import annotations

from drivers.learn.captures.capture import Capture
from drivers.learn.checks.check import Check
from drivers.learn.doubts.left_lines import lines_made_alike, lines_with_its_check
from drivers.learn.doubts.sign_columns import has_sign_in_column
from drivers.learn.doubts.unexplained import (
    is_loose,
    is_read_in_part,
    lines_left_out,
    longer_left_out,
    may_end_in_check,
)
from drivers.learn.numbers.fitting import Fit
from drivers.learn.outside.false_starts import SELDOM_INSIDE, read_inside
from drivers.learn.outside.framed import Outside, is_explained, is_weakly_marked, may_be_turned
from drivers.learn.outside.headers import is_clear_mark
from drivers.learn.outside.passing import ends_in_passing
from drivers.learn.packets.kinds import fixed_bytes
from drivers.learn.packets.line_makes import LineMake
from drivers.learn.streams import Packets
from drivers.learn.ways import is_paused
from drivers.learn.weight.choosing import Choice

_WEAK_MARK = "Neither a check nor a clear first byte tells where a frame begins."
_PASSING_MARK = (
    "A byte that is needed to find a frame may be the upper one of a value that goes on beside it."
)
_TURNED = (
    "The byte that frames begin with comes in the weight as well, and the check holds from there on, too."
)
_READ_INSIDE = "Nothing but a check tells where its messages begin, and that is right inside of them as well."
_LOOSE_DIGITS = "A number may come to have more digits, and then the lines are longer."
_PART_CHECKED = "The check covers the end of the frames only: several messages may have been taken for one."
_OWN_START = "The check begins with a value of its own, and more follows that it does not cover."
_READ_IN_PART = "Between the frames there is always more, and no check tells that they end where it begins."
_SIGN_IN_COLUMN = "Another column of the lines tells when it is below zero, which a pattern cannot read."
_OPEN_CHECK = (
    "The last bytes look like a check that cannot be worked out; more loads, and moving ones, may tell."
)

_ALIKE = 0.02
"""Share of the lines that are read that others are made like: damage makes fewer."""

_LATEST_START, _LONGEST_HEADER, _LONGEST_END = 8, 3, 2
"""The first byte that a check covers at the latest, bytes before it with one that begins a message, and bytes
of an end that it does not cover."""


def left_open(
    capture: Capture, choice: Choice, one: Fit, outside: Outside, stream: Packets, cut_off: int
) -> str:
    """Say what is not understood; nothing where all is.

    :param cut_off: how many bytes of its frames a shorter description has left out
    """
    if one.kind.is_cut and is_weakly_marked(outside, one, is_paused=is_paused(one, stream, capture)):
        return _WEAK_MARK
    if stream.joined is not None and ends_in_passing(outside, one):
        return _PASSING_MARK
    if stream.joined is not None and may_be_turned(outside, one):
        return _TURNED
    if stream.joined is not None and read_inside(one, outside) > SELDOM_INSIDE:
        return _READ_INSIDE
    if stream.joined is not None and outside.check is not None and _may_begin_late(one, outside.check):
        return _PART_CHECKED
    if outside.check is not None and cut_off > _LONGEST_END and not is_explained(outside.check, one):
        return _OWN_START
    if outside.check is not None and _leaves_out(one, outside.check):
        return _OWN_START
    if is_loose(one, outside.check):
        return _LOOSE_DIGITS
    make = one.kind.make
    if has_sign_in_column(one, capture, stream.joined):
        return _SIGN_IN_COLUMN
    if isinstance(make, LineMake) and make.is_checked:
        return _OPEN_CHECK
    alike = lines_made_alike(capture, one, make, stream.joined) if isinstance(make, LineMake) else 0
    if left := lines_left_out(one, stream.kinds) or (alike if alike > _ALIKE * len(one.kind.frames) else 0):
        return f"{left} lines of another length are made in the same way, and are not read."
    if outside.check is not None and (left := lines_with_its_check(one, outside.check, stream.joined)):
        return f"{left} lines of another length have the same check, and are not read."
    if left := longer_left_out(one, outside, capture, stream.joined):
        return f"{left} longer messages hold the weight at the same place, and are not read."
    if outside.check is None and is_read_in_part(one):
        return _READ_IN_PART
    is_open = outside.check is None and one.kind.make is None
    if is_open and may_end_in_check(one, [each for each, _ in choice.copies]):
        return _OPEN_CHECK
    return ""


def _leaves_out(one: Fit, check: Check) -> bool:
    """Say whether a sum stands before what it covers, and leaves out bytes behind that change.

    Where a message has copies of a number and of a counter, those cancel, and what is left is no check.
    """
    if check.poly or check.at > check.start:
        return False
    behind = fixed_bytes(one.kind.frames)[check.stop :]
    return not check.is_plain and behind.count(None) > _LONGEST_END


def _may_begin_late(one: Fit, check: Check) -> bool:
    """Say whether a message of its own may begin just before what a check covers, far behind the first byte.

    One begins with a byte that stays; and a check that stands among the first bytes is that of all.
    """
    if check.start <= _LATEST_START or check.at <= _LATEST_START:
        return False
    usual = fixed_bytes(one.kind.frames[:, check.start - _LONGEST_HEADER : check.start + 1])
    return any(byte is not None and is_clear_mark(byte) for byte in usual)
