"""Lines of text that are read by their parts: they may be longer by a digit or a minus some day."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drivers.learn.checks.check import Check
from drivers.learn.doubts.left_lines import lines_with_its_check
from drivers.learn.doubts.unexplained import has_no_room_for_sign, may_be_longer
from drivers.learn.numbers.fitting import Fit
from drivers.learn.packets.framing import ByteStream
from drivers.learn.packets.kinds import Kind
from drivers.learn.signs.below_zero import has_been_negative
from drivers.learn.weight.choosing import Choice

_NEARLY_AS_MANY = 0.97
"""Lines that a pattern reads, for each of one length."""


def by_pattern(choice: Choice, kinds: Sequence[Kind]) -> Fit | None:
    """Give the same number in lines of any length, where those of one length are not all, or have a check.

    Lines may be longer by a minus: what is read from their end backwards is above nought then.

    :param kinds: all that came by the same way
    """
    best = choice.best
    assert best is not None
    more = _patterns(choice)
    if not (best.kind.checked or may_be_longer(best, kinds)):
        more = [one for one in more if has_been_negative(one) and not has_been_negative(best)]
    return next(iter(more), None)


def with_room_for_sign(choice: Choice, one: Fit) -> Fit | None:
    """Give the same number in lines of any length, where those of one have no room for a minus.

    That may be one of another column: what is filtered goes below nought when the weight does not.

    :param one: the number as it was found in lines of one length
    """
    return next(iter(_patterns(choice)), None) if has_no_room_for_sign(one) else None


def with_columns_that_grow(
    choice: Choice, one: Fit, check: Check | None, joined: ByteStream | None
) -> Fit | None:
    """Give the same number in lines of any length, where some with the same check are longer or shorter.

    :param one: the number as it was found in lines of one length
    :param check: of those
    :param joined: the stream that they were cut out of
    """
    if check is None or not lines_with_its_check(one, check, joined):
        return None
    return next(iter(_patterns(choice)), None)


def _patterns(choice: Choice) -> list[Fit]:
    """Give the chosen number in lines of any length, where no fewer of those are read."""
    best = choice.best
    assert best is not None
    copies = (one for one, how in choice.copies if how == "copy" and one.kind.stream == best.kind.stream)
    same = (one for one in copies if one.kind.make is not None and one.scale == best.scale)
    more = (one for one in same if len(one.kind.frames) > _NEARLY_AS_MANY * len(best.kind.frames))
    # Without the sign of another column, an empty pan's noise is above nought throughout.
    near = 2.0 * best.grid + best.noise
    return [one for one in more if (np.abs(one.levels - best.levels) <= near).all()]
