"""What the bed did, as plain data for the line of JSON; ``docs/read-a-report.md`` documents the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from logger.show.plain_data.json_numbers import number

if TYPE_CHECKING:
    from logger.curve import Bed, Drawdown, Stretch, Tail


def drawdown_json(drawdown: Drawdown | None, start_s: float | None) -> dict[str, Any] | None:
    """Give the drawdown; None where there is none."""
    if drawdown is None:
        return None
    return {
        "start_s": _since(drawdown.start_s, start_s),
        "dry_s": _since(drawdown.dry_s, start_s),
        "lasts_s": number(drawdown.lasts_s),
        "by": drawdown.by,
        "at_latest": bool(drawdown.at_latest),
        **_tail(drawdown.tail),
        "why": drawdown.why,
    }


def bed_json(bed: Bed | None, start_s: float | None) -> dict[str, Any] | None:
    """Give the bed; None where there is no second scale."""
    if bed is None:
        return None
    water_g = _last(bed)
    return {
        "arrangement": bed.arrangement,
        "measured_until_s": _since(bed.end_s, start_s),
        "first_drip_s": _since(bed.first_drip_s, start_s),
        "water_in_g": number(water_g),
        "beverage_out_g": None
        if water_g is None or bed.held_end_g is None
        else number(water_g - bed.held_end_g),
        "held_g": number(bed.held_end_g),
        "held_sd_g": number(bed.held_sd_g),
        "held_per_dose": number(bed.held_per_dose),
        "kept_g": number(bed.kept_g),
        "drip_off_g": number(bed.drip_off_g),
        "stretches": [_stretch(stretch, start_s) for stretch in bed.stretches],
        "why": bed.why,
    }


def _last(bed: Bed) -> float | None:
    if bed.end_s is None:
        return None
    return float(bed.water_g[np.searchsorted(bed.time_s, bed.end_s, side="right") - 1])


def _stretch(stretch: Stretch, start_s: float | None) -> dict[str, Any]:
    return {
        "after_pour": stretch.after_pour,
        "start_s": _since(stretch.start_s, start_s),
        "end_s": _since(stretch.end_s, start_s),
        "passed_g": number(stretch.passed_g),
        **_tail(stretch.tail),
        "end_from": stretch.end_from,
        "why": stretch.why,
    }


def _tail(tail: Tail | None) -> dict[str, Any]:
    return {
        "tau_s": number(tail.tau_s if tail else None),
        "tau_sd_s": number(tail.tau_sd_s if tail else None),
    }


def _since(time_s: float | None, start_s: float | None) -> float | None:
    return None if time_s is None else number(time_s - (start_s or 0.0))
