"""The kind of brew, from its pours and from what is done after them."""

import pytest

from logger.curve.brew import Event, EventKind, Pour
from logger.curve.pours.method import find_method


def pours(*grams_and_seconds: tuple[float, float]) -> tuple[Pour, ...]:
    made, from_g, at_s = [], 0.0, 0.0
    for grams, lasts_s in grams_and_seconds:
        flow_g_s = grams / lasts_s
        made.append(Pour(at_s, at_s + lasts_s, from_g, from_g + grams, grams, flow_g_s, flow_g_s))
        from_g, at_s = from_g + grams, at_s + lasts_s + 20.0
    return tuple(made)


@pytest.mark.parametrize(
    ("brew", "method"),
    [
        (pours((36, 25)), "espresso"),
        (pours((20, 18)), "espresso"),
        (pours((2, 2), (34, 24)), "espresso"),
        (pours((115, 50)), "espresso"),
        (pours((115, 20)), "immersion"),
        (pours((160, 70)), "immersion"),
        (pours((20, 10), (95, 40)), "pour-over"),
        (pours((300, 25)), "immersion"),
        (pours((40, 5), (260, 26)), "immersion"),
        (pours((45, 8), (105, 18), (100, 20)), "pour-over"),
        (pours((50, 10), (250, 50)), "pour-over"),
        (pours((50, 8), (50, 8), (50, 8), (50, 8), (50, 8)), "pour-over"),
    ],
)
def test_amount_flow_and_number_of_pours_tell_the_method(brew: tuple[Pour, ...], method: str) -> None:
    assert find_method(brew, ()) == method


@pytest.mark.parametrize(
    ("kinds", "method"),
    [
        (("vessel-on",), "immersion"),
        (("stir", "vessel-on", "vessel-off"), "immersion"),
        (("press",), "immersion"),
        (("stir",), "pour-over"),
        (("vessel-off", "vessel-on"), "pour-over"),
    ],
)
def test_a_lid_or_a_plunger_after_two_pours_tells_an_immersion(
    kinds: tuple[EventKind, ...], method: str
) -> None:
    """What is lifted first and put back is a dripper."""
    brew = pours((120, 12), (180, 20))
    events = tuple(
        Event(kind, brew[-1].end_s + 5.0 * number, brew[-1].end_s + 5.0 * number + 1.0, 10.0)
        for number, kind in enumerate(kinds, 1)
    )
    assert find_method(brew, events) == method
