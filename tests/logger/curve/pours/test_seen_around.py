"""What is seen around an end: whether it fades as an espresso does is said, or has to be waited for."""

from dataclasses import replace

import numpy as np
import pytest

from logger.curve import Method, analyse
from logger.curve.pours import certainty
from tests.benchmarks.curve_suite import ESPRESSO, LEVELS, Floats, simulate, weights

SOON_S, LATER_S = 1.5, 8.0


def cut(after_end_s: float, seed: int = 0) -> tuple[Floats, Floats, float]:
    """An espresso of which no more was seen than so long after its end, and when that was."""
    brew = simulate(ESPRESSO, seed, replace(LEVELS["easy"], step_g=(0.1,)))
    time_s, weight_g = weights(brew)
    end_s = brew.truth.pours[0].end_s
    seen = time_s <= end_s + after_end_s
    return time_s[seen], weight_g[seen], end_s


@pytest.mark.parametrize(
    ("method", "after_end_s", "from_bed"),
    [
        (None, SOON_S, False),
        (None, LATER_S, True),
        ("espresso", SOON_S, True),
        ("pour-over", LATER_S, False),
    ],
)
def test_a_thin_end_is_an_espresso_s_when_somebody_says_so_or_it_has_rested(
    method: Method | None, after_end_s: float, from_bed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[bool] = []
    around = certainty.seen_around

    def listened(*args: object, **more: object) -> object:
        starts, ends = around(*args, **more)  # type: ignore[arg-type]
        asked.extend(end.from_bed for end in ends)
        return starts, ends

    monkeypatch.setattr(certainty, "seen_around", listened)
    time_s, weight_g, _ = cut(after_end_s)
    assert analyse(time_s, weight_g, method).pours
    assert set(asked) == {from_bed}


def test_said_to_be_an_espresso_its_end_is_told_no_worse() -> None:
    """Seen for 1.5 s after it; measured over 24: 0.15 s off either way."""
    off_s: dict[Method | None, list[float]] = {None: [], "espresso": []}
    for seed in range(24):
        time_s, weight_g, end_s = cut(SOON_S, seed)
        for method, each in off_s.items():
            each.append(abs(analyse(time_s, weight_g, method).pours[-1].end_s - end_s))
    said, unsaid = np.median(off_s["espresso"]), np.median(off_s[None])
    assert said < unsaid + 0.02
    assert said < 0.3
