"""An espresso as plain data for the line of JSON; ``docs/read-a-report.md`` documents the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from logger.show.plain_data.json_numbers import number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logger.curve.shot.figures import ShotFigures


def shots_json(shots: Sequence[ShotFigures], start_s: float | None) -> list[dict[str, Any]]:
    """Give the espressos as plain data; times count from the brew's start."""
    return [_shot_json(shot, start_s or 0.0) for shot in shots]


def _shot_json(shot: ShotFigures, start_s: float) -> dict[str, Any]:
    return {
        "pump_s": _since(shot.pump_s, start_s),
        "first_drip_s": _since(shot.first_drip_s, start_s),
        "pre_infusion_s": number(shot.pre_infusion_s),
        "full_s": _since(shot.full_s, start_s),
        "full_uncertainty_s": number(shot.full_uncertainty_s),
        "full_flow_g_s": number(shot.full_flow_g_s),
        "ramp_s": number(shot.ramp_s),
        "stop_s": _since(shot.stop_s, start_s),
        "stop_uncertainty_s": number(shot.stop_uncertainty_s),
        "shot_time_s": number(shot.shot_time_s),
        "end_s": _since(shot.end_s, start_s),
        "after_drip_s": number(shot.after_drip_s),
        "after_drip_g": number(shot.after_drip_g),
        "yield_at_stop_g": number(shot.yield_at_stop_g),
        "yield_at_stop_uncertainty_g": number(shot.yield_at_stop_uncertainty_g),
        "yield_at_rest_g": number(shot.yield_at_rest_g),
        "rest_seen": bool(shot.rest_seen),
        "yield_uncertainty_g": number(shot.yield_uncertainty_g),
        "average_flow_g_s": number(shot.average_flow_g_s),
        "peak_flow_g_s": number(shot.peak_flow_g_s),
        "parts": len(shot.pours),
        "remarks": list(shot.remarks),
    }


def _since(time_s: float | None, start_s: float) -> float | None:
    return None if time_s is None else number(time_s - start_s)
