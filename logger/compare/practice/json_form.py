"""The results as plain data: every number with its unit and its n; what cannot be said is None."""

from __future__ import annotations

import math
from typing import Any

from logger.compare.practice.contrasts import Contrast, TwoSets
from logger.compare.practice.estimates import (
    ControlChart,
    Estimate,
    ToleranceInterval,
)
from logger.compare.practice.results import (
    Fix,
    NextCup,
    OddPosition,
    Positions,
    Practice,
    Scatter,
    StageSpread,
)


def to_json(result: Practice | TwoSets) -> dict[str, Any]:
    """Give a practice set, or two compared, as a dictionary that JSON can carry."""
    return _two_sets(result) if isinstance(result, TwoSets) else _practice(result)


def estimate_json(one: Estimate) -> dict[str, Any]:
    """Give a number with its interval."""
    return {
        "value": _number(one.value),
        "low": _number(one.low),
        "high": _number(one.high),
        "confidence": one.confidence,
        "n": one.n,
        "unit": one.unit,
    }


def _number(value: float) -> float | None:
    return round(float(value), 6) + 0.0 if math.isfinite(value) else None


def _practice(practice: Practice) -> dict[str, Any]:
    return {
        "target": practice.target.title,
        "n": practice.n,
        "enough": practice.enough,
        "verdict": practice.verdict,
        "change": practice.change,
        "why": practice.why,
        "notes": list(practice.notes),
        "next_cup": _next_cup(practice.next_cup),
        "stages": [_stage(one) for one in practice.stages],
        "whole": {one.quantity: _scatter(one) for one in practice.whole},
        "fixes": [_fix(one) for one in practice.fixes],
        "positions": _positions(practice.positions),
        "brews": [
            {
                "name": brew.name,
                "started": brew.started.isoformat() if brew.started else None,
                "inside": brew.inside,
                "round": brew.round or None,
                "position": brew.position or None,
                "worst_in_tolerances": _number(float(worst)),
                "worst_figure": _figure(figure),
            }
            for brew, worst, figure in zip(
                practice.brews, practice.next_cup.worst, practice.next_cup.worst_figure, strict=True
            )
        ],
    }


def _figure(name: tuple[str, str] | None) -> dict[str, str] | None:
    return None if name is None else {"stage": name[0], "quantity": name[1]}


def _next_cup(cup: NextCup) -> dict[str, Any]:
    return {
        "inside": estimate_json(cup.inside),
        "n": cup.n,
        "n_inside": cup.n_inside,
        "n_skipped": cup.n_skipped,
        "n_cut_off": cup.n_cut_off,
        "counted": [_figure(name) for name in cup.counted],
        "uncounted": [
            {"stage": stage, "quantity": quantity, "why": why} for stage, quantity, why in cup.uncounted
        ],
        "says": cup.says,
    }


def _stage(one: StageSpread) -> dict[str, Any]:
    return {
        "name": one.stage.name,
        "n": one.n,
        "n_inside": one.n_inside,
        "n_missing": one.n_missing,
        "inside": estimate_json(one.inside),
        "figures": {figure.quantity: _scatter(figure) for figure in one.figures},
    }


def _scatter(one: Scatter) -> dict[str, Any]:
    return {
        "unit": one.unit,
        "kind": one.kind,
        "judged": one.judged,
        "wanted": _number(one.wanted),
        "limit_low": _number(one.limits[0]),
        "limit_high": _number(one.limits[1]),
        "step": _number(one.step),
        "n": one.n,
        "n_told": one.n_told,
        "n_inside": one.n_inside,
        "n_over": one.n_over,
        "n_under": one.n_under,
        "sd": _number(one.sd),
        "likely_low": _number(one.likely[0]),
        "likely_high": _number(one.likely[1]),
        "mean": estimate_json(one.average),
        "spread": estimate_json(one.spread),
        "trend": {**estimate_json(one.trend), "p": _number(one.trend_p)},
        "cp": estimate_json(one.cp),
        "cpk": estimate_json(one.cpk),
        "inside": estimate_json(one.inside),
        "tolerance_interval": _tolerance(one.tolerance),
        "control_chart": _chart(one.chart),
    }


def _tolerance(one: ToleranceInterval) -> dict[str, Any]:
    return {
        "low": _number(one.low),
        "high": _number(one.high),
        "factor": _number(one.factor),
        "share": one.share,
        "confidence": one.confidence,
        "n": one.n,
        "unit": one.unit,
        "says": one.says,
    }


def _chart(chart: ControlChart | None) -> dict[str, Any] | None:
    if chart is None:
        return None
    return {
        "centre": _number(chart.centre),
        "low": _number(chart.low),
        "high": _number(chart.high),
        "sigma": _number(chart.sigma),
        "n": len(chart.values),
        "unit": chart.unit,
        "brews": list(chart.brews),
        "values": [_number(value) for value in chart.values],
        "signals": [{"rule": one.rule, "brew": one.brew, "above": one.above} for one in chart.signals],
    }


def _fix(fix: Fix) -> dict[str, Any]:
    return {
        "stage": fix.stage,
        "quantity": fix.quantity,
        "kind": fix.kind,
        "part": fix.part,
        "own": estimate_json(fix.own),
        "now": _number(fix.now),
        "then": _number(fix.then),
        "gain": _number(fix.gain),
        "n": fix.own.n,
        "carried": fix.carried,
        "brews_needed": fix.brews_needed,
        "first_share": _number(fix.first_share),
        "says": fix.says,
        "change": fix.change,
        "rule": fix.rule,
    }


def _positions(positions: Positions) -> dict[str, Any]:
    return {
        "rounds": [list(one) for one in positions.rounds],
        "odd": [_odd(one) for one in positions.odd],
        "says": positions.says,
    }


def _odd(one: OddPosition) -> dict[str, Any]:
    return {
        "stage": one.stage,
        "quantity": one.quantity,
        "position": one.position,
        "difference": estimate_json(one.difference),
        "p": _number(one.p),
        "says": one.says,
    }


def _two_sets(two: TwoSets) -> dict[str, Any]:
    return {
        "names": list(two.names),
        "verdict": two.verdict,
        "notes": list(two.notes),
        "contrasts": [_contrast(one) for one in two.contrasts],
        "first": _practice(two.first),
        "second": _practice(two.second),
    }


def _contrast(one: Contrast) -> dict[str, Any]:
    return {
        "stage": one.stage,
        "quantity": one.quantity,
        "kind": one.kind,
        "unit": one.unit,
        "first": estimate_json(one.first),
        "second": estimate_json(one.second),
        "difference": estimate_json(one.difference),
        "effect": estimate_json(one.effect),
        "p": _number(one.p),
        "spread_ratio": estimate_json(one.spread_ratio),
        "spread_p": _number(one.spread_p),
        "beyond_chance": one.beyond_chance,
        "spread_beyond_chance": one.spread_beyond_chance,
        "says": one.says,
    }
