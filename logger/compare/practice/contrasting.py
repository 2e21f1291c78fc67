"""Two practice sets compared: two recipes, two people, two scales."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from logger.compare.comparison import Brew
from logger.compare.evenness_words import ENOUGH
from logger.compare.practice.chance import ALPHA, finite, holm
from logger.compare.practice.contrast_words import contrast_words, verdict_on
from logger.compare.practice.contrasts import Contrast, TwoSets
from logger.compare.practice.estimates import (
    Floats,
)
from logger.compare.practice.intervals import mean_estimate
from logger.compare.practice.studying import noted_strengths, study
from logger.compare.practice.table import Column, table_of
from logger.compare.practice.two_samples import difference, effect_size, mean_p, spread_p, spread_ratio
from logger.target import Target

_SAID_BY_OTHERS = {False: ("poured_g",), True: ("poured_g", "total_g")}
"""What a weight on the scale says already: more figures would make each less sure."""


def contrast(
    first: Sequence[Brew],
    second: Sequence[Brew],
    target: Target,
    *,
    names: tuple[str, str] = ("first", "second"),
    second_target: Target | None = None,
    strengths: Mapping[str, float] | None = None,
) -> TwoSets:
    """Say which figures differ beyond chance between two practice sets.

    :param first: each brew compared with ``target``
    :param second: each compared with ``second_target``
    :param names: of the sets, for the sentences
    :param second_target: another recipe's; None for the same. Stages go with each other by their place
    :param strengths: by recording name the strength, % of mass; None for what was noted with the recordings
    """
    other = second_target or target
    strengths = noted_strengths([*first, *second]) if strengths is None else strengths
    tables = table_of(first, target, strengths), table_of(second, other, strengths)
    at = [{(one.stage, one.quantity): number for number, one in enumerate(t.columns)} for t in tables]
    pairs = []
    for key, number in at[0].items():
        if key in at[1] and key[1] not in _SAID_BY_OTHERS[bool(target.stages)]:
            values = tables[0].values[:, number], tables[1].values[:, at[1][key]]
            pairs.append((tables[0].columns[number], finite(values[0]), finite(values[1])))
    contrasts = contrasts_of(pairs, names)
    practices = study(first, target, strengths=strengths), study(second, other, strengths=strengths)
    return TwoSets(
        names=names,
        first=practices[0],
        second=practices[1],
        contrasts=contrasts,
        verdict=verdict_on(contrasts, names, tables[0].n, tables[1].n),
        notes=_notes(target, other, names, tables[0].n, tables[1].n),
    )


def contrasts_of(
    pairs: Sequence[tuple[Column, Floats, Floats]], names: tuple[str, str]
) -> tuple[Contrast, ...]:
    """Compare figure by figure; p-values are corrected over all means and all spreads together.

    :param pairs: of each figure the values in the first set and in the second, NaN-free
    """
    moving = [
        np.ptp(np.concatenate((one, two))) > 0 if one.size + two.size else False for _, one, two in pairs
    ]
    pairs = [pair for pair, moves in zip(pairs, moving, strict=True) if moves]
    chances = holm(
        [mean_p(one, two) for _, one, two in pairs] + [spread_p(one, two) for _, one, two in pairs]
    )
    return tuple(
        _contrast(column, one, two, names, chances[number], chances[number + len(pairs)])
        for number, (column, one, two) in enumerate(pairs)
    )


def _contrast(
    column: Column, one: Floats, two: Floats, names: tuple[str, str], p: float, p_of_spread: float
) -> Contrast:
    off, ratio = difference(one, two, column.unit), spread_ratio(one, two)
    beyond, spread_beyond = _is_beyond(p), _is_beyond(p_of_spread)
    return Contrast(
        stage=column.name,
        quantity=column.quantity,
        unit=column.unit,
        kind=column.kind,
        first=mean_estimate(one, column.unit),
        second=mean_estimate(two, column.unit),
        difference=off,
        effect=effect_size(one, two),
        p=p,
        spread_ratio=ratio,
        spread_p=p_of_spread,
        beyond_chance=beyond,
        spread_beyond_chance=spread_beyond,
        says=contrast_words(column, off, ratio, names, beyond=beyond, spread_beyond=spread_beyond),
    )


def _is_beyond(p: float) -> bool:
    return math.isfinite(p) and p <= ALPHA


def _notes(
    target: Target, other: Target, names: tuple[str, str], n_first: int, n_second: int
) -> tuple[str, ...]:
    notes = []
    for name, n in zip(names, (n_first, n_second), strict=True):
        if n < ENOUGH:
            notes.append(
                f"{name}: {n} {'brew' if n == 1 else 'brews'}, so only large differences can be told."
            )
    if len(target.stages) != len(other.stages):
        notes.append(
            f"The targets have {len(target.stages)} and {len(other.stages)} stages: only the first ones that "
            "both have are compared."
        )
    return tuple(notes)
