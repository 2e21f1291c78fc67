"""How far apart the times are at which an edge may be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from logger.curve import analyse
from logger.curve.edges.edge import Edge, fit_edges
from logger.curve.edges.edge_misfits import Window
from logger.curve.pours import stretches
from logger.curve.pours.stretches import MOST_TRIED, TRIED_EVERY_S

VESSEL_G_S, WATER_G_S = 100.0, 8.0


@pytest.mark.parametrize("apart_s", [1.0, 10_000.0])
def test_where_hours_hide_an_edge_no_more_times_are_tried(
    monkeypatch: pytest.MonkeyPatch, apart_s: float
) -> None:
    """Two pours, each right after a vessel's step, which may hide its start."""
    windows: list[Window] = []

    def fitted(some: Sequence[Window], *args: Any, **options: Any) -> list[Edge]:
        windows.extend(some)
        return fit_edges(some, *args, **options)

    monkeypatch.setattr(stretches, "fit_edges", fitted)
    flows_g_s = np.repeat([0.0, VESSEL_G_S, WATER_G_S, VESSEL_G_S, WATER_G_S, 0.0], [6, 2, 6, 2, 6, 5])
    analyse(apart_s * np.arange(flows_g_s.size), np.cumsum(apart_s * flows_g_s))
    assert windows
    assert max(window.candidates_s.size for window in windows) <= MOST_TRIED + 2
    reaches_s = [window.candidates_s[-1] - window.candidates_s[0] for window in windows]
    assert (max(reaches_s) > MOST_TRIED * TRIED_EVERY_S) == (apart_s > 1.0)
    for window, reach_s in zip(windows, reaches_s, strict=True):
        assert window.step_s == pytest.approx(max(TRIED_EVERY_S, reach_s / MOST_TRIED), rel=2e-3)
