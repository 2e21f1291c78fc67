"""A practice set from its brews: everything that so many brews can say, together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from logger.compare.comparison import Brew
from logger.compare.evenness_words import ENOUGH, how_even, why_enough
from logger.compare.practice.counting import inside_of, next_cup_of
from logger.compare.practice.figures import scatters_of
from logger.compare.practice.places import positions_of
from logger.compare.practice.ranking import rank
from logger.compare.practice.results import (
    Positions,
    Practice,
    PracticeBrew,
    Scatter,
    StageSpread,
)
from logger.compare.practice.table import WHOLE, Table, table_of
from logger.compare.practice.words import change_words, notes_on
from logger.target import Target


def study(brews: Sequence[Brew], target: Target, *, strengths: Mapping[str, float] | None = None) -> Practice:
    """Say how even brews of one target are, and what to change next.

    :param brews: each compared with this target; those without a brew in them are left out
    :param strengths: by recording name the strength, % of mass; None for what was noted with the recordings
    """
    table = table_of(brews, target, noted_strengths(brews) if strengths is None else strengths)
    figures = scatters_of(table)
    next_cup, counted = next_cup_of(table)
    fixes = rank(table, next_cup, counted)
    positions = positions_of(table)
    stages = tuple(_stage(table, figures, number) for number in range(len(target.stages)))
    whole = tuple(each for each, column in zip(figures, table.columns, strict=True) if column.stage == WHOLE)
    n = table.n
    return Practice(
        target=target,
        brews=tuple(_brews(table, positions)),
        given=table.given,
        stages=stages,
        whole=whole,
        next_cup=next_cup,
        fixes=fixes,
        positions=positions,
        n=n,
        enough=n >= ENOUGH,
        why=why_enough(n),
        verdict=how_even(n, stages, whole, next_cup),
        change=change_words(fixes, stages, n),
        notes=notes_on(figures, fixes, n),
    )


def noted_strengths(brews: Sequence[Brew]) -> Mapping[str, float]:
    """The strength, % of mass, by recording name, where it was noted."""
    from logger.cup.refractometer import strength_percent

    noted = ((brew.recording.name, strength_percent(brew.recording)) for brew in brews)
    return {name: strength for name, strength in noted if strength is not None}


def _stage(table: Table, figures: Sequence[Scatter], number: int) -> StageSpread:
    results = [comparison.stages[number] for comparison in table.comparisons]
    own = [place for place, column in enumerate(table.columns) if column.stage == number]
    missing = sum(result.finding in ("missing", "merged") for result in results)
    return StageSpread(
        stage=table.target.stages[number],
        figures=tuple(figures[place] for place in own),
        n=len(results),
        n_inside=sum(result.inside is True for result in results),
        n_missing=missing,
        inside=inside_of(table, own, missing),
    )


def _brews(table: Table, positions: Positions) -> Iterator[PracticeBrew]:
    places = {
        brew: (number, place)
        for number, one in enumerate(positions.rounds, start=1)
        for place, brew in enumerate(one, start=1)
    }
    for number, brew in enumerate(table.brews):
        at = places.get(number, (0, 0))
        meta = brew.recording.meta
        inside = brew.comparison.inside if brew.comparison else None
        yield PracticeBrew(brew.recording.name, meta.started, inside, *at)
