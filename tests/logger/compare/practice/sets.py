"""Practice sets of brews made by hand: four pours, each as far off as a test wants it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from logger.compare import Brew
from tests.logger.compare.brews import START_S, analysis, compared, four_pours

EVENING = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)


def brew(
    over_g: Sequence[float] = (0.0, 0.0, 0.0, 0.0),
    late_s: Sequence[float] = (0.0, 0.0, 0.0, 0.0),
    *,
    flow_g_s: float = 6.0,
    lifted_s: float | None = 165.0,
    step_g: float = 0.1,
    started: datetime | None = None,
    name: str = "evening",
) -> Brew:
    """One brew.

    :param over_g: how far the weight on the scale is over at the end of each pour
    :param late_s: how late each pour starts; the first starts the clock
    """
    to_g = np.array([45.0, 100.0, 150.0, 250.0]) + over_g
    poured_g = np.diff(to_g, prepend=0.0)
    starts_s = np.array([0.0, 45.0, 75.0, 105.0]) + late_s
    found = analysis(*zip(starts_s, poured_g, [flow_g_s] * 4, strict=True), lifted_s=lifted_s, step_g=step_g)
    made = compared(found, four_pours())
    meta = replace(made.recording.meta, started=started)
    return replace(made, recording=replace(made.recording, path=Path(name), meta=meta))


def cut_off() -> Brew:
    """A brew whose readings end in the last pour."""
    found = analysis((0.0, 45.0), (45.0, 55.0), (75.0, 50.0), (105.0, 30.0))
    seen = found.time_s <= START_S + 110.1
    return compared(
        replace(
            found,
            time_s=found.time_s[seen],
            weight_g=found.weight_g[seen],
            flow_g_s=found.flow_g_s[seen],
        ),
        four_pours(),
    )


def natural(n: int, seed: int, scale: float = 1.0) -> list[Brew]:
    """Brews as a good hand makes them, five minutes apart."""
    generator = np.random.default_rng(seed)
    return [
        brew(
            scale * generator.normal(0, 0.8, 4),
            [0.0, *scale * generator.normal(0, 0.7, 3)],
            flow_g_s=6.0 + scale * generator.normal(0, 0.2),
            lifted_s=165.0 + scale * generator.normal(0, 1.5),
            started=EVENING + timedelta(minutes=5 * number),
            name=f"brew-{number}",
        )
        for number in range(n)
    ]


def in_rounds(rounds: int, cups: int, heavy_g: float, seed: int) -> list[Brew]:
    """Cups in rounds on several evenings; the last of each round is heavier in the last pour."""
    generator = np.random.default_rng(seed)
    made = []
    for number in range(rounds):
        water_g = generator.normal(0, 0.5)
        for cup in range(cups):
            over_g = generator.normal(0, 0.25, 4)
            over_g[3] += water_g + (heavy_g if cup == cups - 1 else 0.0)
            started = EVENING + timedelta(days=number, minutes=6 * cup)
            made.append(brew(over_g, [0.0, *generator.normal(0, 0.5, 3)], started=started))
    return made
