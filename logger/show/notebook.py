"""Practice in a notebook: ``logger.practice(...)`` gives frames and figures of what the pages show."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from logger.errors import BadInputError

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

    from logger.compare import Brew, Comparison, Deviation
    from logger.compare.practice import Practice, Scatter
    from logger.recording import Recording
    from logger.show.pages.overlay_page import Overlay
    from logger.target import Target

_LONG_AGO = datetime.min.replace(tzinfo=UTC)
_ESTIMATES = ("average", "spread", "trend", "cp", "cpk", "inside")


def practice(target: str | Path | Target, recordings: Iterable[str | Path | Recording]) -> PracticeSet:
    """Hold brews of one target against each other.

    :param target: a target, or its file
    :param recordings: the recordings, or their folders; in any order
    :raises BadInputError: when the target or a recording cannot be read
    """
    from logger.compare import spread
    from logger.show.pages.overlay_page import lay_over
    from logger.target import read_target

    planned = read_target(Path(target)) if isinstance(target, str | Path) else target
    brews = sorted((_assessed(one, planned) for one in recordings), key=_started)
    return PracticeSet(lay_over(brews, spread(brews, planned)))


@dataclass(frozen=True, eq=False)
class PracticeSet:
    """Brews of one target in the order in which they were brewed, as pandas frames and plotly figures.

    Frames are made when they are first asked for. Units are in the names of their columns, or in a column
    ``unit`` beside the value.
    """

    overlay: Overlay

    def __repr__(self) -> str:
        return f"<PracticeSet {self.overlay.target.title!r}, {self.results.n} brews: {self.results.verdict}>"

    @property
    def results(self) -> Practice:
        """How even the cups are, and what to change next."""
        return self.overlay.practice

    @cached_property
    def brews(self) -> pd.DataFrame:
        """One row for each brew."""
        import pandas as pd

        held = zip(self.overlay.held, self.overlay.distances, self.overlay.apart, strict=True)
        rows = []
        for place, (brew, distance, apart) in enumerate(held, 1):
            analysis, tail = brew.analysis, brew.drawdown.tail if brew.drawdown else None
            start_s, end_s = analysis.start_s or 0.0, analysis.end_s
            rows.append(
                {
                    "brew": place,
                    "recording": brew.recording.name,
                    "started": brew.recording.meta.started,
                    "coffee": brew.recording.meta.coffee,
                    "dose_g": brew.recording.meta.dose_g,
                    "inside": brew.comparison.inside if brew.comparison else None,
                    "total_g": analysis.total_g,
                    "end_s": math.nan if end_s is None else end_s - start_s,
                    "tau_s": math.nan if tail is None else tail.tau_s,
                    "furthest_g": distance.furthest_g,
                    "furthest_at_s": distance.at_s,
                    "stands_apart": apart,
                }
            )
        return pd.DataFrame(rows)

    @cached_property
    def stages(self) -> pd.DataFrame:
        """One row for each figure of each brew, stage by stage; ``stage`` is empty for the whole brew."""
        import pandas as pd

        rows = []
        for place, brew in enumerate(self.overlay.held, 1):
            if brew.comparison is None:
                continue
            for stage, finding, deviation in _deviations(brew.comparison):
                rows.append(
                    {
                        "brew": place,
                        "stage": stage,
                        "finding": finding,
                        "quantity": deviation.quantity,
                        "wanted": deviation.wanted,
                        "actual": deviation.actual,
                        "difference": deviation.difference,
                        "tolerance": deviation.tolerance,
                        "inside": deviation.inside,
                        "why": deviation.why,
                    }
                )
        return pd.DataFrame(rows)

    @cached_property
    def pours(self) -> pd.DataFrame:
        """One row for each pour of each brew; times count from the brew's start."""
        import pandas as pd

        rows = []
        for place, brew in enumerate(self.overlay.held, 1):
            start_s = brew.analysis.start_s or 0.0
            for number, pour in enumerate(brew.analysis.pours, 1):
                rows.append(
                    {
                        "brew": place,
                        "pour": number,
                        "start_s": pour.start_s - start_s,
                        "end_s": pour.end_s - start_s,
                        "from_g": pour.from_g,
                        "to_g": pour.to_g,
                        "poured_g": pour.poured_g,
                        "mean_flow_g_s": pour.mean_flow_g_s,
                        "peak_flow_g_s": pour.peak_flow_g_s,
                    }
                )
        return pd.DataFrame(rows)

    @cached_property
    def evenness(self) -> pd.DataFrame:
        """One row for each figure over the brews: its mean, scatter, trend and capability, with intervals."""
        import pandas as pd

        return pd.DataFrame([_evenness(scatter) for scatter in self.results.figures])

    @cached_property
    def fixes(self) -> pd.DataFrame:
        """One row for each thing that could be put right, the one that helps most first."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "stage": fix.stage,
                    "quantity": fix.quantity,
                    "kind": fix.kind,
                    "part": fix.part,
                    "now": fix.now,
                    "then": fix.then,
                    "carried": fix.carried,
                    "brews_needed": fix.brews_needed,
                    "says": fix.says,
                    "change": fix.change,
                }
                for fix in self.results.fixes
            ]
        )

    def curves(self, view: str = "weight", shown: Sequence[int] = ()) -> go.Figure:
        """The brews over each other.

        :param view: ``weight``, ``off-plan``, ``flow``, or a thermometer's channel
        :param shown: the numbers of the brews to draw as lines of their own, from 1
        :raises BadInputError: when there is no such view
        """
        from logger.show.figures.overlay_figure import overlay_figure

        known = {curves.key: curves for curves in self.overlay.curves}
        if view not in known:
            raise BadInputError("curves", f"there is no view {view!r}", f"Choose one of: {', '.join(known)}.")
        places = [number - 1 for number in shown]
        return overlay_figure(known[view], self.overlay.target, self.overlay.names, places)

    def control_chart(self, stage: str, quantity: str) -> go.Figure:
        """One figure brew by brew, with its control limits.

        :param stage: the stage's name, empty for the whole brew
        :param quantity: as in the frame ``evenness``
        :raises BadInputError: when there is no such figure, or too few brews for limits
        """
        from logger.show.figures.control_charts import control_chart

        for scatter in self.results.figures:
            if (scatter.stage, scatter.quantity) == (stage, quantity) and scatter.chart is not None:
                return control_chart(scatter, self.results)
        what = f"{stage}, {quantity}" if stage else quantity
        remedy = "Look into the frame evenness: a chart takes 8 brews in which the figure was measured."
        raise BadInputError("control_chart", f"there is none for {what}", remedy)

    def svg(self, figure: go.Figure) -> str:
        """A figure as a picture that needs no script; drawn by a browser on this machine.

        :raises FailureError: when there is none
        """
        from logger.show.figures.pictures import pictures

        return pictures([figure])[0]["svg"].decode("utf-8")

    def page(self) -> str:
        """The page of ``evencup overlay --html``."""
        from logger.show.pages.overlay_page import overlay_page

        return overlay_page(self.overlay)

    def json(self) -> dict[str, Any]:
        """What ``evencup overlay --json`` prints."""
        from logger.show.pages.overlay_page import overlay_json

        return overlay_json(self.overlay)


def _assessed(one: str | Path | Recording, target: Target) -> Brew:
    from logger.compare import assess
    from logger.compare.kept import assess_kept

    return assess_kept(Path(one), target) if isinstance(one, str | Path) else assess(one, target=target)


def _started(brew: Brew) -> datetime:
    return brew.recording.meta.started or _LONG_AGO


def _deviations(comparison: Comparison) -> list[tuple[str, str, Deviation]]:
    found = [
        (result.stage.name, result.finding, each)
        for result in comparison.stages
        for each in result.deviations
    ]
    return found + [("", "", each) for each in comparison.whole]


def _evenness(scatter: Scatter) -> dict[str, Any]:
    row: dict[str, Any] = {
        "stage": scatter.stage,
        "quantity": scatter.quantity,
        "unit": scatter.unit,
        "kind": scatter.kind,
        "n": scatter.n,
        "n_inside": scatter.n_inside,
        "wanted": scatter.wanted,
        "limit_low": scatter.limits[0],
        "limit_high": scatter.limits[1],
        "mean": scatter.mean,
        "sd": scatter.sd,
        "likely_low": scatter.likely[0],
        "likely_high": scatter.likely[1],
        "tolerance_low": scatter.tolerance.low,
        "tolerance_high": scatter.tolerance.high,
        "trend_p": scatter.trend_p,
    }
    for name in _ESTIMATES:
        estimate = getattr(scatter, name)
        row |= {name: estimate.value, f"{name}_low": estimate.low, f"{name}_high": estimate.high}
    return row
