"""What was called and tasted, as somebody wrote it."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.cup.tasting import parse_taste, tasted_cup
from logger.recording.notes import Note, Noted

NOW = datetime(2026, 11, 25, tzinfo=UTC)


def _cup(*said: tuple[str, str, str]):
    notes = [Note(NOW, parse_taste(when, taster, text)) for when, taster, text in said]
    return tasted_cup("cup", Noted(tuple(notes)))


def test_a_taste_as_it_is_typed() -> None:
    note = parse_taste("tasted", "AB", "acidity=9, Body = 6.5 flavour=plum, dried  fig aroma=cedar")
    assert note.intensities == {"acidity": 9.0, "body": 6.5}
    assert note.words == {"flavour": ("plum", "dried fig"), "aroma": ("cedar",)}
    assert parse_taste("tasted", "", "flavor=plum").words == {"flavour": ("plum",)}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("sour", "'sour' is not said of anything"),
        ("very acidity=9", "'very' is not said of anything"),
        ("sourness=9", "'sourness' is none of acidity, sweetness"),
        ("acidity=16", "acidity=16 is no number from 0"),
        ("acidity=nan", "is no number from 0"),
        ("acidity=", "is no number from 0"),
        ("acidity=9 acidity=8", "acidity is said twice"),
        ("flavour=plum,,fig", "flavour names no word"),
        ("", "is not said of anything"),
    ],
)
def test_what_cannot_be_read(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        parse_taste("tasted", "AB", text)


@given(st.text(max_size=60))
def test_anything_is_read_or_refused(text: str) -> None:
    try:
        note = parse_taste("called", "", text)
    except ValueError:
        return
    assert note.intensities or note.words


def test_words_overlap_by_jaccard() -> None:
    cup = _cup(
        ("called", "AB", "flavour=plum, cedar, honey"),
        ("tasted", "CD", "flavour=Plum, honey"),
        ("tasted", "EF", "flavour=fig"),
    )
    # Both by either: {plum, honey} of {plum, cedar, honey} is 2/3; nothing of four words is 0. Their mean is
    # 1/3.
    assert cup.overlap("flavour") == pytest.approx(1 / 3)
    assert cup.tasters_overlap("flavour") == 0.0
    assert cup.found("flavour") == {"cedar": 0, "honey": 1, "plum": 1}
    assert cup.overlap("aroma") is None


def test_what_was_called_and_tasted_is_the_mean_over_persons() -> None:
    cup = _cup(("called", "AB", "body=6"), ("tasted", "CD", "body=7"), ("tasted", "EF", "body=8 acidity=3"))
    assert cup.called_at("body") == 6.0
    assert cup.tasted_at("body") == 7.5
    assert cup.called_at("acidity") is None


def test_the_order_of_attributes() -> None:
    cup = _cup(
        ("called", "AB", "acidity=9 sweetness=6 body=6"), ("tasted", "CD", "acidity=8 sweetness=9 body=5")
    )
    # Called unlike: acidity over sweetness (not so tasted) and over body (so tasted).
    assert cup.in_order() == (1, 2)
