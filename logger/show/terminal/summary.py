"""The report of one brew in the terminal: verdict first, one thing to change, then curve and figures.

It needs no colour and no wide window; where the terminal cannot show Unicode it keeps to ASCII.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from logger.show.curves.thinning import between, brew_curves
from logger.show.figures.brew_figure import plan_offset_s, shown_end_s
from logger.show.terminal.terminal_chart import chart
from logger.show.terminal.text import ALARM, is_plain, print_chart, print_words, words_table
from logger.show.words.bed_words import bed_sentences, drawdown_sentence
from logger.show.words.certainty import GIVE_OR_TAKE, how_sure, pours_known
from logger.show.words.cup_words import cup_sentences_of
from logger.show.words.headline import NO_BREW_HINT, NO_TARGET, facts_of, poured_in_all, title_of, verdict_of
from logger.show.words.pour_temperatures import temperatures_during
from logger.show.words.shot_words import shot_sentences
from logger.show.words.temperature_words import temperature_sentences
from logger.show.words.wording import (
    amount,
    difference_words,
    event_words,
    finding_words,
    give_or_take,
    grams,
    inside_mark,
    is_outside,
    marked,
    quantity_words,
    sentence,
    short_clock,
    value_words,
    wanted_words,
)

if TYPE_CHECKING:
    from datetime import tzinfo

    from rich.console import Console
    from rich.table import Table

    from logger.compare import Brew, Comparison, Deviation
    from logger.curve import Floats, Method

_CHART_LINES = 12
_MOST_COLUMNS = 100
_BESIDE_COLUMNS, _CHANNEL_COLUMNS = 66, 14


def print_summary(brew: Brew, console: Console, zone: tzinfo | None = None) -> None:
    """Print the summary.

    :param zone: the time zone to show the start in; None for this machine's
    """
    print_words(console, title_of(brew), "bold")
    print_words(console, " · ".join(facts_of(brew, zone)))
    for problem in brew.recording.problems:
        print_words(console, f"! {problem}", ALARM)
    console.print()
    _print_verdict(brew, console)
    if brew.analysis.start_s is None:
        return
    console.print()
    _print_chart(brew, console)
    if brew.comparison:
        console.print(_judged_table(brew, brew.comparison, console))
    else:
        _print_pours(brew, console)
    remarks = [
        *cup_sentences_of(brew),
        *shot_sentences(brew.shots, brew.analysis.start_s),
        *_of_the_bed(brew),
        *temperature_sentences(brew.thermometers, brew.analysis.start_s),
        *_remarks(brew),
    ]
    if remarks:
        console.print()
    for remark in remarks:
        print_words(console, remark)


def _print_verdict(brew: Brew, console: Console) -> None:
    comparison, analysis = brew.comparison, brew.analysis
    is_told = comparison is not None and comparison.inside is not None
    mark = f"{inside_mark(comparison.inside, is_plain(console))} " if comparison and is_told else ""
    print_words(console, mark + verdict_of(brew), "bold")
    if analysis.start_s is None:
        print_words(console, NO_BREW_HINT)
        return
    if comparison is None:
        print_words(console, NO_TARGET)
        return
    if comparison.change:
        print_words(console, f"Change this next: {sentence(comparison.change)}", ALARM)
    print_words(console, poured_in_all(brew))
    for limit in how_sure(brew):
        print_words(console, limit, "dim")


def _print_chart(brew: Brew, console: Console) -> None:
    end_s = shown_end_s(brew)
    time_s, weight_g, _ = brew_curves(brew.analysis)
    time_s, weight_g = between(time_s, weight_g, 0.0, end_s)
    if len(time_s) < 2:
        return
    width = min(console.width, _MOST_COLUMNS)
    print_chart(console, chart(time_s, weight_g, _band(brew, time_s), width, _CHART_LINES, is_plain(console)))


def _band(brew: Brew, time_s: Floats) -> tuple[Floats, Floats] | None:
    if brew.comparison is None:
        return None
    from logger.target import corridor

    return corridor(brew.comparison.target, np.asarray(time_s) + plan_offset_s(brew))


def _judged_table(brew: Brew, comparison: Comparison, console: Console) -> Table:
    """Table every figure with what was wanted; a stage's name stands at its first line alone."""
    rows: list[tuple[str, ...]] = []
    outside: list[int] = []
    groups = [(result.stage.name, finding_words(result), result.deviations) for result in comparison.stages]
    for name, finding, deviations in [*groups, ("whole brew", "", comparison.whole)]:
        for number, deviation in enumerate(deviations):
            if is_outside(deviation.inside):
                outside.append(len(rows))
            lead = name if number == 0 else ""
            rows.append((lead, *_row(deviation, brew.analysis.method, is_plain(console))))
        if finding and not deviations:
            outside.append(len(rows))
            rows.append((name, "", "", "", "", marked(False, is_plain(console))))
    heads = ("stage", "", "wanted", "was", "difference", "result")
    return words_table(heads, rows, is_plain(console), outside)


