"""Many brews of one target as one page of HTML: how even they are, the curves, the figures, each brew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from logger.show.curves.overlay_curves import Curves, overlay_curves
from logger.show.curves.overlay_lines import packed
from logger.show.figures.figure import Figure, View
from logger.show.figures.overlay_figure import overlay_figure
from logger.show.pages.markup import element, wrapped
from logger.show.pages.overlay_brews import brew_boxes, each_brew, each_shot, ticked
from logger.show.pages.overlay_captions import overlay_caption
from logger.show.pages.page import figure_place, page
from logger.show.pages.practice_sections import (
    CHARTS,
    FIXES,
    charts_section,
    evenness_section,
    fixes_section,
    headline,
    notes_section,
    positions_section,
    practice_figures,
)
from logger.show.plain_data.json_line import report_json
from logger.show.plain_data.overlay_json import brew_json, curves_json, spread_json
from logger.show.words.headline import CAUTION
from logger.show.words.overlay_rows import (
    Distance,
    apart_words,
    distances,
    held_brews,
)
from logger.show.words.practice_words import count_of
from logger.show.words.wording import grams

if TYPE_CHECKING:
    from datetime import tzinfo

    from logger.compare import Brew, Spread
    from logger.compare.practice import Practice
    from logger.compare.standing_apart import Apart
    from logger.target import Target

KEY = "overlay"


@dataclass(frozen=True, slots=True)
class Overlay:
    """Brews of one target laid over each other, with everything that page, terminal and JSON say of them.

    :param brews: all that were given
    :param held: those that hold a brew, in the order of ``spread.weight_g``
    :param curves: weight, flow and each thermometer
    :param distances: of each of ``held`` from the median curve
    :param aparts: of each of ``held`` the figures that are unlike the others'
    """

    brews: tuple[Brew, ...]
    held: tuple[Brew, ...]
    spread: Spread
    curves: tuple[Curves, ...]
    distances: tuple[Distance, ...]
    aparts: tuple[tuple[Apart, ...], ...]

    @property
    def target(self) -> Target:
        """What they are held against."""
        return self.spread.target

    @property
    def practice(self) -> Practice:
        """How even the cups are, and what to change next."""
        return self.spread.practice

    @property
    def names(self) -> list[str]:
        """The names of the brews that are held."""
        return [brew.recording.name for brew in self.held]

    @property
    def left_out(self) -> list[str]:
        """The names of the recordings in which no brew was found."""
        return [one.recording.name for one in self.brews if not any(one is brew for brew in self.held)]

    @property
    def apart(self) -> list[str]:
        """Of each brew that is held how it stands apart, or nothing."""
        pairs = zip(self.aparts, self.distances, strict=True)
        return [apart_words(aparts, distance, self.target.method) for aparts, distance in pairs]


def lay_over(brews: Sequence[Brew], spread: Spread) -> Overlay:
    """Lay brews of one target over each other.

    :param brews: as given to ``logger.compare.spread``; those without a brew in them are left out
    """
    from logger.compare.standing_apart import standing_apart

    held = held_brews(brews)
    comparisons = [brew.comparison for brew in held if brew.comparison is not None]
    return Overlay(
        brews=tuple(brews),
        held=tuple(held),
        spread=spread,
        curves=overlay_curves(held, spread),
        distances=tuple(distances(spread)),
        aparts=tuple(standing_apart(comparisons)),
    )


def overlay_page(overlay: Overlay, zone: tzinfo | None = None) -> str:
    """Make the page.

    :param zone: the time zone to show starts in; None for this machine's
    """
    spread, target = overlay.spread, overlay.target
    title = f"{target.title}: {count_of(spread.n, target.method)}"
    figures = overlay_figures(overlay)
    parts = [
        wrapped("header", element("h1", title) + element("p", _facts(target), "facts")),
        headline(overlay.practice),
        figure_place(figures[0]) + brew_boxes(overlay.names, overlay.apart) if figures else "",
        *_how_even(overlay, figures),
        each_shot(overlay.held),
        each_brew(overlay.held, overlay.distances, overlay.aparts, target.method, zone) if figures else "",
        _left_out(overlay),
        wrapped("footer", element("p", CAUTION)),
    ]
    lines = {"names": overlay.names, "views": {one.key: _lines(one) for one in overlay.curves}}
    body = "\n".join(part for part in parts if part)
    return page(title, body, figures, overlay_json(overlay, reports=False), lines if figures else None)


def overlay_figures(overlay: Overlay) -> list[Figure]:
    """All figures of the page, the curves first; none where there is no brew."""
    if not overlay.held:
        return []
    return [curves_figure(overlay), *practice_figures(overlay.practice)]


def _how_even(overlay: Overlay, figures: Sequence[Figure]) -> list[str]:
    """The sections that say how even the cups are."""
    if not figures:
        return []
    known = {figure.key: figure for figure in figures}
    return [
        fixes_section(overlay.practice, known.get(FIXES)),
        evenness_section(overlay.practice),
        charts_section(known.get(CHARTS)),
        positions_section(overlay.practice),
        notes_section(overlay.practice),
    ]


def pictured_figures(overlay: Overlay) -> list[Figure]:
    """The same with the lines that the page draws by itself when it is opened, for pictures."""
    if not overlay.held:
        return []
    return [curves_figure(overlay, ticked(overlay.apart)), *overlay_figures(overlay)[1:]]


def curves_figure(overlay: Overlay, shown: Sequence[int] = ()) -> Figure:
    """The brews over each other: a view for weight, for flow and for each thermometer.

    :param shown: the places of the brews that are lines of their own in it; the page adds its lines itself
    """
    views = tuple(
        View(curves.key, _view_name(curves), overlay_figure(curves, overlay.target, overlay.names, shown))
        for curves in overlay.curves
    )
    label = (
        f"Curves over each other. {overlay.target.title}: {count_of(overlay.spread.n, overlay.target.method)}"
    )
    return Figure(KEY, label, overlay_caption(overlay.curves, overlay.target), views)


def _view_name(curves: Curves) -> str:
    return curves.kind if curves.kind != "temperature" else curves.key


def overlay_json(overlay: Overlay, *, reports: bool = True) -> dict[str, Any]:
    """Give an overlay as plain data; what cannot be said is None.

    :param reports: with each brew's whole report; the page carries what it shows of them alone
    """
    from logger.compare.practice import to_json

    held = zip(overlay.held, overlay.distances, overlay.aparts, strict=True)
    return {
        **spread_json(overlay.spread),
        "practice": to_json(overlay.practice),
        "curves": {curves.key: curves_json(curves) for curves in overlay.curves},
        "brews": [
            {**(report_json(each[0]) if reports else {}), **brew_json(place, *each)}
            for place, each in enumerate(held, 1)
        ],
        "left_out": overlay.left_out,
    }


def _lines(curves: Curves) -> dict[str, Any]:
    return {"quantity": curves.unit, **packed(curves)}


def _facts(target: Target) -> str:
    facts = [target.method, f"dose {grams(target.dose_g)}", f"{grams(target.total_g)} in all"]
    return " · ".join([*facts, *(text for text in (target.coffee, target.grind) if text)])


def _left_out(overlay: Overlay) -> str:
    if not overlay.left_out:
        return ""
    words = f"Left out, because no brew was found in them: {', '.join(overlay.left_out)}."
    return element("p", words, "sure")
