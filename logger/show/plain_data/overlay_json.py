"""An overlay as plain data: every number that its page shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from logger.show.plain_data.bed_json import drawdown_json
from logger.show.plain_data.json_numbers import number, truth
from logger.show.plain_data.shot_json import shots_json

if TYPE_CHECKING:
    from logger.compare import Brew, Scatter, Spread
    from logger.compare.standing_apart import Apart
    from logger.curve import Floats
    from logger.show.curves.overlay_curves import Curves
    from logger.show.words.overlay_rows import Distance

_CURVE_POINTS = 400


def spread_json(spread: Spread) -> dict[str, Any]:
    """Give how even brews are; what cannot be said is None."""
    return {
        "target": spread.target.title,
        "method": spread.target.method,
        "dose_g": number(spread.target.dose_g),
        "total_g": number(spread.target.total_g),
        "n": spread.n,
        "enough": bool(spread.enough),
        "verdict": spread.verdict,
        "change": spread.change,
        "why": spread.why,
        "stages": [
            {
                "name": one.stage.name,
                "n": one.n,
                "n_inside": one.n_inside,
                "n_missing": one.n_missing,
                "figures": scatters_json(one.figures),
            }
            for one in spread.stages
        ],
        "whole": scatters_json(spread.whole),
    }


def scatters_json(scatters: Sequence[Scatter]) -> dict[str, Any]:
    """Give figures over the brews, by quantity."""
    return {
        one.quantity: {
            "wanted": number(one.wanted),
            "limit_low": number(one.limits[0]),
            "limit_high": number(one.limits[1]),
            "tolerance": number((one.limits[1] - one.limits[0]) / 2),
            "n": one.n,
            "n_told": one.n_told,
            "n_inside": one.n_inside,
            "mean": number(one.mean),
            "sd": number(one.sd),
            "likely_low": number(one.likely[0]),
            "likely_high": number(one.likely[1]),
        }
        for one in scatters
    }


def curves_json(curves: Curves) -> dict[str, Any]:
    """Give one view's median and spread, at most 400 points of each."""
    stride = max(1, -(-len(curves.time_s) // _CURVE_POINTS))
    bands = {"half": curves.half, "nine_tenths": curves.most}
    return {
        "unit": curves.unit,
        "n": curves.n,
        "time_s": _numbers(curves.time_s[::stride]),
        "n_at": [int(count) for count in curves.n_at[::stride]],
        "median": _numbers(curves.median[::stride]),
        **{
            f"{name}_{edge}": None if band is None else _numbers(band[place][::stride])
            for name, band in bands.items()
            for place, edge in enumerate(("low", "high"))
        },
    }


def brew_json(place: int, brew: Brew, distance: Distance, apart: Sequence[Apart]) -> dict[str, Any]:
    """Give one brew as an overlay shows it: how it went, and how it lies among the others.

    :param place: among the brews, from 1
    """
    meta, comparison = brew.recording.meta, brew.comparison
    start_s = brew.analysis.start_s
    return {
        "place": place,
        "recording": brew.recording.name,
        "started": meta.started.isoformat() if meta.started else None,
        "inside": truth(comparison.inside) if comparison else None,
        "total_g": number(brew.analysis.total_g),
        "drawdown": drawdown_json(brew.drawdown, start_s),
        "shots": shots_json(brew.shots, start_s),
        "furthest_g": number(distance.furthest_g),
        "furthest_at_s": number(distance.at_s),
        "curve_stands_apart": distance.stands_apart,
        "stands_apart": [
            {
                "stage": one.stage,
                "quantity": one.quantity,
                "value": number(one.value),
                "usual": number(one.usual),
                "off": number(one.off),
            }
            for one in apart
        ],
    }


def _numbers(values: Floats) -> list[float | None]:
    return [None if np.isnan(value) else round(float(value), 3) for value in values]
