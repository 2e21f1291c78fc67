"""The report of one brew as one page of HTML: verdict first, then the figure, then the tables."""

from __future__ import annotations

import math
from html import escape
from typing import TYPE_CHECKING

from logger.show.figures.bed_figure import has_bed
from logger.show.figures.brew_figure import brew_figure
from logger.show.figures.figure import Figure, View
from logger.show.pages.cup_section import cup_figures_of, cup_section
from logger.show.pages.markup import Cell, bullets, element, grouped_table, section, table, wrapped
from logger.show.pages.page import figure_place, page
from logger.show.pages.report_sections import shots_section, temperatures_section
from logger.show.plain_data.json_line import report_json
from logger.show.words.bed_words import (
    BED_CAPTION,
    STRETCH_HEADS,
    bed_sentences,
    drawdown_sentence,
    stretch_rows,
)
from logger.show.words.certainty import GIVE_OR_TAKE, how_sure, reading_uncertainty_g
from logger.show.words.headline import (
    CAUTION,
    NO_BREW_HINT,
    NO_TARGET,
    device_words,
    facts_of,
    poured_in_all,
    title_of,
    verdict_of,
)
from logger.show.words.pour_temperatures import temperatures_during
from logger.show.words.wording import (
    amount,
    clock,
    difference_words,
    event_words,
    finding_words,
    give_or_take,
    grams,
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

    from logger.compare import Brew, Deviation, StageResult
    from logger.curve import Method

_HEADS = ("stage", "wanted", "was", "difference", "result")


def report_page(brew: Brew, zone: tzinfo | None = None) -> str:
    """Make the page.

    :param zone: the time zone to show the start in; None for this machine's
    """
    has_curve = len(brew.analysis.time_s) > 1
    title = title_of(brew)
    figures = [curve_figure(brew)] if has_curve else []
    parts = [
        wrapped("header", element("h1", title) + element("p", " · ".join(facts_of(brew, zone)), "facts")),
        _problems(brew),
        _verdict(brew),
        *(figure_place(figure) for figure in figures),
        _stages(brew),
        cup_section(brew),
        _extra(brew),
        shots_section(brew),
        _pours(brew),
        temperatures_section(brew),
        _bed(brew),
        _events(brew),
        _notes(brew),
        _about(brew),
        wrapped("footer", element("p", CAUTION)),
    ]
    return page(
        title, "\n".join(part for part in parts if part), [*figures, *cup_figures_of(brew)], report_json(brew)
    )


def _problems(brew: Brew) -> str:
    return wrapped("div", bullets(brew.recording.problems), "problem") if brew.recording.problems else ""


def _verdict(brew: Brew) -> str:
    lines = [element("p", verdict_of(brew), "verdict")]
    if brew.analysis.start_s is None:
        return "".join([*lines, element("p", NO_BREW_HINT)])
    if brew.comparison is None:
        return "".join([*lines, element("p", NO_TARGET, "sure")])
    if brew.comparison.change:
        lines.append(
            wrapped(
                "p", element("b", "Change this next") + escape(sentence(brew.comparison.change)), "change"
            )
        )
    lines.append(wrapped("p", element("b", "How sure?") + " " + escape(" ".join(how_sure(brew))), "sure"))
    return "".join(lines)


def curve_figure(brew: Brew) -> Figure:
    """The brew's curve, with what is to be seen in it."""
    label = f"Curve of the brew over time. {poured_in_all(brew)}"
    if brew.analysis.start_s is None:
        label = "Curve of the recording over time."
    return Figure("figure", label, curve_caption(brew), (View("curve", "curve", brew_figure(brew)),))


def curve_caption(brew: Brew) -> str:
    """Say what to see in the brew's curve, of how many, in which units, how sure."""
    sure_g = reading_uncertainty_g(brew.analysis)
    weight = "weight in g" + (f", good to ±{sure_g:.2g} g," if math.isfinite(sure_g) and sure_g > 0 else "")
    shown = f"one recording, its {weight} and flow in g/s over minutes and seconds"
    if brew.analysis.start_s is None:
        return f"Look for a rise that stays: {shown} from the first reading."
    is_shot = brew.analysis.method == "espresso"
    first, pour = ("drop in the cup", "the extraction") if is_shot else ("water on the scale", "each pour")
    shown += f" from the first {first}, {pour} shaded"
    if not brew.comparison:
        return f"Every rise is water that arrived: {shown}."
    words = "Where the thick line leaves the band with dotted edges, the target was missed: "
    words += f"{shown}, the plan dashed."
    return f"{words} {BED_CAPTION}" if has_bed(brew) else words


def _stages(brew: Brew) -> str:
    if brew.comparison is None or brew.analysis.start_s is None:
        return ""
    method = brew.analysis.method
    groups = [(_stage_heading(result), _rows(result.deviations, method)) for result in brew.comparison.stages]
    if brew.comparison.whole:
        groups.append((element("span", "the whole brew"), _rows(brew.comparison.whole, method)))
    return section("Against the target", grouped_table(_HEADS, groups, "judged"))


def _stage_heading(result: StageResult) -> str:
    finding = finding_words(result)
    aside = f" {element('span', finding, 'aside')}" if finding else ""
    return element("span", result.stage.name) + aside


def _rows(deviations: tuple[Deviation, ...], method: Method | None) -> list[list[Cell]]:
    rows = []
    for deviation in deviations:
        rows.append(_row(deviation, method))
        if deviation.why:
            rows.append([("", "why"), (deviation.why, "why")])
    return rows


def _row(deviation: Deviation, method: Method | None) -> list[Cell]:
    css_class = "outside" if is_outside(deviation.inside) else ""
    return [
        quantity_words(deviation.quantity, method),
        wanted_words(deviation),
        value_words(deviation.quantity, deviation.actual),
        (difference_words(deviation), f"whole {css_class}".strip()),
        (marked(deviation.inside), css_class),
    ]


def _extra(brew: Brew) -> str:
    if brew.comparison is None or not brew.comparison.extra:
        return ""
    start_s = brew.analysis.start_s or 0.0
    texts = [
        f"{grams(pour.poured_g)} at {short_clock(pour.start_s - start_s)}, "
        f"done at {short_clock(pour.end_s - start_s)}"
        for pour in brew.comparison.extra
    ]
    return section("Poured without a stage for it", bullets(texts))


def _pours(brew: Brew) -> str:
    start_s = brew.analysis.start_s
    if start_s is None or not brew.analysis.pours:
        return ""
    channels = list(brew.temperatures)
    heads = ("pour", "from", "to", "poured", "on scale", "flow", "peak", *channels)
    rows = [
        (
            str(number),
            give_or_take(short_clock(pour.start_s - start_s), pour.start_between_s, pour.start_s),
            give_or_take(short_clock(pour.end_s - start_s), pour.end_between_s, pour.end_s),
            give_or_take(grams(pour.poured_g), pour.poured_between_g, pour.poured_g),
            grams(pour.to_g),
            amount(pour.mean_flow_g_s, "g/s"),
            amount(pour.peak_flow_g_s, "g/s"),
            *(amount(mean, "°C") for mean in temperatures_during(brew, pour).values()),
        )
        for number, pour in enumerate(brew.analysis.pours, 1)
    ]
    told = any(pour.start_between_s for pour in brew.analysis.pours)
    return section(
        "Pours", table(heads, rows, "plain") + (element("p", GIVE_OR_TAKE, "under-figure") if told else "")
    )


def _bed(brew: Brew) -> str:
    """What the bed did, where a second scale saw it; else what one scale tells of the drawdown."""
    start_s = brew.analysis.start_s
    if start_s is None:
        return ""
    if brew.bed is None:
        told = brew.drawdown is not None and brew.drawdown.dry_s is not None
        words = drawdown_sentence(brew.drawdown, start_s) if told and brew.drawdown else ""
        return section("Drawdown", element("p", words)) if words else ""
    words = bullets(bed_sentences(brew.bed, brew.drawdown, start_s))
    rows = stretch_rows(brew.bed.stretches, start_s)
    return section("The bed", words + (table(STRETCH_HEADS, rows, "plain") if rows else ""))


def _events(brew: Brew) -> str:
    start_s = brew.analysis.start_s or 0.0
    if not brew.analysis.events:
        return ""
    rows = [
        (
            event_words(event.kind),
            short_clock(event.start_s - start_s),
            amount(event.end_s - event.start_s, "s"),
            f"{event.change_g:+.1f} g" if abs(event.change_g) >= 0.05 else "none",
        )
        for event in brew.analysis.events
    ]
    heads = ("event", "at", "lasted", "change on the scale")
    return section("What else moved the scale", table(heads, rows, "plain"))


def _notes(brew: Brew) -> str:
    notes = list(brew.comparison.notes) if brew.comparison else []
    if brew.recording.meta.notes:
        notes.append(f"The brewer's note: {brew.recording.meta.notes}")
    return section("Notes", bullets(notes)) if notes else ""


def _about(brew: Brew) -> str:
    recording, analysis = brew.recording, brew.analysis
    facts = [f"Recording {recording.name}."]
    facts += [f"Device: {device_words(device)}." for device in recording.meta.devices]
    if analysis.step_g > 0:
        facts.append(
            f"The scale's step is {analysis.step_g:.2g} g; one reading scatters by {analysis.noise_g:.2g} g."
        )
    if analysis.response_s > 0:
        facts.append(f"The scale follows a change within about {analysis.response_s:.1f} s.")
    if analysis.start_s is not None:
        facts.append(f"The brew starts {clock(analysis.start_s, 1)} into the recording.")
    return section("About this recording", bullets(facts))