def _row(deviation: Deviation, method: Method | None, plain: bool) -> tuple[str, ...]:
    return (
        quantity_words(deviation.quantity, method),
        wanted_words(deviation),
        value_words(deviation.quantity, deviation.actual) if np.isfinite(deviation.actual) else "-",
        difference_words(deviation),
        marked(deviation.inside, plain),
    )


def _print_pours(brew: Brew, console: Console) -> None:
    """Table the pours; how sure they are stands beside the figures, or where that is too wide, below."""
    wide = console.width >= _BESIDE_COLUMNS + _CHANNEL_COLUMNS * len(brew.temperatures)
    console.print(_pours_table(brew, console, beside=wide))
    if words := pours_known(brew.analysis):
        print_words(console, GIVE_OR_TAKE if wide else words, "dim")


def _pours_table(brew: Brew, console: Console, *, beside: bool) -> Table:
    start_s = brew.analysis.start_s or 0.0
    known = give_or_take if beside else _alone
    rows = [
        (
            str(number),
            known(short_clock(pour.start_s - start_s), pour.start_between_s, pour.start_s),
            known(short_clock(pour.end_s - start_s), pour.end_between_s, pour.end_s),
            known(grams(pour.poured_g), pour.poured_between_g, pour.poured_g),
            grams(pour.to_g),
            amount(pour.mean_flow_g_s, "g/s"),
            *(amount(mean, "°C") for mean in temperatures_during(brew, pour).values()),
        )
        for number, pour in enumerate(brew.analysis.pours, 1)
    ]
    heads = ("pour", "from", "to", "poured", "on scale", "flow", *brew.temperatures)
    return words_table(heads, rows, is_plain(console))


def _alone(value: str, _between: tuple[float, float] | None, _was: float) -> str:
    return value


def _of_the_bed(brew: Brew) -> list[str]:
    """Say what the bed did, or what one scale tells of its drawdown."""
    start_s = brew.analysis.start_s or 0.0
    if brew.bed is not None:
        return bed_sentences(brew.bed, brew.drawdown, start_s)
    if brew.drawdown is None or brew.drawdown.dry_s is None:
        return []
    return [drawdown_sentence(brew.drawdown, start_s)]


def _remarks(brew: Brew) -> list[str]:
    """Say what the table has no place for: how stages were found, extra pours, events, notes."""
    analysis, comparison = brew.analysis, brew.comparison
    start_s = analysis.start_s or 0.0
    remarks = []
    for result in comparison.stages if comparison else ():
        if finding := finding_words(result):
            remarks.append(f"{result.stage.name}: {finding}.")
        remarks += [
            f"{result.stage.name}, {quantity_words(one.quantity)}: {one.why}."
            for one in result.deviations
            if one.why
        ]
    for one in comparison.whole if comparison else ():
        if one.why:
            remarks.append(f"{quantity_words(one.quantity, analysis.method)}: {one.why}.")
    for pour in comparison.extra if comparison else ():
        remarks.append(
            f"Poured without a stage for it: {grams(pour.poured_g)} at {short_clock(pour.start_s - start_s)}."
        )
    events = [
        f"{event_words(event.kind)} {short_clock(event.start_s - start_s)}" for event in analysis.events
    ]
    if events:
        remarks.append(f"What else moved the scale: {', '.join(events)}.")
    remarks += comparison.notes if comparison else ()
    return remarks
