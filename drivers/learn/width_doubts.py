"""Whether a number has room for what such an instrument must be able to say, and on which side it goes on."""

from __future__ import annotations

from collections.abc import Iterator

from drivers.learn.capture import UNIT_OF, Quantity
from drivers.learn.fitting import Fit
from drivers.learn.further import beyond_bytes
from drivers.learn.widths import LEAST_G, capacity, is_closed, is_order_open, may_go_on

_LEAST_CAPACITY = {"weight": LEAST_G, "temperature": 105.0}
"""What any instrument of the kind can say, g or °C."""
_TWO_POUNDS_G = 907.0
"""The same of one that counts in ounces: 32 of them, as a round figure there."""

_OF_SMALL = 0.45
"""Share of it that is enough for a number that has no byte to go on in: there are small instruments."""


def doubts_of_width(one: Fit, quantity: Quantity, taken: frozenset[int]) -> Iterator[tuple[str, float]]:
    """Doubt a number that has no room for what such an instrument must be able to say.

    :param taken: places of its check
    :returns: why, a sentence, and the load that would tell, g or °C
    """
    most, unit = capacity(one), UNIT_OF[quantity]
    least = _TWO_POUNDS_G if _is_in_ounces(one) else _LEAST_CAPACITY[quantity]
    least *= _OF_SMALL if is_closed(one) else 1.0
    if one.scale is None and one.zero_kind == "odd" and may_go_on(one, taken):
        least *= 2.0  # bare counts begin anywhere, and converters have more bits
    beyond = beyond_bytes(one, least)
    if most < least:
        text = f"The number that was found ends at {most:.0f} {unit}; a load beyond that would tell more."
        yield text, beyond
    elif is_order_open(one, taken):
        yield "No load has needed a second byte, and it may stand on either side.", beyond


def _is_in_ounces(one: Fit) -> bool:
    return one.scale is not None and one.scale.unit in ("oz", "lb")
