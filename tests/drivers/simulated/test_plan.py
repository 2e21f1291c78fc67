"""A plan is read leniently and refused clearly."""

from contextlib import suppress
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.simulated import PRESETS, Plan, PlanError, read_plan, simulate


def test_the_steps_of_a_pour_over(pour_over: Plan) -> None:
    assert pour_over.method == "pour-over"
    assert pour_over.end_s == 180.0
    assert pour_over.total_g == 250.0
    assert [(step.start_s, step.from_g, step.to_g) for step in pour_over.steps] == [
        (0.0, 0.0, 45.0),
        (45.0, 45.0, 150.0),
        (75.0, 150.0, 250.0),
    ]
    assert [step.flow_g_s for step in pour_over.steps] == [6.0, 6.0, 5.0]


def test_the_windows_of_an_espresso(espresso: Plan) -> None:
    assert espresso.steps == ()
    assert espresso.shot is not None
    assert espresso.shot.yield_g == espresso.total_g == 36.0
    assert espresso.shot.time_s == (25.0, 30.0)
    assert espresso.shot.first_drip_s == (5.0, 8.0)


def test_a_duration_decides_the_flow(immersion: Plan) -> None:
    assert immersion.steps[0].flow_g_s == pytest.approx(300 / 25)


def test_waits_and_drawdowns_are_no_pours() -> None:
    plan = read_plan(
        '[[stage]]\nstart=0\nto_g=40\n[[stage]]\nname="wait"\nstart="0:10"\n'
        '[[stage]]\nname="drawdown"\nstart="0:50"\nto_g=40\n'
    )
    assert [step.to_g for step in plan.steps] == [40.0]


def test_a_plan_with_little_time_is_poured_faster_than_usual() -> None:
    plan = read_plan("[[stage]]\nstart=0\nto_g=100\n[[stage]]\nstart=10\nto_g=150\n")
    first = plan.steps[0]
    assert first.poured_g / first.flow_g_s < 10.0


def test_an_espresso_may_say_only_its_yield_and_time() -> None:
    plan = read_plan('[shot]\nyield_g=20\ntime=["0:06","0:09"]\n')
    assert plan.method == "espresso"
    assert plan.shot is not None
    assert plan.shot.first_drip_s[1] < plan.shot.time_s[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("title = \n", "line 1"),
        ('method = "siphon"\n', "siphon"),
        ("dose_g = 15\n", "no [[stage]]"),
        ('method = "espresso"\n', "[shot]"),
        ("[shot]\ntime = 25\n", "yield_g is missing"),
        ("[[stage]]\nstart=0\nto_g=90\n[[stage]]\nstart=60\nto_g=80\n", "cumulative"),
        ("[[stage]]\nstart=0\nto_g=50\n[[stage]]\nto_g=80\n", "stage 2"),
        ("[[stage]]\nstart=30\nto_g=50\n[[stage]]\nstart=30\nto_g=80\n", "starts no later"),
        ('[[stage]]\nstart="0:75"\nto_g=50\n', "not a time"),
        ("[[stage]]\nstart=0\nto_g=true\n", "not a number"),
        ("[[stage]]\nstart=0\nto_g=50\nflow_g_s=0\n", "out of range"),
        ('end="720:00"\n[[stage]]\nstart=0\nto_g=50\n', "an hour"),
        ('[shot]\nyield_g=36\ntime=["0:30","0:25"]\n', "earliest"),
        ("stage = 3\n", "[[stage]]"),
    ],
)
def test_what_cannot_be_brewed_is_refused_with_the_place(text: str, says: str) -> None:
    with pytest.raises(PlanError) as caught:
        read_plan(text)
    assert says in str(caught.value)


def test_a_file_is_named_in_the_message(tmp_path: Path) -> None:
    path = tmp_path / "broken.toml"
    path.write_text("dose_g = \n", encoding="utf-8")
    with pytest.raises(PlanError, match=r"broken\.toml"):
        read_plan(path)
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(PlanError, match="UTF-8"):
        read_plan(str(path))
    with pytest.raises(FileNotFoundError):
        read_plan(tmp_path / "none.toml")


@settings(deadline=None)
@given(st.text(max_size=200).map(lambda text: text + "\n"))
def test_no_text_is_too_odd_to_be_refused(text: str) -> None:
    with suppress(PlanError):
        assert read_plan(text).total_g > 0


_GRAMS = st.floats(0.05, 300.0)
_PAUSES = st.floats(0.1, 40.0)


@settings(max_examples=25, deadline=None)
@given(pours=st.lists(st.tuples(_GRAMS, _PAUSES), min_size=1, max_size=4), seed=st.integers(0, 2**32))
def test_whatever_can_be_planned_can_be_brewed(pours: list[tuple[float, float]], seed: int) -> None:
    text, start_s, to_g = "", 0.0, 0.0
    for poured_g, pause_s in pours:
        to_g += poured_g
        text += f"[[stage]]\nstart = {start_s}\nto_g = {to_g}\n"
        start_s += pause_s
    for conditions in (PRESETS["clean"], PRESETS["hard"]):
        truth = simulate(read_plan(text), seed, conditions).truth
        assert len(truth.pours) == len(pours)
        assert sum(pour.poured_g for pour in truth.pours) == pytest.approx(truth.total_g)
        assert all(a.end_s <= b.start_s for a, b in pairwise(truth.pours))
