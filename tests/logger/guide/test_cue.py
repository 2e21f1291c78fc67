"""A cue as JSON: everything a screen shows, in one line."""

from __future__ import annotations

import json
import math
from dataclasses import fields

from hypothesis import given
from hypothesis import strategies as st

from logger.guide import Call, Cue, Guide, Verdict
from tests.logger.guide.brews import followed
from tests.logger.guide.test_guiding import POURS, TARGET


def test_all_of_it_is_there_under_its_own_name() -> None:
    *_, cue = followed(Guide(TARGET), POURS, 26.0)
    told = json.loads(cue.to_json())
    assert list(told) == [field.name for field in fields(Cue)]
    assert told["stage"]["name"] == "pour 1" and told["phase"] == "pause"
    assert [stage["number"] for stage in told["stages"]] == [1, 2]
    assert len(told["ahead"]) == 21 and set(told["ahead"][0]) == {"clock_s", "low_g", "plan_g", "high_g"}
    assert "\n" not in cue.to_json()


def test_what_is_no_number_is_null() -> None:
    cue = Cue(1.0, "pouring", "pour", "pour", to_go_g=math.nan, flow_g_s=math.inf, poured_g=-0.0)
    told = json.loads(cue.to_json())
    assert told["to_go_g"] is None and told["flow_g_s"] is None
    assert '"poured_g":0.0' in cue.to_json()


@given(st.text(), st.floats(), st.integers())
def test_any_words_and_numbers_are_carried(text: str, number: float, count: int) -> None:
    cue = Cue(number, "done", "done", text, calls=(Call(count, number, "stop", text),), verdict=Verdict(text))
    told = json.loads(cue.to_json())
    assert told["word_text"] == text == told["calls"][0]["text"] == told["verdict"]["text"]
    assert told["calls"][0]["id"] == count
