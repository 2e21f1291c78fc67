"""Learning how much flows after the call: robust with few data, and not thrown off by one bad pour."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.guide.hand import LONGEST_S, MOST, PRIOR_S, REACTION_S, Hand, Outcome
from logger.guide.outcomes import HEADER, outcomes_text, read_outcomes

LAG_S = 0.3


def outcome(delay_s: float, flow_g_s: float = 5.0, scale: str = "", lag_s: float = LAG_S) -> Outcome:
    return Outcome("pour", flow_g_s, delay_s * flow_g_s, lag_s, scale)


def test_an_unknown_hand_reacts_as_hands_do() -> None:
    """0.186 to 0.283 s: Nihon Jibiinkoka Gakkai Kaiho 93(5):746-755, see docs/check-values.md."""
    assert REACTION_S == 0.283
    assert Hand().delay_s("pour", LAG_S) == PRIOR_S["pour"] + LAG_S
    assert Hand().after_g("pour", 5.0, LAG_S) == pytest.approx(5.0 * (0.683 + 0.3))


def test_one_pour_moves_it_more_than_half_way_and_ten_nearly_all() -> None:
    late_s, prior_s = 1.6, PRIOR_S["pour"] + LAG_S
    one = Hand().learned(outcome(late_s)).delay_s("pour", LAG_S)
    assert prior_s + 0.5 * (late_s - prior_s) < one < late_s
    hand = Hand()
    for _ in range(10):
        hand = hand.learned(outcome(late_s))
    assert hand.delay_s("pour", LAG_S) == pytest.approx(late_s, abs=0.07)


def test_it_finds_the_hand_among_its_scatter() -> None:
    rng = np.random.default_rng(4)
    hand = Hand()
    for delay_s in rng.normal(1.3, 0.15, 30):
        hand = hand.learned(outcome(float(delay_s)))
    assert hand.delay_s("pour", LAG_S) == pytest.approx(1.3, abs=0.08)


def test_one_distracted_pour_does_not_spoil_the_next() -> None:
    hand = Hand()
    for delay_s in (1.0, 1.1, 0.95, 1.05, 1.0):
        hand = hand.learned(outcome(delay_s))
    before_s = hand.delay_s("pour", LAG_S)
    assert hand.learned(outcome(3.4)).delay_s("pour", LAG_S) - before_s < 0.1


@pytest.mark.parametrize(
    "bad",
    [outcome(-0.1), outcome(9.0), outcome(1.0, 0.1), outcome(float("nan")), outcome(1.0, float("inf"))],
)
def test_nothing_is_learned_from_what_was_no_answer(bad: Outcome) -> None:
    hand = Hand((outcome(1.0),))
    assert hand.learned(bad) == hand


def test_on_another_scale_the_hand_is_the_same_and_the_lag_another() -> None:
    slow = Hand(tuple(outcome(1.7, scale="slow", lag_s=0.8) for _ in range(20)), "quick")
    assert slow.delay_s("pour", 0.1) == pytest.approx(1.7 - 0.8 + 0.1, abs=0.05)
    known = Hand(slow.outcomes, "slow")
    assert known.delay_s("pour", 0.1) == pytest.approx(1.7, abs=0.15)  # its lag is in what was seen
    assert (known.lag_s, slow.lag_s) == (0.8, LAG_S)


def test_a_pour_teaches_nothing_of_a_shot() -> None:
    hand = Hand(tuple(outcome(2.5) for _ in range(5)))
    assert hand.delay_s("shot", LAG_S) == PRIOR_S["shot"] + LAG_S


def test_what_is_old_counts_less_and_goes_at_last() -> None:
    hand = Hand()
    for _ in range(40):
        hand = hand.learned(outcome(1.6))
    for _ in range(40):
        hand = hand.learned(outcome(0.9))
    assert hand.delay_s("pour", LAG_S) < 1.15
    assert len(hand.outcomes) == MOST


numbers = st.floats(-1e3, 1e3).map(lambda number: round(number, 3) + 0.0)
outcomes = st.builds(
    Outcome,
    st.sampled_from(["pour", "shot"]),
    numbers,
    numbers,
    numbers,
    st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30),
)


likely = st.builds(outcome, st.floats(0.0, 3.5), st.floats(0.5, 12.0), st.sampled_from(["", "another"]))


@settings(max_examples=40)
@given(st.lists(outcomes, max_size=5))
def test_a_file_of_outcomes_is_read_as_it_was_written(some: list[Outcome]) -> None:
    text = ",".join(HEADER) + "\n" + outcomes_text(some)
    assert read_outcomes(text) == (tuple(some), 0)


@given(st.text())
def test_any_text_is_read_without_a_crash(text: str) -> None:
    read, unread = read_outcomes(text)
    assert len(read) + unread <= text.count("\n") + text.count("\r") + 1
    assert Hand(read).delay_s("pour", LAG_S) > 0.0


@settings(max_examples=40)
@given(st.lists(outcomes | likely, max_size=30), st.floats(0.0, 1.2))
def test_whatever_was_seen_the_delay_is_one_that_a_hand_can_have(some: list[Outcome], lag_s: float) -> None:
    for scale in ("", "another"):
        hand = Hand(tuple(some), scale)
        for each in some:
            hand = hand.learned(each)
        assert 0.0 <= hand.delay_s("pour", lag_s) <= LONGEST_S + lag_s
