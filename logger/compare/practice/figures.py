"""One figure over the brews: everything that is said of it."""

from __future__ import annotations

import math

import numpy as np

from logger.compare.evenness_words import ENOUGH
from logger.compare.practice.chance import holm
from logger.compare.practice.control import control_chart
from logger.compare.practice.counting import inside_of
from logger.compare.practice.estimates import (
    Estimate,
)
from logger.compare.practice.intervals import (
    capability,
    likely_next,
    mean_estimate,
    sample_sd,
    sd_estimate,
    trend_estimate,
)
from logger.compare.practice.results import (
    Scatter,
)
from logger.compare.practice.table import INSIDE, OUTSIDE, Table
from logger.compare.practice.tolerance_factor import tolerance_interval


def scatters_of(table: Table) -> tuple[Scatter, ...]:
    """Every figure over the brews, in the order of the columns."""
    trends = []
    for number, column in enumerate(table.columns):
        brews = np.flatnonzero(np.isfinite(table.values[:, number]))
        values = table.values[brews, number]
        trends.append(trend_estimate(values, brews.astype(np.float64), f"{column.unit} per brew"))
    chances = holm([p for _, p in trends])
    return tuple(
        _scatter(table, number, trends[number][0], chances[number]) for number in range(len(table.columns))
    )


def _scatter(table: Table, number: int, trend: Estimate, trend_p: float) -> Scatter:
    column = table.columns[number]
    brews = np.flatnonzero(np.isfinite(table.values[:, number]))
    values, inside = table.values[brews, number], table.inside[:, number]
    n, sd = values.size, sample_sd(values)
    mean = float(values.mean()) if n else math.nan
    cp, cpk = capability(values, column.limits)
    outside = inside == OUTSIDE
    return Scatter(
        stage=column.name,
        quantity=column.quantity,
        unit=column.unit,
        kind=column.kind,
        wanted=column.wanted,
        limits=column.limits,
        n=n,
        n_inside=int((inside == INSIDE).sum()),
        n_told=int((inside == INSIDE).sum() + outside.sum()),
        n_over=int((outside & (table.values[:, number] > column.limits[1])).sum()),
        n_under=int((outside & (table.values[:, number] < column.limits[0])).sum()),
        step=float(np.median(table.steps[:, number])) if table.n else 0.0,
        mean=mean,
        sd=sd,
        likely=likely_next(mean, sd, n),
        average=mean_estimate(values, column.unit),
        spread=sd_estimate(values, column.unit),
        trend=trend,
        trend_p=trend_p,
        cp=cp,
        cpk=cpk,
        tolerance=tolerance_interval(values, column.unit, ENOUGH),
        chart=control_chart(values, brews.tolist(), column.unit) if n >= ENOUGH else None,
        inside=inside_of(table, [number]) if not _starts_clock(table, number) else _no_estimate(n),
        judged=column.judged,
    )


def _starts_clock(table: Table, number: int) -> bool:
    """Whether it is the first pour's start: always 0, so that nothing is to be said of it."""
    column = table.columns[number]
    return column.stage == 0 and column.quantity == "start_s"


def _no_estimate(n: int) -> Estimate:
    return Estimate(math.nan, math.nan, math.nan, n, "")
