from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from logger.show.curves.label_places import PHONE_PX, PX_PER_LETTER, below, lanes

SHARES = st.lists(st.floats(0.0, 1.0), max_size=12).map(sorted)
WORD = st.text(st.characters(codec="ascii", categories=["L"]), min_size=3, max_size=16)


def _reach(share: float, text: str, side: str) -> tuple[float, float]:
    """From where to where a word is drawn on a phone, its mark left out."""
    at_px, long_px = share * PHONE_PX, PX_PER_LETTER * len(text)
    return (at_px, at_px + long_px) if side == "right" else (at_px - long_px, at_px)


@given(SHARES, st.data())
def test_words_of_one_lane_never_lie_on_each_other(shares: list[float], data: st.DataObject) -> None:
    words = [data.draw(WORD) for _ in shares]
    places, sides = lanes(shares, words)
    drawn = [
        (lane, *_reach(share, word, side))
        for lane, share, word, side in zip(places, shares, words, sides, strict=True)
    ]
    for number, (lane, start, end) in enumerate(drawn):
        for other_lane, other_start, other_end in drawn[number + 1 :]:
            assert lane != other_lane or end <= other_start or start >= other_end


def test_a_word_alone_takes_the_first_lane_and_stands_right_of_its_mark() -> None:
    assert lanes([0.2], ["knock"]) == ([0], ["right"])


def test_a_word_at_the_right_edge_stands_left_of_its_mark() -> None:
    assert lanes([0.97], ["vessel off"])[1] == ["left"]
    assert below([(0.97, 0.2, "2.1 g light")], 330)[0].side == "left"


def test_two_marks_at_the_same_place_have_their_words_below_each_other() -> None:
    first, second = below([(0.1, 0.8, "4.6 g heavy"), (0.11, 0.8, "19.4 s early")], 330)
    assert second.down == first.down + 1


def test_marks_far_from_each_other_have_their_words_right_below() -> None:
    places = below([(0.1, 0.8, "4.6 g heavy"), (0.6, 0.2, "19.4 s early")], 330)
    assert [place.down for place in places] == [1, 1]
