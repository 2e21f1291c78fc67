"""A report as one line of JSON: every number that the report shows, units in the names of the keys.

``docs/read-a-report.md`` documents the keys; they change only with a note in the changelog.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from logger.show.plain_data.bed_json import bed_json, drawdown_json
from logger.show.plain_data.cup_json import cup_json_of
from logger.show.plain_data.json_numbers import number, span, truth
from logger.show.plain_data.shot_json import shots_json
from logger.show.plain_data.temperature_json import thermometers_json
from logger.show.words.certainty import reading_uncertainty_g
from logger.show.words.pour_temperatures import temperatures_during

if TYPE_CHECKING:
    from logger.compare import Brew, Comparison, Deviation
    from logger.curve import Event, Pour


def json_line(brew: Brew) -> str:
    """Write a report as one line of ASCII, without line end."""
    return json.dumps(report_json(brew), allow_nan=False)


def report_json(brew: Brew) -> dict[str, Any]:
    """Give a report as plain data; what was not measured is None.

    Times count from the brew's start, except ``brew_start_s``, which counts from the recording's.
    """
    recording, analysis = brew.recording, brew.analysis
    start_s = analysis.start_s
    meta = recording.meta
    return {
        "recording": recording.name,
        "title": meta.title,
        "started": meta.started.isoformat() if meta.started else None,
        "coffee": meta.coffee,
        "dose_g": number(meta.dose_g),
        "grind": meta.grind,
        "brewer_notes": meta.notes,
        "complete": meta.complete,
        "problems": list(recording.problems),
        "method": analysis.method,
        "brew_start_s": number(start_s),
        "end_s": None if start_s is None or analysis.end_s is None else number(analysis.end_s - start_s),
        "total_g": number(analysis.total_g),
        "drift_g": number(analysis.drift_g),
        "pours": [_pour(brew, pour) for pour in analysis.pours],
        "events": [_event(event, start_s or 0.0) for event in analysis.events],
        "step_g": number(analysis.step_g),
        "noise_g": number(analysis.noise_g),
        "response_s": number(analysis.response_s),
        "uncertainty_g": number(reading_uncertainty_g(analysis)),
        "drawdown": drawdown_json(brew.drawdown, start_s),
        "bed": bed_json(brew.bed, start_s),
        "shots": shots_json(brew.shots, start_s),
        "thermometers": thermometers_json(brew.thermometers, start_s),
        "cup": cup_json_of(brew),
        **_comparison(brew, brew.comparison),
    }


def _pour(brew: Brew, pour: Pour) -> dict[str, Any]:
    start_s = brew.analysis.start_s or 0.0
    return {
        "start_s": number(pour.start_s - start_s),
        "end_s": number(pour.end_s - start_s),
        "from_g": number(pour.from_g),
        "to_g": number(pour.to_g),
        "poured_g": number(pour.poured_g),
        "start_between_s": span(pour.start_between_s, start_s),
        "end_between_s": span(pour.end_between_s, start_s),
        "poured_between_g": span(pour.poured_between_g),
        "mean_flow_g_s": number(pour.mean_flow_g_s),
        "peak_flow_g_s": number(pour.peak_flow_g_s),
        "temperature_c": {channel: number(mean) for channel, mean in temperatures_during(brew, pour).items()},
    }


def _event(event: Event, start_s: float) -> dict[str, Any]:
    return {
        "kind": event.kind,
        "start_s": number(event.start_s - start_s),
        "end_s": number(event.end_s - start_s),
        "lasts_s": number(event.end_s - event.start_s),
        "change_g": number(event.change_g),
    }


def _comparison(brew: Brew, comparison: Comparison | None) -> dict[str, Any]:
    if comparison is None:
        return dict.fromkeys(
            ("target", "inside", "verdict", "change", "notes", "stages", "whole", "extra_pours"), None
        )
    return {
        "target": comparison.target.title,
        "inside": truth(comparison.inside),
        "verdict": comparison.verdict,
        "change": comparison.change,
        "notes": list(comparison.notes),
        "stages": [
            {
                "name": result.stage.name,
                "finding": result.finding,
                "inside": truth(result.inside),
                "deviations": _deviations(result.deviations),
            }
            for result in comparison.stages
        ],
        "whole": _deviations(comparison.whole),
        "extra_pours": [_pour(brew, pour) for pour in comparison.extra],
    }


def _deviations(deviations: tuple[Deviation, ...]) -> dict[str, Any]:
    return {
        deviation.quantity: {
            "wanted": number(deviation.wanted),
            "window": None if deviation.window is None else [number(edge) for edge in deviation.window],
            "actual": number(deviation.actual),
            "difference": number(deviation.difference),
            "tolerance": number(deviation.tolerance),
            "inside": truth(deviation.inside),
            "why": deviation.why,
        }
        for deviation in deviations
    }
